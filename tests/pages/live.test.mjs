// The pages in a real browser on a real daemon: a bout is keyed with the keyboard, and every page
// shows it; the daemon dies and comes back, and no key is lost. On each page, whatever happens: no
// error, nothing that its policy forbids, and no word to another host.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import {
  accessibilityFaults,
  openBrowser,
  openPage,
  pageShows,
  pageUntil,
} from "../support/browser.mjs";
import { call, clock, make, note, score } from "../support/bouts.mjs";
import { daemonFor, makeKey, startDaemon } from "../support/daemon.mjs";
import { rows } from "../support/program.mjs";
import { aliveAt } from "../support/store.mjs";
import { until } from "../support/wait.mjs";

const PAGES = {
  table: "/table/?mat=A",
  screen: "/screen/",
  booth: "/booth/?mat=A",
  follow: "/follow/?mat=A",
};

let browser;
before(async () => (browser = await openBrowser()));
after(() => browser.close());

/** All pages of mat A, each in a browser window of its own. */
async function openPages(t, daemon, names = Object.keys(PAGES)) {
  const open = await Promise.all(names.map((name) => openPage(browser, daemon.url(PAGES[name]))));
  const pages = Object.fromEntries(names.map((name, i) => [name, open[i]]));
  pages.end = () => Promise.all(open.map((page) => page.end()));
  t.after(() => Promise.all(open.map((page) => page.context().close())));
  return pages;
}

async function strike(page, ...keys) {
  for (const key of keys) await page.keyboard.press(key);
}

/** Types a bout into the call form, all by keyboard. */
async function callBout(table, { red, blue, number }) {
  await pageUntil(table, () => document.querySelector("#empty button")?.checkVisibility());
  await strike(table, "Slash");
  await pageUntil(
    table,
    () =>
      document.querySelector("#form").open &&
      [...document.querySelectorAll("#form select option")].some(
        ({ value }) => value === "freestyle-2022",
      ),
  );
  for (const [side, [given, family]] of Object.entries({ red, blue })) {
    const part = table.locator(`#form fieldset[data-side=${side}]`);
    await part.getByLabel("Given name").fill(given);
    await part.getByLabel("Family name").fill(family);
  }
  await table.getByLabel("Number").fill(number);
  await strike(table, "Enter");
  await pageUntil(table, () => document.querySelector("#desk").checkVisibility());
}

const points = (page, side, wanted) =>
  pageUntil(
    page,
    ([where, text]) => document.querySelector(`${where} .points`)?.textContent === text,
    [`[data-side=${side}]`, String(wanted)],
  );

test("a bout from the call to the result: keyed by keyboard, shown on every page", async (t) => {
  const daemon = await daemonFor(t);
  const pages = await openPages(t, daemon);
  const { table, screen, booth, follow } = pages;
  const shown = async () => (await daemon.topic("mat/A/table")).state.bout;
  const events = async () => rows(await daemon.log((await shown()).bout));

  await t.test("before there is a bout every page says so, and the picture is empty", async () => {
    await pageShows(follow, "No bout on mat A yet");
    await pageUntil(
      screen,
      () => document.querySelector("#score").hidden && document.querySelector("#result").hidden,
    );
    await pageUntil(booth, () => document.querySelector("#empty").checkVisibility());
  });

  await t.test("called: names and number", async () => {
    await callBout(table, { red: ["Ilse", "Brandt"], blue: ["Noor", "Haddad"], number: "7" });
    for (const page of [table, screen, booth, follow])
      for (const name of ["Brandt", "Haddad"]) await pageShows(page, name);
    await pageShows(table, "bout 7");
    await pageShows(
      follow,
      "Bout 7 on mat A: Ilse Brandt in red, Noor Haddad in blue. Freestyle.",
      "#log",
    );
    assert.equal((await shown()).details.rules, "freestyle-2022");
  });

  await t.test("the whistle starts the clock on every page", async () => {
    await strike(table, "Space");
    for (const page of [table, screen, booth, follow])
      await pageUntil(page, () =>
        /^2:5\d$/.test(document.querySelector("bout-clock")?.textContent ?? ""),
      );
    const [, start] = await events();
    assert.deepEqual([start.type, start.do], ["clock", "start"]);
    assert.ok(start.keyed_at <= start.at, "keyed on the daemon's clock, before it was accepted");
  });

  await t.test("red's takedown: at once, and as not confirmed", async () => {
    await strike(table, "KeyF", "KeyD");
    await pageShows(table, "Red: takedown 2", "#sentence");
    await points(screen, "red", 0); // on air only what is confirmed counts
    await pageShows(screen, "not confirmed", ".end[data-side=red]");
    await pageShows(booth, "+2 not confirmed");
    await pageShows(follow, "2 more points, not confirmed", ".side[data-side=red]");
    await pageShows(follow, "Brandt takes down Haddad for 2, not confirmed yet.", "#log");
    for (const page of [screen, follow, booth])
      assert.doesNotMatch(await page.evaluate(() => document.body.innerText), /leads|needs/);
  });

  await t.test("confirmed: the score, who leads, and what the other needs", async () => {
    await strike(table, "Enter");
    await points(screen, "red", 2);
    await points(follow, "red", 2);
    await pageUntil(screen, () => !document.querySelector(".end[data-side=red]").checkVisibility());
    await pageShows(booth, "leads by 2");
    await pageShows(booth, "needs 2 to lead");
    await pageShows(follow, "needs 2 to lead", ".side[data-side=blue]");
    await pageShows(follow, "The 2 is confirmed: Brandt leads 2 to 0.", "#log");
  });

  await t.test("level, and led by a criterion: the wedge says which", async () => {
    await strike(table, "KeyJ", "KeyL", "KeyJ", "KeyL", "Enter");
    await points(screen, "blue", 2);
    await pageShows(screen, "higher holds", ".end[data-side=red] .wedge");
    await pageShows(booth, "leads, higher holds");
    await pageShows(booth, "needs 1 to lead");
    await pageShows(follow, "leads on higher holds", ".side[data-side=red]");
  });

  await t.test("undone, and brought back", async () => {
    await strike(table, "KeyJ", "KeyD");
    await pageShows(follow, "2 more points, not confirmed", ".side[data-side=blue]");
    await strike(table, "Backspace");
    await pageShows(table, "Taken out", "#sentence");
    await pageUntil(screen, () =>
      document.querySelector(".end[data-side=red] .wedge")?.checkVisibility(),
    );
    await pageUntil(
      follow,
      () => !/not confirmed/.test(document.querySelector(".side[data-side=blue]").innerText),
    );
    assert.deepEqual((await shown()).score, { red: 2, blue: 2 });
    await strike(table, "Shift+Backspace");
    await pageShows(follow, "2 more points, not confirmed", ".side[data-side=blue]");
    await strike(table, "Backspace");
    await until(async () => (await shown()).score.blue === 2, "the undo");
  });

  await t.test(
    "the whistle stops the clock, and a note for the booth reaches the booth alone",
    async () => {
      await strike(table, "Space");
      await until(async () => !(await shown()).clock.running, "the clock to stop");
      await strike(table, "Comma");
      await table.locator("#form textarea").fill("Her coach has the challenge in hand");
      await table.locator("#form button[type=submit]").click();
      await pageShows(booth, "Her coach has the challenge in hand");
      const { bout } = await shown();
      await daemon.post(note(bout, "Both mats pause at noon"));
      await pageShows(follow, "Both mats pause at noon", "#log");
      for (const page of [screen, follow])
        assert.ok(!(await page.content()).includes("challenge in hand"));
    },
  );

  await t.test("the officials' result, from the sheet", async () => {
    const rule = { arm: { rule: "result_when_sure", on: true } };
    const { status } = await daemon.ask("/api/v1/outputs/main", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(rule),
    });
    assert.equal(status, 200);
    await strike(table, "Period");
    await pageUntil(table, () => document.querySelector("#form").open);
    const form = table.locator("#form");
    await form.locator("select").nth(0).selectOption("points");
    await form.locator("select").nth(1).selectOption("red");
    await form.locator(".red input").fill("2");
    await form.locator(".blue input").fill("2");
    await form.locator(".part:not(.red):not(.blue):not(.flag) input").fill("VPO1");
    await form.locator("button[type=submit]").first().click();
    await until(async () => (await shown()).phase === "closed", "the result");
    await pageUntil(screen, () => document.querySelector("#result").checkVisibility());
    await pageShows(screen, "VPO1, 3:1", "#result");
    await pageShows(follow, "wins on points", ".side[data-side=red]");
    assert.equal((await shown()).result.consistent, true);
  });

  await pages.end();
});

test("the daemon dies and comes back: no key is lost, and the clock is unsure", async (t) => {
  const daemon = await daemonFor(t);
  const pages = await openPages(t, daemon);
  const { table, screen, booth, follow } = pages;
  await daemon.postAll([call("down"), clock("down", "start"), score("down", "red", 2)]);
  for (const page of [screen, follow]) await points(page, "red", 2);
  for (const page of [table, booth]) await pageShows(page, "leads by 2");
  await daemon.kill();

  await t.test("what is known stays, marked, and the clock is not believed for long", async () => {
    await pageShows(table, "not connected", "#line-state");
    await pageShows(booth, "not connected", "#line-state");
    await pageUntil(
      screen,
      () => document.querySelector("bout-clock").getAttribute("trust") === "unsure",
    );
    await pageUntil(
      screen,
      () => document.querySelector("bout-clock").getAttribute("trust") === "hidden",
    );
    await points(screen, "red", 2);
    await pageShows(follow, "not connected", "#state");
  });

  await t.test("keys are taken meanwhile, shown as waiting", async () => {
    await strike(table, "KeyF", "KeyD", "KeyJ", "KeyL", "Enter");
    await pageShows(table, "3 waiting", "#line-state");
    await points(screen, "red", 2);
  });

  const away_ms = aliveAt(daemon.store);
  await until(() => Date.now() > away_ms + 10500, "ten seconds away");
  const again = await daemonFor(t, { store: daemon.store, port: daemon.port });

  await t.test("each key goes out once, in order, keyed when it was struck", async () => {
    await pageShows(table, "connected, nothing waiting", "#line-state");
    const log = rows(await again.log("down"));
    const [lost, ...keyed] = log.slice(3);
    assert.deepEqual([lost.do, lost.by], ["lost", "daemon"]);
    assert.deepEqual(
      keyed.map(({ type, side, points: given }) => [type, side, given]),
      [
        ["score", "red", 2],
        ["score", "blue", 1],
        ["confirm", undefined, undefined],
      ],
    );
    assert.ok(
      keyed.every(({ keyed_at, at }) => keyed_at < lost.at && lost.at < at),
      JSON.stringify(keyed),
    );
    assert.ok(keyed[0].keyed_at < keyed[1].keyed_at && keyed[1].keyed_at < keyed[2].keyed_at);
  });

  await t.test("every page is back, and says that the clock is unsure", async () => {
    for (const page of [screen, follow]) {
      await points(page, "red", 4);
      await points(page, "blue", 1);
    }
    for (const page of [table, screen, booth, follow])
      await pageUntil(
        page,
        () => document.querySelector("bout-clock").getAttribute("trust") === "unsure",
      );
    await pageShows(booth, "connected", "#line-state");
    await pageShows(follow, "connected", "#state");
    await strike(table, "Space");
    for (const page of [table, screen, booth, follow])
      await pageUntil(
        page,
        () => document.querySelector("bout-clock").getAttribute("trust") === "sure",
      );
  });

  await pages.end();
});

test("keys that wait outlive the page: the next one sends them", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("kept"));
  const table = await openPage(browser, daemon.url(PAGES.table));
  t.after(() => table.context().close());
  await pageShows(table, "connected, nothing waiting", "#line-state");
  await pageUntil(table, () => document.querySelector("#desk").checkVisibility());
  await daemon.kill();
  await pageShows(table, "not connected", "#line-state");
  await strike(table, "KeyJ", "KeyK", "KeyF", "KeyS");
  await pageShows(table, "2 waiting", "#line-state");
  await pageUntil(
    table,
    async () => {
      for (const { name } of await indexedDB.databases()) {
        const database = await new Promise(
          (resolve) => (indexedDB.open(name).onsuccess = ({ target }) => resolve(target.result)),
        );
        const count = await new Promise(
          (resolve) =>
            (database.transaction("events").objectStore("events").count().onsuccess = ({
              target,
            }) => resolve(target.result)),
        );
        database.close();
        if (count === 2) return true;
      }
      return false;
    },
    undefined,
    "two events in the browser's store",
  );
  const context = table.context();
  await table.close();
  const again = await daemonFor(t, { store: daemon.store, port: daemon.port });
  const next = await context.newPage();
  await next.goto(again.url(PAGES.table));
  await pageShows(next, "connected, nothing waiting", "#line-state");
  await until(async () => (await again.bout("kept")).seq >= 3, "both events");
  const log = rows(await again.log("kept"));
  assert.deepEqual(
    log.slice(1).map(({ type, side, points: given }) => [type, side, given]),
    [
      ["score", "blue", 2],
      ["score", "red", 4],
    ],
  );
  assert.deepEqual(table.wrong, []);
});

test("plain http under a name that is no localhost: no secure context, and everything works", async (t) => {
  const daemon = await daemonFor(t);
  const venue = await openBrowser("--host-resolver-rules=MAP hall.test 127.0.0.1");
  t.after(() => venue.close());
  // Under a name that it doesn't know the daemon answers who has a key.
  const { key } = await makeKey(daemon.store, "table");
  const address = (page) => `http://hall.test:${daemon.port}${PAGES[page]}`;
  await until(async () => (await daemon.ask("/api/v1/outputs")).status === 401, "keys are needed");
  const table = await openPage(venue, `${address("table")}#key=${key}`);
  const follow = await openPage(venue, address("follow"));
  assert.equal(await table.evaluate(() => isSecureContext), false);
  assert.equal(await table.evaluate(() => typeof crypto.randomUUID), "undefined");
  await callBout(table, { red: ["Ilse", "Brandt"], blue: ["Noor", "Haddad"], number: "1" });
  await strike(table, "KeyJ", "KeyD", "Enter");
  await points(follow, "blue", 2);
  await pageShows(table, "connected, nothing waiting", "#line-state");
  await table.end();
  await follow.end();
});

test("a mat may be called anything: its pages show its bout, and no other mat's", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    call("first", { mat: "Halle 1" }),
    call("second", { mat: "Süd / 2", red: { name: "Wren Ashgrove" } }),
    score("second", "red", 4),
  ]);
  for (const name of ["table", "booth", "follow"]) {
    const page = await openPage(
      browser,
      daemon.url(`/${name}/?mat=${encodeURIComponent("Süd / 2")}`),
    );
    t.after(() => page.context().close());
    await pageShows(page, name === "table" ? "connected, nothing waiting" : "connected");
    await pageUntil(page, () => /Ashgrove|Brandt|Which mat/.test(document.body.innerText));
    assert.match(await page.evaluate(() => document.body.innerText), /Wren Ashgrove/, name);
    await page.end();
  }
});

test("the table without a mat asks which one, and says of nothing that it was refused", async (t) => {
  const daemon = await daemonFor(t);
  const page = await openPage(browser, daemon.url("/table/"));
  await pageShows(page, "Which mat?");
  await pageShows(page, "connected", "#line-state");
  assert.doesNotMatch(await page.locator("#line-state").innerText(), /refused/);
  assert.equal(await page.locator("#problems").isVisible(), false);
  assert.deepEqual(await accessibilityFaults(page), []);
  await page.end();
});

test("from the index to the first bout of a mat that nobody has named before", async (t) => {
  const daemon = await daemonFor(t);
  const mat = "Mat 1/2 ä";
  const table = await openPage(browser, daemon.url("/"));
  const others = {};
  for (const [name, text] of Object.entries({ booth: "called yet", follow: "called yet" })) {
    others[name] = await openPage(browser, daemon.url(`/${name}/`));
    await pageShows(others[name], text);
  }
  await table.getByRole("link", { name: "Table", exact: true }).click();
  await pageShows(table, "Which mat?");
  await table.getByLabel("Which mat?").fill(mat);
  await strike(table, "Enter");
  await pageShows(table, `No bout on mat ${mat} yet`);
  assert.equal(new URL(table.url()).searchParams.get("mat"), mat, "loaded again, the same table");
  await callBout(table, { red: ["Ilse", "Brandt"], blue: ["Noor", "Haddad"], number: "1" });
  await strike(table, "KeyJ", "KeyD", "Enter");
  await pageShows(others.booth, "Haddad");
  await pageShows(others.follow, "leads 2 to 0", "#log");
  await points(others.follow, "blue", 2);
  assert.match(await daemon.get(`/text/${encodeURIComponent(mat)}?since=0`), /leads 2 to 0/);

  const index = await openPage(browser, daemon.url("/"));
  await pageShows(index, `plain text, mat ${mat}`);
  const links = await index.evaluate(() => [...document.links].map(({ href }) => href));
  for (const link of links) assert.equal((await fetch(noWaiting(link))).status, 200, link);
  for (const name of ["follow", "booth", "table"])
    assert.ok(links.some((link) => matOf(link, name) === mat), `${name} in ${links}`);
  const again = await openPage(browser, daemon.url("/table/"));
  await pageShows(again, "Haddad");
  assert.equal(new URL(again.url()).searchParams.get("mat"), mat, "the day's first");
  for (const page of [table, index, again, ...Object.values(others)]) await page.end();
});

/* A text feed goes on until it is told what is enough. */
const noWaiting = (link) => (link.includes("/text/") ? `${link}?since=0` : link);

function matOf(link, page) {
  const { pathname, searchParams } = new URL(link);
  return pathname === `/${page}/` ? searchParams.get("mat") : undefined;
}

test("no page has a fault in its accessibility, dark or light, at any stage of a bout", async (t) => {
  const daemon = await daemonFor(t);
  const stages = [
    { themes: ["dark"], events: [], shows: [] },
    {
      themes: ["dark", "light"],
      shows: ["Brandt", "Haddad"],
      events: [
        call("ax", { number: "3", stage: "final" }),
        clock("ax", "set", { period: 1, t_ms: 47000 }),
        score("ax", "red", 2, { technique: "double_leg" }),
        make("caution", "ax", { side: "red", reason: "fleeing_mat", points: 1 }),
        make("passivity", "ax", { side: "blue", stage: "activity" }),
        make("attack", "ax", { side: "blue", techniques: ["sweep"], outcome: "stopped" }),
        score("ax", "blue", 1, { unconfirmed: true }),
        note("ax", "For the booth", "booth"),
        note("ax", "For everyone"),
      ],
    },
    {
      themes: ["light"],
      shows: ["Brandt", "Haddad"],
      events: [make("close", "ax", { how: "fall", winner: "blue" })],
    },
  ];
  for (const { themes, events, shows } of stages) {
    if (events.length > 0) await daemon.postAll(events);
    for (const theme of themes) {
      for (const [name, path] of Object.entries({ ...PAGES, index: "/" })) {
        const query = `${path.includes("?") ? "&" : "?"}theme=${theme}&motion=off`;
        const page = await openPage(browser, daemon.url(path + query), {
          colorScheme: theme,
          reducedMotion: "reduce",
        });
        for (const text of name === "index" ? [] : shows) await pageShows(page, text);
        assert.deepEqual(
          await accessibilityFaults(page),
          [],
          `${name}, ${theme}, after ${events.length} events`,
        );
        if (name === "table" && shows.length > 0) await assertFormIsFine(page);
        await page.end();
      }
    }
  }
});

async function assertFormIsFine(table) {
  await strike(table, "Period");
  await pageUntil(table, () => document.querySelector("#form").open);
  assert.deepEqual(await accessibilityFaults(table), [], "the result's form");
}

test("what must never happen on a page would be seen", async (t) => {
  const daemon = await daemonFor(t);
  const page = await openPage(browser, daemon.url("/"));
  assert.deepEqual(await accessibilityFaults(page), []);
  await page.evaluate(() => {
    document.body.append(
      Object.assign(document.createElement("img"), { src: "http://127.0.0.1:9/picture.png" }),
    );
    document.body.append(Object.assign(document.createElement("script"), { textContent: "1" }));
    console.error("a complaint");
    setTimeout(() => {
      throw new Error("a fault");
    });
  });
  for (const sign of [
    /policy: img-src/,
    /policy: script-src/,
    /error: a complaint/,
    /error: Error: a fault/,
  ])
    await until(() => page.wrong.some((text) => sign.test(text)), String(sign));
  assert.match((await accessibilityFaults(page)).join("\n"), /image-alt/);
  await page.context().close();
});

test("on a telephone the follow page needs no sideways scrolling, and finds no fault", async (t) => {
  const daemon = await startDaemon();
  t.after(() => daemon.stop());
  await daemon.postAll([
    call("phone", {
      red: { name: "Tahina Rakotoandrianavosoambola" },
      blue: { name: "Jean-Népomucène Rochecanteloup" },
    }),
    score("phone", "red", 4),
    note("phone", `A${"a".repeat(120)} long word`),
  ]);
  for (const viewport of [
    { width: 360, height: 740 },
    { width: 740, height: 360 },
  ]) {
    const page = await openPage(browser, daemon.url(PAGES.follow), { viewport, hasTouch: true });
    await points(page, "red", 4);
    const width = await page.evaluate(() => document.scrollingElement.scrollWidth);
    assert.ok(width <= viewport.width, `${width} of ${viewport.width}`);
    assert.deepEqual(await accessibilityFaults(page), []);
    await page.end();
  }
});
