// Sheets in a real browser, as they come out of its print: the demo day before and after its bouts,
// with a booth's key and without one; on A4 and on Letter; in black, with nothing cut off.
import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { call, clock, make, newId, score } from "../support/bouts.mjs";
import { accessibilityFaults, openBrowser, openPage, pageShows, pageUntil } from "../support/browser.mjs";
import { daemonFor, makeKey, PUBLIC_MINORS } from "../support/daemon.mjs";
import { demoDay, ndjson, run, temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

let browser;
before(async () => (browser = await openBrowser()));
after(() => browser.close());

async function command(...words) {
  const { code, errors } = await run(words);
  assert.equal(code, 0, errors);
}

/* A year before, the two of the final: 5–2 for the one, on points. */
function yearBefore() {
  const sides = { red: { name: "A", athlete: "macquillory" }, blue: { name: "B", athlete: "thrastarvik" } };
  const events = [
    call("old", { ...sides, weight: "74" }),
    clock("old", "start"),
    score("old", "red", 5, { technique: "firemans_carry", leg: "trail" }),
    score("old", "blue", 2),
    clock("old", "stop"),
    make("close", "old", { how: "points", winner: "red" }),
  ];
  return events.map((event, i) => ({ ...event, at: `2026-05-09T10:00:0${i}.000Z` }));
}

/* The demo day as it ended, a key of its booth, and an archive of the year before. */
async function demoHall(t, options = {}) {
  const folder = temporaryFolder();
  const [store, archive, log] = ["day.sqlite", "all.archive", "old.ndjson"].map((name) => join(folder, name));
  writeFileSync(log, ndjson(yearBefore()));
  await command("archive", "add", "--archive", archive, log);
  await command("import", "--store", store, demoDay);
  const { key } = await makeKey(store, "booth", "--name", "ben", "--keep");
  const words = ["--archive", archive, ...(options.words ?? [])];
  return { daemon: await daemonFor(t, { store, words }), key };
}

async function openSheet(daemon, path, looks) {
  const page = await openPage(browser, daemon.url(`/sheet/${path}`), { timezoneId: "Europe/Oslo", ...looks });
  await pageUntil(page, () => document.querySelector("#sheet").getAttribute("aria-busy") === "false");
  return page;
}

const pagesOf = (pdf) => (pdf.toString("latin1").match(/\/Type\s*\/Page\b/g) ?? []).length;

/* How wide paper is between the margins, in px at 96 an inch. */
const PAPERS = { A4: Math.floor(((210 - 28) / 25.4) * 96), Letter: Math.floor((8.5 - 28 / 25.4) * 96) };

/** Prints it on both papers: so many pages; no word beyond the margin, none that isn't black, no row
 *  or name that the end of a page may cut. */
async function assertPrints(page, pages) {
  await page.emulateMedia({ media: "print" });
  assert.equal(await page.locator("#tools").isVisible(), false);
  for (const [format, width] of Object.entries(PAPERS)) {
    await page.setViewportSize({ width, height: 900 });
    const wide = await page.evaluate(() => {
      const { right } = document.querySelector("#sheet").getBoundingClientRect();
      const parts = [...document.querySelectorAll("#sheet *:not(svg *)")].filter((node) => node.checkVisibility());
      return parts.filter((node) => node.getBoundingClientRect().right > right + 0.5).map((node) => `${node.tagName} ${node.className} ${node.textContent}`.slice(0, 200));
    });
    assert.deepEqual(wide, [], format);
    assert.equal(pagesOf(await page.pdf({ format })), pages, format);
  }
  const faults = await page.evaluate(() => {
    const style = (node) => getComputedStyle(node);
    const text = [...document.querySelectorAll("#sheet :is(p, th, td, li, h1, h2, caption, span, b)")];
    const uncut = [...document.querySelectorAll("#sheet :is(tr, .part, .line, .board, .name, .footing)")];
    return [
      ...text.filter((node) => !["rgb(0, 0, 0)", "rgb(51, 51, 51)"].includes(style(node).color)),
      ...uncut.filter((node) => style(node).breakInside !== "avoid"),
    ].map((node) => `${node.tagName} ${node.className} ${node.textContent}`.slice(0, 200));
  });
  assert.deepEqual(faults, []);
  const shapes = (side) =>
    page.evaluate((of) => [...document.querySelectorAll(`#sheet side-sign[side=${of}] svg > *`)].map(({ tagName }) => tagName), side);
  assert.deepEqual([...new Set(await shapes("red")), ...new Set(await shapes("blue"))], ["rect", "circle"]);
  await page.emulateMedia({ media: "screen" });
}

const cells = (page, table) =>
  page.locator(`#sheet ${table} tbody tr`).evaluateAll((rows) =>
    rows.map((row) => [...row.cells].map((cell) => cell.innerText.replace(/\s+/g, " ").trim())));

const plain = (rows) => rows.map((row) => row.map((text) => text.replaceAll("\u2060", "")));

test("with the booth's key: the sheets of the demo day", async (t) => {
  const { daemon, key } = await demoHall(t);

  await t.test("a bout before it: who they are, how they are said, and what was between them", async () => {
    const page = await openSheet(daemon, `?bout=a7&part=before#key=${key}`);
    assert.equal(page.url(), daemon.url("/sheet/?bout=a7&part=before"), "the key has left the address");
    await pageShows(page, "Bout 13 · Mat A · Freestyle 74 kg, final, seniors", "h1");
    await pageShows(page, "Begins 12:55, as planned");
    const [red, blue] = ["red", "blue"].map((side) => `.side[data-side=${side}]`);
    for (const text of ["Hjörtur Þrastarvík", "seed 1", "HYUR-tur THRAS-tar-veek", "Checked by himself",
      "Skarnholm BK", "Won the Harbour Cup at 70 kg in 2026", "High on it in the semi-final"])
      await pageShows(page, text, red);
    await pageShows(page, "beat Tahina Rakotoandrianavosoambola 13\u2060–\u20602 by superiority, semi-final", red);
    await pageShows(page, "fireman's carry, trail leg: 1 of 1", blue);
    await pageShows(page, "won 1 of 1", blue);
    await pageShows(page, "Against each other before, for \u2068Þrastarvík\u2069");
    await pageShows(page, "9 May 2026: lost 2\u2060–\u20605 on points, Freestyle 74 kg");
    assert.ok((await page.locator(".ruled div").count()) >= 12, "room to write");
    assert.deepEqual(await accessibilityFaults(page), []);
    await assertPrints(page, 1);
    await page.end();
  });

  await t.test("after it: the result, the line, tables, and why, with where it stands", async () => {
    const page = await openSheet(daemon, `?slot=fs74-final#key=${key}`);
    await pageShows(page, "Odhrán MacQuillory-Veitch wins on points, 3\u2060–\u20603");
    await pageShows(page, "VPO1 · classification points red 1, blue 3 · 6:00 gone, period 2");
    const tables = plain(await cells(page, ".pair table"));
    assert.deepEqual(tables, [
      ["Period 1", "0", "2"], ["Period 2", "3", "1"], ["All", "3", "3"],
      ["points", "3", "3", "level"], ["higher holds", "1×2 1×1", "1×2 1×1", "level"], ["fewer cautions", "1", "0", ""],
    ]);
    assert.equal(await page.locator(".steps side-sign").getAttribute("aria-label"), "Blue");
    await pageShows(page, "freestyle-2022. Source: USA Wrestling rule book 2021", ".part");
    assert.ok((await cells(page, "table.figures")).some(([what, one]) => what === "high crotch, trail leg" && one === "1 of 5"));
    assert.equal((await cells(page, "table.marks")).filter((row) => row[3] !== "").length, 4);
    assert.match(await page.locator("bout-line").getAttribute("aria-label"), /MacQuillory-Veitch.*2 points/);
    assert.equal(await page.locator("bout-line .points").count(), 4);
    await pageShows(page, "The officials’ sheet decides", "footer");
    assert.deepEqual(await accessibilityFaults(page), []);
    await assertPrints(page, 2);
    await page.end();
  });

  await t.test("what ended it otherwise is said, and no criterion is", async () => {
    const page = await openSheet(daemon, `?bout=b7#key=${key}`);
    await pageShows(page, "Thandolwethu Mkhabazela wins by fall, 6\u2060–\u20608");
    await pageShows(page, "That decides whatever the score.");
    assert.equal(await page.locator(".steps").count(), 0);
    await page.goto(daemon.url("/sheet/?bout=b5"), { waitUntil: "load" });
    await pageShows(page, "No winner: both disqualified");
    await page.end();
    const none = await openPage(browser, daemon.url(`/sheet/?bout=nowhere#key=${key}`));
    await pageShows(none, "There is no bout, and no place in the draw, called nowhere.");
    await none.context().close(); // the browser itself complains of the 403
  });

  await t.test("a mat's session: its bouts in their order, names as they are said", async () => {
    const page = await openSheet(daemon, `?mat=A#key=${key}`);
    const rows = plain(await cells(page, "table.bouts"));
    assert.deepEqual(rows.map(([number]) => number), ["1", "3", "5", "7", "9", "11", "13"]);
    assert.equal(rows[6][5], "3–3 VPO1");
    await pageShows(page, "CHUM dahng KOY");
    const mark = page.locator("tr", { hasText: "Ockenthwaite" }).locator(".unchecked");
    assert.equal(await mark.getAttribute("aria-label"), "nobody has written how it is said");
    assert.deepEqual(await accessibilityFaults(page), []);
    await assertPrints(page, 1);
    await page.end();
  });

  await t.test("the day, in German too", async () => {
    const page = await openSheet(daemon, `?lang=de#key=${key}`);
    await pageShows(page, "Der Tag", "h1");
    await pageShows(page, "Harbour Cup of Orrinsund: semi-finals and finals");
    assert.equal((await cells(page, "table.bouts")).length, 14);
    assert.equal(await page.locator("table.weight").count(), 7);
    await pageShows(page, "(nicht geprüft)");
    assert.equal(await page.evaluate(() => document.documentElement.lang), "de");
    assert.deepEqual(await accessibilityFaults(page), []);
    await assertPrints(page, 3);
    await page.getByRole("link", { name: "Matte B" }).click();
    await pageShows(page, "Matte B", "h1");
    await page.end();
  });

  await t.test("from the booth: the sheet of its bout, in a tab that has the key", async () => {
    const booth = await openPage(browser, daemon.url(`/booth/?mat=A#key=${key}`));
    await pageUntil(booth, () => document.querySelector("#print").href.endsWith("bout=a7"));
    const opening = booth.context().waitForEvent("page");
    await booth.locator("#print").click();
    const sheet = await opening;
    await pageShows(sheet, "wins on points");
    await sheet.goto(daemon.url("/sheet/?bout=a7&part=before"));
    await pageShows(sheet, "Won the Harbour Cup at 70 kg in 2026");
    await booth.end();
  });

  await t.test("without a key, on a day that isn't public: nothing of it", async () => {
    for (const path of ["", "?mat=A", "?bout=a7", "?bout=b4&part=before"]) {
      const page = await openSheet(daemon, path);
      await pageShows(page, "Minors wrestle here today, and the day is not public.");
      await page.end();
    }
  });

  await t.test("a key that opens nothing is said", async () => {
    const page = await openPage(browser, daemon.url("/sheet/#key=aaaaaaaaaaaaaaaaaaaaaaaaaa"));
    await pageShows(page, "no such key");
    await page.context().close();
  });
});

test("what is public alone: initials for minors, and nothing that the booth knows", async (t) => {
  const { daemon } = await demoHall(t, PUBLIC_MINORS);
  for (const path of ["", "?mat=B", "?bout=b4", "?bout=b4&part=before", "?bout=a7&part=before"]) {
    const page = await openPage(browser, daemon.url(`/sheet/${path}`));
    await pageUntil(page, () => document.querySelector("#sheet").getAttribute("aria-busy") === "false");
    const text = await page.content();
    for (const word of ["Iriarteche", "Harbour Cup at 70", "Checked by", "HYUR-tur", "High on it", "lost 2"])
      assert.ok(!text.includes(word), `${path}: ${word}`);
    await page.context().close();
  }
  const page = await openPage(browser, daemon.url("/sheet/?bout=b4"));
  await pageShows(page, "PI");
  await pageShows(page, "wins on points");
  await page.context().close();
});

test("before the first bout: when each is expected, whom it waits for, room for the result", async (t) => {
  const daemon = await daemonFor(t);
  const slots = [
    { slot: "s1", number: "1", mat: "A", order: 1, red: { athlete: "ilse" }, blue: { athlete: "noor" } },
    { slot: "f", number: "2", mat: "A", order: 2, stage: "final", red: { winner_of: "s1" } },
  ];
  for (const [athlete, name] of [["ilse", "Ilse Brandt"], ["noor", "Noor Haddad"]])
    await daemon.post({ id: newId("entry"), type: "entry", athlete, name });
  for (const slot of slots) await daemon.post({ id: newId("slot"), type: "slot", style: "women", weight: "57", ...slot });
  await until(async () => Object.keys((await daemon.topic("day/booth")).state.expected).length === 2, "what is expected");
  const page = await openSheet(daemon, "?mat=A");
  const rows = await cells(page, "table.bouts");
  assert.match(rows[0][1], /^\d+:\d\d( to \d+:\d\d)?$/);
  assert.equal(rows[1][3], "winner of bout 1");
  assert.deepEqual(rows.map((row) => row[5]), ["", ""]);
  await page.getByLabel("One bout").selectOption({ label: "2 · final · 57" });
  await pageShows(page, "winner of bout 1", ".side[data-side=red]");
  await pageShows(page, "not known yet", ".side[data-side=blue]");
  await assertPrints(page, 1);
  await page.goto(daemon.url("/sheet/?slot=s1"), { waitUntil: "load" });
  await pageShows(page, "Not checked: ask, and say who by", ".side[data-side=red]");
  const index = await openPage(browser, daemon.url("/"));
  await index.locator("#pages").getByRole("link", { name: "Sheets" }).click();
  await pageShows(index, "The day", "h1");
  await index.end();
  await page.end();
});
