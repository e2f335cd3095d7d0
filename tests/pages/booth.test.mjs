// What a commentator writes and answers on the booth's page, in a real browser: notes on a side and on
// the bout, and the one line each way with the gallery.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { call, note } from "../support/bouts.mjs";
import { openBrowser, openPage, pageShows, pageUntil } from "../support/browser.mjs";
import { daemonFor } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { rows } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

let browser;
before(async () => {
  browser = await openBrowser();
});
after(() => browser.close());

async function booth(t) {
  const daemon = await daemonFor(t);
  await daemon.post(call("a"));
  const page = await openPage(browser, daemon.url("/booth/?mat=A"));
  await pageShows(page, "Brandt");
  t.after(() => page.end());
  return { daemon, page };
}

const isGone = (page, what) =>
  pageUntil(page, (selector) => !document.querySelector(selector).checkVisibility(), what);

test("what the gallery says stands on top until one key; the answer goes by another", async (t) => {
  const { daemon, page } = await booth(t);
  const gallery = await Line.open(daemon, "gallery");
  t.after(() => gallery.close());
  gallery.say({ say: { to: "booth", mat: "A", text: "Fill 30 seconds" } });
  await pageShows(page, "Fill 30 seconds", "#talk");
  await page.keyboard.press("KeyG");
  await isGone(page, "#talk");
  const seen = await gallery.state("gallery", ({ talk }) => Object.values(talk)[0]?.seen);
  assert.ok(seen);
  await page.keyboard.press("KeyT");
  await page.keyboard.type("Two more facts, then back");
  await page.keyboard.press("Enter");
  await isGone(page, "#write");
  await pageShows(page, "not seen yet", "#talk");
  const state = await gallery.state("gallery", ({ talk }) => Object.keys(talk).length === 2);
  const [number, said] = Object.entries(state.talk).at(-1);
  assert.deepEqual(
    { ...said, at: "" },
    { from: "booth", mat: "A", text: "Two more facts, then back", at: "" },
  );
  gallery.say({ seen: Number(number) });
  await pageShows(page, "seen", "#talk");
  await pageUntil(page, () => !document.querySelector("#talk").innerText.includes("not seen"));
});

test("a note on red, on blue and on the bout is one key and a line", async (t) => {
  const { daemon, page } = await booth(t);
  for (const [key, text] of [["KeyZ", "Taped left knee"], ["KeyX", "Coach is her sister"], ["KeyC", "Loud hall"]]) {
    await page.keyboard.press(key);
    await page.keyboard.type(text);
    await page.keyboard.press("Enter");
    await isGone(page, "#write");
  }
  const notes = await until(async () => {
    const { body } = await daemon.ask("/api/v1/bouts/a/events");
    const found = rows(body).filter(({ type }) => type === "note");
    return found.length === 3 && found;
  }, "three notes");
  assert.deepEqual(
    notes.map(({ side, to, text }) => [side, to, text]),
    [
      ["red", "booth", "Taped left knee"],
      ["blue", "booth", "Coach is her sister"],
      [undefined, "booth", "Loud hall"],
    ],
  );
  // While a line is written, the letters are letters; Escape leaves it, and nothing is keyed.
  await page.keyboard.press("KeyC");
  await page.keyboard.type("g z t");
  await page.keyboard.press("Escape");
  await isGone(page, "#write");
  await page.keyboard.press("KeyZ");
  assert.equal(await page.locator("#write input").inputValue(), "");
});

test("notes of an earlier bout are there when the athlete is called again, with where they come from", async (t) => {
  const { daemon, page } = await booth(t);
  const ann = { name: "Ann Aster", athlete: "ann" };
  await daemon.postAll([
    call("first", { red: ann, blue: { name: "Bea Borage", athlete: "bea" }, mat: "B" }),
    note("first", "Opens with the left", "booth", { side: "red" }),
    call("next", { red: { name: "Cia Clover" }, blue: ann }),
  ]);
  await pageShows(page, "Blue, earlier", "#note");
  await pageShows(page, "Opens with the left", "#note");
  await page.keyboard.press("KeyN");
  await pageShows(page, "vs. Bea Borage", "#notes");
  const covered = await page.evaluate(() => {
    const notes = document.querySelector("#notes").getBoundingClientRect();
    return notes.top < document.querySelector("#cards").getBoundingClientRect().bottom;
  });
  assert.equal(covered, false, "no card is covered");
  await page.keyboard.press("KeyN");
  await isGone(page, "#notes");
});
