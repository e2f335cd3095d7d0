// Keys on pages: in the address's fragment once, then for this tab; said in words where one is
// needed or has ended; and nothing of it anywhere where others could read it.
import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { call } from "../support/bouts.mjs";
import { openBrowser, openPage, pageShows, pageUntil } from "../support/browser.mjs";
import { bearer, daemonFor, makeKey, PUBLIC_MINORS } from "../support/daemon.mjs";
import { run, temporaryFolder } from "../support/program.mjs";

let browser;
before(async () => {
  browser = await openBrowser();
});
after(() => browser.close());

async function hall(t, options = {}) {
  const store = join(temporaryFolder(), "day.sqlite");
  const { key } = await makeKey(store, "table", "--mat", "A", "--name", "ann");
  const daemon = await daemonFor(t, { store, ...options });
  const { status, body } = await daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...bearer(key) },
    body: JSON.stringify(call("x")),
  });
  assert.equal(status, 200, body);
  return { daemon, store, key };
}

test("the table by its address: the key opens, leaves the address, and lasts for the tab", async (t) => {
  const { daemon, key } = await hall(t);
  const page = await openPage(browser, daemon.url(`/table/?mat=A#key=${key}`));
  const asked = [];
  page.on("request", (request) => asked.push(request.url(), JSON.stringify(request.headers())));
  await pageShows(page, "connected", "#line-state");
  await pageShows(page, "Brandt");
  assert.equal(page.url(), daemon.url("/table/?mat=A"));
  await page.reload({ waitUntil: "load" });
  await pageShows(page, "Brandt");
  assert.ok(!asked.join("\n").includes(key), "no request holds it");
  await page.goto(daemon.url("/booth/?mat=A"), { waitUntil: "load" });
  await pageShows(page, "Brandt");
  await page.end();
});

test("without a key the pages that need one say so, and go on once they have it", async (t) => {
  const { daemon, key } = await hall(t);
  for (const name of ["table", "booth"]) {
    const page = await openPage(browser, daemon.url(`/${name}/?mat=A`));
    await pageShows(page, "a key is needed", "#line-state");
    await page.evaluate((text) => (location.hash = `key=${text}`), key);
    await pageShows(page, "Brandt");
    await pageShows(page, "connected", "#line-state");
    assert.equal(page.url(), daemon.url(`/${name}/?mat=A`));
    await page.end();
  }
  const other = await openPage(browser, daemon.url(`/table/?mat=B#key=${key}`));
  await pageShows(other, "this key is for another page or mat", "#line-state");
  await other.end();
  const follow = await openPage(browser, daemon.url("/follow/?mat=A"));
  await pageShows(follow, "Brandt");
  await follow.end();
});

test("a key that ends is said on the page that had it", async (t) => {
  const { daemon, store, key } = await hall(t);
  const page = await openPage(browser, daemon.url(`/table/?mat=A#key=${key}`));
  await pageShows(page, "connected", "#line-state");
  assert.equal((await run(["key", "revoke", "ann", "--store", store])).code, 0);
  await pageShows(page, "this key has ended", "#line-state");
  await page.end();
});

test("the list of pages says which need a key", async (t) => {
  const { daemon, key } = await hall(t);
  const lacking = async (path) => {
    const page = await openPage(browser, daemon.url(path));
    await pageShows(page, "mat A", "#pages");
    const names = await page.locator("#pages .page-name").allInnerTexts();
    const purposes = await page.locator("#pages .purpose").allInnerTexts();
    await page.end();
    return names.filter((_, i) => purposes[i].includes("needs a key"));
  };
  const without = await lacking("/");
  for (const name of ["Booth", "Table", "Gallery"]) assert.ok(without.includes(name), name);
  for (const name of ["Follow", "Screen"]) assert.ok(!without.includes(name), name);
  assert.deepEqual(await lacking(`/#key=${key}`), ["Gallery"], "the key is a table's");
  const open = await daemonFor(t);
  await open.post(call("x"));
  const page = await openPage(browser, open.url("/"));
  await pageShows(page, "mat A", "#pages");
  assert.equal(await page.getByText("needs a key").count(), 0);
  await page.end();
});

test("minors: a day that isn't public says so, and one that is shows initials", async (t) => {
  const minors = call("x", { age_group: "u17" });
  const off = await daemonFor(t);
  const on = await daemonFor(t, PUBLIC_MINORS);
  for (const daemon of [off, on]) await daemon.post({ ...minors, id: `${minors.id}-${daemon.port}` });
  const closed = await openPage(browser, off.url("/follow/?mat=A"));
  await pageShows(closed, "Minors wrestle here today, and the feed is not public.");
  await closed.end();
  const page = await openPage(browser, on.url("/follow/?mat=A"));
  await pageShows(page, "IB (Harbour) in red, NH (Old Mill) in blue");
  assert.ok(!(await page.content()).includes("Brandt"));
  assert.match(
    await page.locator("meta[name=robots]").getAttribute("content"),
    /noindex/,
    "for no search engine",
  );
  await page.end();
  const screen = await openPage(browser, on.url("/screen/"));
  await pageUntil(screen, () => document.body.innerText.includes("IB"), undefined, "initials on air");
  assert.ok(!(await screen.content()).includes("Brandt"));
  await screen.end();
});
