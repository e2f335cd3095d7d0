// Pages behind a real nginx, below a path and over TLS (docs/operating.md prints its site): they find
// everything, and key.
import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { call, note } from "../support/bouts.mjs";
import { openBrowser, openPage, pageShows } from "../support/browser.mjs";
import { bearer, Daemon, makeKey } from "../support/daemon.mjs";
import { HOST, Nginx } from "../support/nginx.mjs";
import { temporaryFolder } from "../support/program.mjs";

const SECURE = { ignoreHTTPSErrors: true }; // the certificate is the test's own
let browser;
let front;
let daemon;
let annex; // another hall's, below /annex/ of the same host
let key;
before(async () => {
  const store = join(temporaryFolder(), "day.sqlite");
  ({ key } = await makeKey(store, "table", "--name", "ann"));
  front = await Nginx.reserve();
  daemon = await Daemon.start({ store, words: ["--public-url", front.url(), "--trusted-proxy", "127.0.0.1"] });
  const annex_store = join(temporaryFolder(), "day.sqlite");
  await makeKey(annex_store, "table", "--name", "bo");
  annex = await Daemon.start({ store: annex_store, words: ["--public-url", front.url("/annex/"), "--trusted-proxy", "127.0.0.1"] });
  await front.start(daemon.port, (site) => {
    const [hall] = /^ {4}location \/hall\/ \{.*?^ {4}\}\n/ms.exec(site);
    return site.replace(hall, hall + hall.replace("/hall/", "/annex/").replace(`:${daemon.port}/`, `:${annex.port}/`));
  });
  browser = await openBrowser(`--host-resolver-rules=MAP ${HOST} 127.0.0.1`);
  await post(call("x"));
});
after(async () => {
  await browser.close();
  await front.stop();
  await daemon.stop();
  await annex.stop();
});

async function post(event) {
  const headers = { "Content-Type": "application/json", ...bearer(key) };
  const { status, body } = await front.ask("/hall/api/v1/events", { method: "POST", headers, body: JSON.stringify(event) });
  assert.equal(status, 200, body);
}

test("from the list of pages to the bout as text, which goes on as it is keyed", async () => {
  const list = await openPage(browser, front.url(), SECURE);
  await list.locator("a[href='follow/?mat=A']").click();
  await pageShows(list, "Ilse Brandt");
  assert.equal(list.url(), front.url("/hall/follow/?mat=A"));
  await post(note("x", "The hall is full."));
  await pageShows(list, "The hall is full.");
  for (const [id, wanted] of [["as-text", "/hall/text/A"], ["as-stream", "/hall/sse/mat/A/follow"]])
    assert.equal(await list.locator(`#${id}`).evaluate((link) => link.href), front.url(wanted));
  await list.end();
});

test("the table keys through nginx, with the key from its address", async () => {
  const table = await openPage(browser, front.url(`/hall/table/?mat=A#key=${key}`), SECURE);
  await pageShows(table, "connected", "#line-state");
  await pageShows(table, "Brandt");
  await table.keyboard.press("Space"); // the clock runs
  const follow = await openPage(browser, front.url("/hall/follow/?mat=A"), SECURE);
  await pageShows(follow, "Period one begins.");
  await follow.end();
  await table.end();
});

test("screen and booth", async () => {
  const screen = await openPage(browser, front.url("/hall/screen/"), SECURE);
  await pageShows(screen, "Brandt");
  await screen.end();
  const booth = await openPage(browser, front.url(`/hall/booth/?mat=A#key=${key}`), SECURE);
  await pageShows(booth, "Brandt");
  await booth.end();
});

test("two daemons of one host: what a page keeps of one isn't shown to the other", async () => {
  const page = await openPage(browser, front.url(`/hall/table/?mat=A#key=${key}`), SECURE);
  await pageShows(page, "connected", "#line-state");
  await page.goto(front.url("/annex/table/?mat=A"), { waitUntil: "load" });
  await pageShows(page, "a key is needed", "#line-state"); // not: no such key
  await page.goto(front.url("/hall/table/?mat=A"), { waitUntil: "load" });
  await pageShows(page, "connected", "#line-state");
  await page.end();
});
