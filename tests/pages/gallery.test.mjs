// The gallery in a real browser on a real daemon: everything by keyboard, seen on the screen page, and
// still so after a reload; and the panels on air, each measured inside the graphics-safe box.
import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import {
  accessibilityFaults,
  openBrowser,
  openPage,
  pageShows,
  pageUntil,
} from "../support/browser.mjs";
import { call, clock, make, score } from "../support/bouts.mjs";
import { bearer, daemonFor, makeKey } from "../support/daemon.mjs";
import { temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

let browser;
before(async () => (browser = await openBrowser()));
after(() => browser.close());

const output = async (daemon, name = "main") =>
  JSON.parse(await daemon.get("/api/v1/outputs")).outputs[name];
const delays = async (daemon) => JSON.parse(await daemon.get("/api/v1/outputs")).delays;

async function act(daemon, action, name = "main") {
  const { status, body } = await daemon.ask(`/api/v1/outputs/${name}`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(action),
  });
  assert.equal(status, 200, body);
  return JSON.parse(body);
}

async function openGallery(t, daemon, path = "/gallery/", looks = {}) {
  const page = await openPage(browser, daemon.url(path), looks);
  t.after(() => page.context().close());
  await pageUntil(page, () => document.querySelector("#desk").checkVisibility());
  return page;
}

async function strike(page, ...keys) {
  for (const key of keys) await page.keyboard.press(key);
}

/** What the frame on air shows: the very screen page. */
const airFrame = (page) =>
  until(() => page.frames().find((frame) => frame.url().includes("/screen/")), "the frame on air");

const inAir = async (page, selector, shown) => {
  const frame = await airFrame(page);
  await frame.waitForFunction(
    ([where, wanted]) => (document.querySelector(where)?.checkVisibility() ?? false) === wanted,
    [selector, shown],
    { polling: 50 },
  );
};

const bout = () => [
  call("a", { mat: "A" }),
  clock("a", "start"),
  make("attack", "a", { side: "red", techniques: ["single_leg"], leg: "lead", outcome: "stopped" }),
  score("a", "red", 2),
];

test("chosen, taken, cleared: by keyboard alone, and said what has changed since", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  await inAir(page, "#score", true);
  await inAir(page, "#panel", false);

  await strike(page, "Digit2");
  await pageShows(page, "Attacks is prepared.", "#answer");
  await pageShows(page, "Attacks", "#prepared-what");
  await pageUntil(page, () =>
    document
      .querySelector('[data-panel=attacks][aria-pressed="true"] .panel')
      .innerText.includes("single leg"),
  );
  assert.equal((await output(daemon)).on_air.panel, undefined, "nothing goes on air but by a take");
  await pageShows(page, "Nothing has changed since.", "#changed");

  await daemon.post(score("a", "blue", 1, { unconfirmed: true }));
  await pageShows(page, "Changed since it was prepared: blue 0 to 1, not confirmed.", "#changed");
  await strike(page, "Enter");
  await pageShows(
    page,
    "Attacks is on air. Changed since it was prepared: blue 0 to 1, not confirmed.",
    "#answer",
  );
  await inAir(page, "#panel", true);
  await pageShows(page, "on air", "[data-panel=attacks]");
  assert.equal((await output(daemon)).on_air.panel.panel, "attacks");

  await strike(page, "Escape");
  await pageShows(page, "All is off the air.", "#answer");
  await inAir(page, "#score", false);
  await inAir(page, "#panel", false);
  await pageShows(page, "nothing", "#air-what");
  await strike(page, "KeyL");
  await pageShows(page, "The score line is on air.", "#answer");
  await inAir(page, "#score", true);
  await page.end();
});

test("struck as fast as fingers go, a take takes what was chosen just before it", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  await strike(page, "Digit2", "Enter");
  await pageShows(page, "Attacks is on air.", "#answer");
  await strike(page, "Digit1", "Enter");
  await pageShows(page, "Who they are is on air.", "#answer");
  assert.equal((await output(daemon)).on_air.panel.panel, "who");
  await strike(page, "Backspace");
  await pageShows(page, "The panel is off.", "#answer");
  assert.deepEqual((await output(daemon)).on_air, { line: true });
  await page.end();
});

test("what is withheld says why, and a take of it is refused in words", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([...bout(), score("a", "blue", 1, { unconfirmed: true })]);
  const page = await openGallery(t, daemon);
  await pageShows(page, "Points wait for their confirmation", "[data-panel=why]");
  await pageShows(page, "not yet", "[data-panel=result]");
  await pageShows(page, "5 s", "[data-panel=who]");
  await pageShows(page, "Write it first", "[data-panel=text]");
  await strike(page, "Digit3", "Enter");
  await pageShows(page, "Not done: there is nothing of it to show now", "#answer.refused");
  await daemon.post(make("confirm", "a"));
  await strike(page, "Digit1");
  await pageShows(page, "3.4 s", "[data-panel=why]");
  await page.end();
});

test("hold: frozen, hidden, and on again, each by its key", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  await strike(page, "KeyF");
  await pageShows(page, "Frozen", "#air-heading");
  assert.equal((await output(daemon)).hold.how, "freeze");
  await strike(page, "KeyH");
  await pageShows(page, "Hidden", "#air-heading");
  await inAir(page, "#score", false);
  await strike(page, "KeyH");
  await pageShows(page, "On air", "#air-heading");
  await inAir(page, "#score", true);
  assert.equal((await output(daemon)).hold, undefined);
  await page.end();
});

test("a free line and 'back at' are written, prepared and taken", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  await strike(page, "Digit9");
  await page.keyboard.type("Finals at two");
  await strike(page, "Enter");
  await pageShows(page, "Free line is prepared.", "#answer");
  await strike(page, "Enter");
  await pageShows(page, "Free line is on air.", "#answer");
  assert.equal((await output(daemon)).on_air.panel.text, "Finals at two");
  await strike(page, "Digit0");
  await page.locator("#entry input[type=time]").fill("14:30");
  await strike(page, "Enter");
  await pageShows(page, "Back at is prepared.", "#answer");
  const { at } = (await output(daemon)).prepared;
  const shown = await page.evaluate(
    (time) => [new Date(time).getHours(), new Date(time).getMinutes()],
    at,
  );
  assert.deepEqual(shown, [14, 30]);
  assert.ok(Date.parse(at) > Date.now(), "the next time that it is so late");
  await strike(page, "Enter");
  await pageShows(page, "Back at is on air.", "#answer");
  await page.end();
});

test("rules, delays and looks: changed by keyboard, and there again after a reload", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  const armed = () =>
    page.evaluate(() =>
      [...document.querySelectorAll(".rule")].map((node) => node.getAttribute("aria-checked")),
    );

  await strike(page, "KeyR", "Space");
  await pageShows(page, "Armed: Names at the call.", "#answer");
  await pageUntil(
    page,
    () => document.querySelector(".rule").getAttribute("aria-checked") === "true",
  );
  assert.equal((await output(daemon)).rules.names_at_call.armed, true);

  await page.keyboard.press("KeyD");
  const row = (audience) => page.locator(`.delay[data-audience=${audience}]`);
  await row("output").getByRole("button", { name: /more/ }).press("Enter");
  await row("output").getByRole("button", { name: /more/ }).press("Enter");
  await until(async () => (await output(daemon)).delay.ms === 40, "two frames at 50 a second");
  assert.deepEqual((await output(daemon)).delay, { ms: 40, frames: 2, rate: "50" });
  await row("follow").locator("input.ms").fill("3000");
  await strike(page, "Enter");
  await until(async () => (await delays(daemon))["mat/A/follow"] === 3000, "the viewers' delay");
  await pageUntil(
    page,
    () => document.querySelector("[data-audience=follow] .frames").value === "150",
  );
  await row("booth").locator("input.frames").fill("5");
  await strike(page, "Enter");
  await until(async () => (await delays(daemon))["mat/A/booth"] === 100, "the booth's delay");

  await page.keyboard.press("KeyK");
  await page.locator(".look select").first().selectOption("upper-right");
  await until(async () => (await output(daemon)).look.position === "upper-right", "the look");
  await strike(page, "Digit1");
  await pageShows(page, "Who they are", "#prepared-what");

  await page.reload({ waitUntil: "load" });
  await pageShows(page, "Who they are", "#prepared-what");
  await pageUntil(
    page,
    () => document.querySelector(".rule").getAttribute("aria-checked") === "true",
  );
  assert.deepEqual(await armed(), ["true", "false", "false", "false", "false"]);
  await strike(page, "KeyD");
  await pageUntil(
    page,
    () => document.querySelector("[data-audience=output] .frames").value === "2",
  );
  await strike(page, "KeyK");
  await pageUntil(page, () => document.querySelector(".look select").value === "upper-right");
  await page.end();
});

test("an upright or square output is seen in its own shape, within the place of a wide one", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  for (const [position, ratio] of [["upright", 9 / 16], ["square", 1], ["lifted", 16 / 9]]) {
    await act(daemon, { look: { position } });
    const shape = ratio > 1 ? "wide" : position;
    await pageUntil(page, (want) => document.querySelector("#monitor").dataset.shape === want, shape);
    const [frame, place] = await page.evaluate(() =>
      ["#monitor iframe", "#monitor"].map((where) => {
        const { width, height } = document.querySelector(where).getBoundingClientRect();
        return { width, height };
      }),
    );
    assert.ok(Math.abs(frame.width / frame.height - ratio) < 0.01, `${position}: ${JSON.stringify(frame)}`);
    assert.ok(Math.abs(place.width / place.height - 16 / 9) < 0.01 && frame.height <= place.height + 1);
  }
  await page.end();
});

test("an output is made, looked at, told another mat, and removed by a second stroke", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([...bout(), call("b", { mat: "B", red: { name: "Wren Ashgrove" } })]);
  const page = await openGallery(t, daemon);
  await strike(page, "KeyU");
  await page.keyboard.type("hall-wall");
  await strike(page, "Enter");
  await pageShows(page, "The output hall-wall is made.", "#answer");
  await pageUntil(page, () => document.querySelector("#output").value === "hall-wall");
  await page.locator("#mat").selectOption("B");
  await until(async () => (await output(daemon, "hall-wall")).mat === "B", "the other mat");
  const frame = await airFrame(page);
  await frame.waitForFunction(() => document.body.innerText.includes("Ashgrove"), undefined, {
    polling: 50,
  });
  await page.reload({ waitUntil: "load" });
  await pageUntil(page, () => document.querySelector("#output").value === "hall-wall");
  await strike(page, "KeyU");
  const remove = page.locator(".outputs .cut");
  await remove.press("Enter");
  await pageShows(page, "Again: remove hall-wall", ".outputs");
  assert.ok(await output(daemon, "hall-wall"), "the first stroke asks");
  await remove.press("Enter");
  await until(async () => !(await output(daemon, "hall-wall")), "the output to go");
  await pageUntil(page, () => document.querySelector("#output").value === "main");
  await page.end();
});

test("it needs the gallery's key, says who is connected, and cuts one off by a second stroke", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const { key } = await makeKey(store, "gallery", "--name", "kim");
  const { key: tableKey } = await makeKey(store, "table", "--name", "ann");
  const daemon = await daemonFor(t, { store });
  const { status } = await daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...bearer(tableKey) },
    body: JSON.stringify(call("a", { mat: "A" })),
  });
  assert.equal(status, 200);
  const table = await openPage(browser, daemon.url(`/table/?mat=A#key=${tableKey}`));
  t.after(() => table.context().close());
  await pageShows(table, "connected", "#line-state");
  const page = await openPage(browser, daemon.url("/gallery/"));
  t.after(() => page.context().close());
  await pageShows(page, "This page needs the gallery’s key");
  await pageShows(page, "a key is needed", "#line-state");
  await page.evaluate((text) => (location.hash = `key=${text}`), key);
  await pageUntil(page, () => document.querySelector("#desk").checkVisibility());
  await strike(page, "KeyP");
  await pageShows(page, "ann", ".people");
  await pageShows(page, "kim (you)", ".people");
  await strike(page, "KeyR", "Space");
  await pageShows(page, "armed by kim", ".rules");
  await strike(page, "KeyP");
  const cut = page.getByRole("button", { name: /cut off ann/i });
  await cut.press("Enter");
  await pageShows(page, "Again: cut off", ".people");
  await pageShows(table, "connected", "#line-state");
  await cut.press("Enter");
  await pageShows(table, "this key has ended", "#line-state");
  await pageUntil(page, () => !document.querySelector(".people").innerText.includes("ann"));
  await page.end();
});

test("a line to the booth and back: seen by one key, answered by another", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  const booth = await openPage(browser, daemon.url("/booth/?mat=A"));
  t.after(() => booth.context().close());
  await pageShows(booth, "Brandt");
  await strike(page, "KeyT");
  await page.keyboard.type("Attacks come at the next stop");
  await strike(page, "Enter");
  await pageShows(page, "Said to the booth.", "#answer");
  await pageShows(booth, "Attacks come at the next stop", "#talk");
  await pageShows(page, "not seen yet", ".booth li");
  await strike(booth, "KeyG");
  await pageUntil(
    page,
    () =>
      /\bseen$/.test(document.querySelector(".booth li").innerText.trim()) &&
      !/not seen/.test(document.querySelector(".booth li").innerText),
  );
  const { status } = await daemon.ask("/api/v1/talk", {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ say: { to: "gallery", mat: "A", text: "Trail leg is the story" } }),
  });
  assert.equal(status, 200);
  await strike(page, "KeyR");
  await pageShows(page, "Booth, mat A: Trail leg is the story", "#talk");
  assert.deepEqual(await accessibilityFaults(page), []);
  await strike(page, "KeyG");
  await pageUntil(page, () => !document.querySelector("#talk").checkVisibility());
  await page.end();
  await booth.end();
});

test("the booth's corner says what is on air by the panel's name", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const booth = await openPage(browser, daemon.url("/booth/?mat=A"));
  t.after(() => booth.context().close());
  await pageShows(booth, "Score line", "#air");
  await act(daemon, { take: { panel: "why" } });
  await pageShows(booth, "Why the leader leads", "#air");
  await daemon.post(score("a", "blue", 1, { unconfirmed: true }));
  await pageShows(booth, "Why the leader leads (withheld)", "#air");
  await act(daemon, { hold: "hide" });
  await pageShows(booth, "hidden", "#air");
  await act(daemon, { hold: "off" });
  await act(daemon, { clear: {} });
  await pageShows(booth, "nothing", "#air");
  await booth.end();
});

test("the daemon goes: the gallery raises the alarm, and nothing that is struck arrives later", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  const page = await openGallery(t, daemon);
  await strike(page, "Digit1");
  await pageShows(page, "Who they are is prepared.", "#answer");
  await daemon.kill();
  await pageShows(page, "NOT CONNECTED", "#alarm");
  await strike(page, "Enter");
  await pageShows(page, "Not sent: there is no connection.", "#answer.refused");
  assert.deepEqual(await accessibilityFaults(page), []);
  const again = await daemonFor(t, { store: daemon.store, port: daemon.port });
  await pageUntil(page, () => !document.querySelector("#alarm").checkVisibility());
  await pageShows(page, "Who they are", "#prepared-what");
  assert.equal((await output(again)).on_air.panel, undefined);
  await strike(page, "Enter");
  await pageShows(page, "Who they are is on air.", "#answer");
  await page.end();
});

test("no fault in its accessibility on any sheet, nothing outside the window, small or large", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([...bout(), call("b", { mat: "B" })]);
  await act(daemon, { take: { panel: "who" } });
  await act(daemon, { prepare: { panel: "attacks" } });
  for (const [width, height, theme, lang] of [
    [1280, 720, "dark", "de"],
    [1920, 1080, "light", "en"],
    [3840, 2160, "dark", "en"],
  ]) {
    const page = await openGallery(t, daemon, `/gallery/?theme=${theme}&lang=${lang}`, {
      viewport: { width, height },
    });
    await pageUntil(page, () => document.querySelector("[data-panel=who].on-air"));
    for (const sheet of ["KeyR", "KeyD", "KeyK", "KeyP", "KeyU", "KeyT", "Digit9"]) {
      await strike(page, sheet);
      assert.deepEqual(await accessibilityFaults(page), [], `${width}, ${theme}, ${sheet}`);
      const outside = await page.evaluate(() =>
        [...document.querySelectorAll("button, input, select, .answer, .monitor, .strip .picture")]
          .filter((node) => node.checkVisibility() && !node.closest(".sheet"))
          .filter((node) => {
            const { left, top, right, bottom } = node.getBoundingClientRect();
            const cut = node.tagName === "BUTTON" && node.scrollWidth > node.clientWidth + 1;
            return cut || left < 0 || top < 0 || right > innerWidth || bottom > innerHeight;
          })
          .map((node) => `${node.tagName} ${node.id} ${node.className}`),
      );
      assert.deepEqual(outside, [], `${width}, ${sheet}`);
      await page.evaluate(() => document.activeElement.blur());
    }
    const smallest = await page.evaluate(() =>
      Math.min(
        ...[...document.querySelectorAll("button, p, label, span")]
          .filter((node) => node.checkVisibility() && node.innerText && !node.closest(".panel"))
          .map((node) => parseFloat(getComputedStyle(node).fontSize)),
      ),
    );
    assert.ok(smallest >= 16, `type of ${smallest} px at ${width}`);
    await page.end();
  }
});

/* ---- the panels on air ---- */

const LONG = {
  red: {
    name: "Tahina Rakotoandrianavosoambola",
    family: "Rakotoandrianavosoambola",
    team: "Ringergemeinschaft Nordwest",
  },
  blue: {
    name: "Jean-Népomucène Rochecanteloup",
    family: "Rochecanteloup",
    team: "Skarnholm Brottarklubb",
  },
};
const KINDS = ["single_leg", "double_leg", "high_crotch", "sweep", "firemans_carry", "ankle_pick"];

/** A day on which every panel has as much to say as it can. */
function longDay() {
  const events = [];
  for (let i = 0; i < 5; i++) {
    const name = `way${i}`;
    const rival = { name: `Konstantinos Papachristodoulopoulos-${i}`, team: "Old Mill" };
    events.push(
      call(name, { mat: "A", number: `${100 + i}`, red: LONG.red, blue: rival }),
      clock(name, "start"),
      score(name, "red", 2),
      make("close", name, { how: "disqualification", winner: "red" }),
    );
  }
  for (let i = 0; i < 11; i++)
    events.push(
      call(`mat${i}`, { mat: `Halle ${i}`, ...LONG }),
      clock(`mat${i}`, "start"),
      score(`mat${i}`, "red", 4),
    );
  for (const side of ["red", "blue"])
    events.push({
      id: `entry-${side}`,
      type: "entry",
      athlete: side,
      style: "greco_roman",
      weight: "130",
      ...LONG[side],
    });
  for (let i = 0; i < 5; i++)
    events.push({
      id: `slot${i}`,
      type: "slot",
      slot: `slot${i}`,
      number: `${200 + i}`,
      mat: "A",
      order: 10 + i,
      stage: "repechage",
      style: "greco_roman",
      weight: "130",
      red: { athlete: "red" },
      blue: i ? { loser_of: `slot${i - 1}` } : { athlete: "blue" },
    });
  events.push(
    call("long", { mat: "A", number: "106", stage: "semi-final", ...LONG }),
    clock("long", "start"),
  );
  for (const side of ["red", "blue"])
    for (const kind of KINDS)
      for (let i = 0; i < 6; i++)
        events.push(
          make("attack", "long", {
            side,
            techniques: [kind],
            leg: i % 2 ? "lead" : "trail",
            outcome: "stopped",
          }),
        );
  events.push(score("long", "red", 2), score("long", "blue", 2));
  return events;
}

const WORDS = "Wwwwwwwww ".repeat(14).trim();
const TAKES = [
  { panel: "who" },
  { panel: "who", side: "red" },
  { panel: "attacks" },
  { panel: "why" },
  { panel: "needs" },
  { panel: "mats" },
  { panel: "order" },
  { panel: "results" },
  { panel: "text", text: WORDS },
  { panel: "back", at: "2027-05-08T14:30:00.000Z", text: WORDS },
];

/* EBU R 95: graphics-safe is 5 % from each edge; 96 and 54 of 1920 x 1080. */
const outsideTheBox = (page) =>
  page.evaluate(() => {
    const [x, y] = [innerWidth * 0.05, innerHeight * 0.05];
    return [
      ...document.querySelectorAll(
        "#panel, #panel *, #score, #score .plate, #score .plate *, #result, #result *",
      ),
    ]
      .filter((node) => node.checkVisibility() && !node.closest("svg"))
      .map((node) => ({ node, box: node.getBoundingClientRect() }))
      .filter(
        ({ box }) =>
          box.width > 0 &&
          (box.left < x - 1 ||
            box.right > innerWidth - x + 1 ||
            box.top < y - 1 ||
            box.bottom > innerHeight - y + 1),
      )
      .map(({ node, box }) => `${node.tagName}.${node.className} ${JSON.stringify(box)}`);
  });

/** Panel and plate don't lie on each other. */
const overlaps = (page) =>
  page.evaluate(() => {
    const [panel, plate] = ["#panel", "#plate"].map((where) =>
      document.querySelector(where).getBoundingClientRect(),
    );
    return panel.bottom > plate.top + 1 && panel.top < plate.bottom - 1;
  });

test("every panel on air, with the longest names: inside the safe box, off the plate, nothing under 42 px", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(longDay());
  await act(daemon, { mat: "A" });
  for (const [viewport, positions] of [
    [{ width: 1920, height: 1080 }, ["lower-left", "lifted", "upper-right"]],
    [{ width: 1080, height: 1920 }, ["lower-left"]],
  ]) {
    const page = await openPage(browser, daemon.url("/screen/?motion=off"), { viewport });
    t.after(() => page.context().close());
    for (const position of positions) {
      await act(daemon, { look: { position } });
      await pageUntil(
        page,
        (wanted) => document.documentElement.dataset.position === wanted,
        position,
      );
      for (const take of TAKES) {
        const { on_air: before } = await output(daemon);
        await act(daemon, { take });
        const { on_air: now } = await output(daemon);
        assert.notEqual(now.panel.since, before.panel?.since);
        await pageUntil(
          page,
          ([name, side, since]) => {
            const panel = document.querySelector("#panel");
            return panel.checkVisibility() && panel.dataset.key === `${name} ${side} ${since}`;
          },
          [take.panel, take.side ?? "", now.panel.since],
        );
        const what = `${JSON.stringify(take)}, ${position}, ${viewport.width} wide`;
        assert.deepEqual(await outsideTheBox(page), [], what);
        assert.equal(await overlaps(page), false, what);
        const smallest = await page.evaluate(() =>
          Math.min(
            ...[...document.querySelectorAll("#panel *")].map((node) =>
              parseFloat(getComputedStyle(node).fontSize),
            ),
          ),
        );
        assert.ok(smallest >= 42, `${smallest} px: ${what}`);
        await act(daemon, { clear: { panel: true } });
      }
    }
    await page.end();
  }
});

test("an output whose picture goes when the daemon isn't heard: all of it, and it comes back", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll(bout());
  await act(daemon, { look: { unheard: "all" } });
  await act(daemon, { take: { panel: "who" } });
  const page = await openPage(browser, daemon.url("/screen/"));
  t.after(() => page.context().close());
  const shown = (wanted) =>
    pageUntil(
      page,
      (want) =>
        ["#score", "#panel"].every((where) => document.querySelector(where).checkVisibility() === want),
      wanted,
    );
  await shown(true);
  await daemon.kill();
  await shown(false);
  await daemonFor(t, { store: daemon.store, port: daemon.port });
  await shown(true);
  await page.end();
});
