// Outputs: what a producer does over HTTP and WebSocket alike, what the screen and the gallery are
// told of it, that it outlives a restart and a kill, and that delays, minors' rules and a failed disk
// hold there too.
import assert from "node:assert/strict";
import { existsSync, readFileSync, readdirSync, rmSync, statSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call, clock, make, newId, note, score } from "../support/bouts.mjs";
import { assertProblem, checkProblem, Daemon, daemonFor, startDaemon } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";
import { FaultyDisk } from "./shims/faulty-disk.mjs";

const newStore = () => join(temporaryFolder(), "day.sqlite");
const attack = (bout, side, techniques, more = {}) =>
  make("attack", bout, { side, techniques, outcome: "stopped", ...more });
const closed = (bout, winner, more = {}) => make("close", bout, { how: "points", winner, ...more });

const ask = (daemon, name, act, type = "application/json") =>
  daemon.ask(`/api/v1/outputs/${name}`, {
    method: "POST",
    headers: { "Content-Type": type },
    body: typeof act === "string" ? act : JSON.stringify(act),
  });

/** An action that must be done; answers what the daemon says. */
async function act(daemon, name, one) {
  const { status, body } = await ask(daemon, name, one);
  assert.equal(status, 200, `${JSON.stringify(one)}: ${body}`);
  return JSON.parse(body);
}

const outputs = async (daemon) => JSON.parse(await daemon.get("/api/v1/outputs"));
const screen = async (daemon, name = "main") => (await daemon.topic(`out/${name}`)).state;

/** Without what is figured from the bouts. */
const kept = ({ outputs: all, delays }) => ({
  delays,
  outputs: Object.fromEntries(
    Object.entries(all).map(([name, { panels: _, ...output }]) => [name, output]),
  ),
});

test("an output that nobody has touched: the bout line of the first mat", async (t) => {
  const daemon = await daemonFor(t);
  const plain = { output: "main", on_air: { line: true }, look: {}, delay_ms: 0 };
  assert.deepEqual(await screen(daemon), plain);
  await daemon.post(call("a", { mat: "M" }));
  await daemon.post(call("b", { mat: "B" }));
  const { bout, ...rest } = await screen(daemon);
  assert.deepEqual(rest, { ...plain, mat: "M" });
  assert.equal(bout.bout, "a");
});

test("prepare, take, clear: over HTTP, seen on the screen and in the gallery", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("a"));
  const line = await Line.open(daemon, "out/main", "gallery");
  t.after(() => line.close());
  const { version } = await act(daemon, "main", { prepare: { panel: "who" } });
  const gallery = await line.state("gallery", ({ outputs: all }) => all.main.prepared);
  assert.equal(gallery.outputs.main.prepared.panel, "who");
  assert.equal(gallery.outputs.main.prepared.version, version);
  assert.deepEqual(gallery.mats, { A: { bout: "a" } });
  assert.equal((await screen(daemon)).on_air.panel, undefined, "nothing goes on air but by a take");
  await daemon.post(score("a", "red", 2, { unconfirmed: true }));
  const changed = await line.state("gallery", (state) => state.outputs.main.prepared?.changed);
  assert.equal(changed.outputs.main.prepared.changed.words, "red 0 to 2, not confirmed");
  const taken = await act(daemon, "main", { take: { prepared: version } });
  assert.equal(taken.version, version + 1);
  assert.equal(taken.changed.words, "red 0 to 2, not confirmed");
  assert.deepEqual(taken.changed.was.score, { red: 0, blue: 0 });
  assert.deepEqual(taken.changed.is.unconfirmed, { red: 2, blue: 0 });
  const { on_air } = await line.state("out/main", (state) => state.on_air.panel);
  assert.equal(on_air.panel.panel, "who");
  assert.equal(on_air.panel.least_ms, 5000);
  assert.equal(on_air.panel.red.name, "Ilse Brandt");
  const up = await line.state("gallery", (state) => state.outputs.main.on_air.panel);
  assert.equal(up.outputs.main.prepared, undefined);
  await act(daemon, "main", { clear: {} });
  await line.state("out/main", (state) => !state.on_air.line && !state.on_air.panel);
  await act(daemon, "main", { take: { line: true } });
  await line.state("out/main", (state) => state.on_air.line);
});

test("the same over the WebSocket, each answered by its id", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("a"));
  const line = await Line.open(daemon, "out/main");
  t.after(() => line.close());
  const say = async (name, one, id = newId("act")) => {
    line.say({ output: name, do: one, id });
    const { done, problem } = await line.find(
      (message) => (message.done ?? message.problem)?.id === id,
      JSON.stringify(one),
    );
    return done ?? problem;
  };
  const taken = await say("main", { take: { panel: "who" } });
  assert.deepEqual(
    { ...taken, id: undefined },
    { output: "main", do: "take", version: 2, id: undefined },
  );
  await line.state("out/main", ({ on_air }) => on_air.panel?.panel === "who");
  const refused = await say("main", { take: { panel: "result" } });
  checkProblem(refused, { status: 409, type: "withheld", pointer: "/take/panel" });
  checkProblem(await say("main", { take: {} }), { status: 409, type: "not-prepared" });
  checkProblem(await say("No", { clear: {} }), { status: 404, type: "output" });
  checkProblem(await say("main", { hold: "still" }), {
    status: 422,
    type: "member-value",
    pointer: "/hold",
  });
  const wall = await say("wall", { mat: "B" });
  assert.deepEqual([wall.output, wall.do, wall.version], ["wall", "mat", 2]);
  for (const wrong of [{ output: "main" }, { output: 7, do: { clear: {} } }, { output: "main", do: [] }]) {
    const from = line.heard.items.length;
    line.say(wrong);
    const { problem } = await line.find((one) => one.problem, JSON.stringify(wrong), from);
    checkProblem(problem, { status: 400, type: "message" });
  }
});

test("what is refused changes nothing, and says where it is wrong", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("a"));
  const before = kept(await outputs(daemon));
  const wrong = [
    ["main", "{", { status: 400, type: "not-json" }],
    ["main", {}, { status: 422, type: "member-value" }],
    ["main", { cut: {} }, { status: 422, type: "member-unknown" }],
    ["main", { take: { panel: 7 } }, { status: 422, type: "member-type", pointer: "/take/panel" }],
    ["main", { arm: { on: true } }, { status: 422, type: "member-missing", pointer: "/arm/rule" }],
    ["main", { take: { prepared: 7 } }, { status: 409, type: "not-prepared", pointer: "/take" }],
    ["main", { take: { panel: "why" } }, { status: 409, type: "withheld", pointer: "/take/panel" }],
    ["main", { remove: {} }, { status: 422, type: "member-value", pointer: "/remove" }],
    ["main", { delay: { ms: 1, of: "mat/A/table" } }, { status: 422, type: "member-value", pointer: "/delay/of" }],
    ["main", { delay: { ms: 1, of: "day/follow" } }, { status: 422, type: "member-value", pointer: "/delay/of" }],
    ["main", { delay: { ms: 1, of: "out/main" } }, { status: 422, type: "member-value", pointer: "/delay/of" }],
    ["fresh", { take: { panel: "why" } }, { status: 409, type: "withheld" }],
    ["fresh", { delay: { ms: 1, of: "mat/A/table" } }, { status: 422, type: "member-value" }],
    ["none", { remove: {} }, { status: 404, type: "output" }],
    ["N", { clear: {} }, { status: 404, type: "output" }],
    ["a/b", { clear: {} }, { status: 404, type: "output" }],
    ["x".repeat(33), { clear: {} }, { status: 404, type: "output" }],
  ]; // prettier-ignore
  for (const [name, one, want] of wrong) assertProblem(await ask(daemon, name, one), want);
  assertProblem(await ask(daemon, "main", { clear: {} }, "text/plain"), {
    status: 415,
    type: "media-type",
  });
  const other = await daemon.ask("/api/v1/outputs/main");
  assertProblem(other, { status: 405, type: "method" });
  assert.deepEqual(kept(await outputs(daemon)), before);
});

test("at most sixteen outputs; one that is removed makes room", async (t) => {
  const daemon = await daemonFor(t);
  for (let i = 1; i < 16; i++) await act(daemon, `o${i}`, { look: {} });
  const full = await ask(daemon, "o16", { look: {} });
  assertProblem(full, { status: 422, type: "outputs-full" });
  assertProblem(await daemon.ask("/api/v1/topics/out/o16"), { status: 404, type: "topic" });
  const line = await Line.open(daemon, "out/o3");
  t.after(() => line.close());
  await act(daemon, "o3", { remove: {} });
  await line.state("out/o3", ({ removed, on_air }) => removed && !on_air.line);
  await act(daemon, "o16", { look: {} });
  assert.equal(Object.keys((await outputs(daemon)).outputs).length, 16);
  assert.equal((await screen(daemon, "o16")).output, "o16");
  // Made anew it begins anew.
  await act(daemon, "o5", { remove: {} });
  assert.equal((await act(daemon, "o3", { look: {} })).version, 2);
  await line.state("out/o3", ({ removed, on_air }) => !removed && on_air.line);
});

test("panels: their data, and what is withheld while it isn't sure", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    call("f1", { mat: "A", stage: "quarter-final" }),
    closed("f1", "red", { how: "fall" }),
    call("f2", { mat: "B", red: { name: "Noor Haddad", team: "Old Mill" } }),
    closed("f2", "red", { how: "superiority" }),
    call("a", { mat: "A" }),
    attack("a", "red", ["single_leg"], { leg: "lead" }),
    score("a", "red", 2, { technique: "single_leg", leg: "trail" }),
    score("a", "blue", 2, { technique: "double_leg" }),
  ]);
  const panel = async (choice) => {
    await act(daemon, "main", { take: choice });
    return (await screen(daemon)).on_air.panel;
  };
  const who = await panel({ panel: "who" });
  assert.deepEqual(who.red.way, {
    1: { against: "Noor Haddad", won: true, stage: "quarter-final", how: "fall", code: "VFA", score: { own: 0, other: 0 } },
  }); // prettier-ignore
  assert.deepEqual(
    Object.values(who.blue.way).map(({ against, won }) => [against, won]),
    [["Ilse Brandt", undefined], ["Noor Haddad", true]],
  ); // prettier-ignore
  const attacks = await panel({ panel: "attacks" });
  assert.deepEqual(attacks.red, { tried: 2, scored: 1 });
  assert.deepEqual(attacks.legs, {
    lead: { red: { tried: 1, scored: 0 } },
    trail: { red: { tried: 1, scored: 1 } },
  });
  const why = await panel({ panel: "why" });
  assert.deepEqual(why.leader, { side: "blue", by: "last_point" });
  assert.deepEqual(Object.values(why.steps).map(({ by }) => by), [
    "points",
    "holds",
    "cautions",
    "last_point",
  ]);
  assert.match(why.source, /order|rule book/);
  const needs = await panel({ panel: "needs" });
  assert.deepEqual(needs.red, { to_lead: 1, to_lead_by: "points", to_superiority: 10 });
  const mats = await panel({ panel: "mats" });
  assert.deepEqual(Object.keys(mats.mats), ["B"]);
  assert.equal(mats.mats.B.result.how, "superiority");
  const results = await panel({ panel: "results" });
  assert.deepEqual(Object.values(results.results).map(({ how }) => how), ["fall", "superiority"]);
  assert.equal((await panel({ panel: "text", text: "Back soon" })).text, "Back soon");
  const back = await panel({ panel: "back", at: "2027-05-08T14:00:00.000Z" });
  assert.equal(back.at, "2027-05-08T14:00:00.000Z");

  // On air it is blank while points wait, and comes back by itself.
  await panel({ panel: "why" });
  await daemon.post(score("a", "red", 1, { unconfirmed: true }));
  const held = (await screen(daemon)).on_air.panel;
  assert.deepEqual(Object.keys(held).sort(), ["least_ms", "panel", "since", "withheld"]);
  assert.equal(held.withheld, "unconfirmed");
  assertProblem(await ask(daemon, "main", { take: { panel: "needs" } }), {
    status: 409,
    type: "withheld",
  });
  await daemon.post(make("confirm", "a", {}));
  assert.deepEqual((await screen(daemon)).on_air.panel.leader, { side: "red", by: "points" });
  const { panels } = (await outputs(daemon)).outputs.main;
  assert.equal(panels.result.withheld, "not_yet");
  assert.equal(panels.text.withheld, "empty");
  assert.equal(panels.who.least_ms, 5000);
  // Nobody is called the winner before the result stands.
  await daemon.post(closed("a", "red", { unconfirmed: true }));
  assertProblem(await ask(daemon, "main", { take: { panel: "result" } }), {
    status: 409,
    type: "withheld",
  });
  await daemon.post(make("confirm", "a", {}));
  const result = await panel({ panel: "result" });
  assert.deepEqual(
    [result.how, result.code, result.winner, result.class_points, result.loser_scored],
    ["points", "VPO1", "red", { red: 3, blue: 1 }, true],
  );
  // The next bout is another: what was taken of this one goes.
  await daemon.post(call("b", { mat: "A" }));
  assert.equal((await screen(daemon)).on_air.panel, undefined);
  assert.equal((await screen(daemon)).bout.bout, "b");
});

test("the order of bouts: what comes on this mat, by what the output is shown", async (t) => {
  const daemon = await daemonFor(t);
  const entry = (athlete) => ({ id: newId("entry"), type: "entry", athlete, name: `Name ${athlete}` });
  const slot = (name, order, red, blue, more = {}) => ({
    id: newId("slot"), type: "slot", slot: name, number: name, mat: "A", order, stage: "round",
    style: "freestyle", age_group: "seniors", weight: "74", rules: "freestyle-2022", red, blue, ...more,
  }); // prettier-ignore
  await daemon.postAll([
    ...["p", "q", "r", "s"].map(entry),
    slot("3", 9, { winner_of: "1" }, { winner_of: "2" }, { stage: "final" }),
    slot("1", 1, { athlete: "p" }, { athlete: "q" }),
    slot("2", 2, { athlete: "r" }, { athlete: "s" }),
    slot("4", 1, { athlete: "q" }, { athlete: "r" }, { mat: "B", weight: "79" }),
    call("one", { slot: "1", red: { name: "Name p", athlete: "p" }, blue: { name: "Name q", athlete: "q" }, weight: "74" }),
  ]); // prettier-ignore
  await act(daemon, "main", { delay: { ms: 1500 } });
  await act(daemon, "main", { take: { panel: "order" } });
  const order = async () => Object.values((await screen(daemon)).on_air.panel.order);
  const [two, three] = await order();
  assert.deepEqual([two.number, two.red.name, two.blue.name], ["2", "Name r", "Name s"]);
  assert.deepEqual([three.stage, three.red], ["final", { waits: "winner", number: "1" }]);
  assert.equal((await order()).length, 2, "what has been called, and other mats, are not in it");
  await daemon.post(closed("one", "blue", { how: "fall" }));
  assert.deepEqual((await order())[1].red, { waits: "winner", number: "1" }, "not before its time");
  await until(async () => (await order())[1].red.name === "Name q", "the winner, in its time");
});

test("hold: the picture stands or is gone, and comes back as it is", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([call("a"), clock("a", "start")]);
  await act(daemon, "main", { take: { panel: "who" } });
  await act(daemon, "main", { hold: "freeze" });
  const frozen = await screen(daemon);
  assert.equal(frozen.hold.how, "freeze");
  assert.equal(frozen.bout.clock.running, false, "the clock stands, too");
  await daemon.post(score("a", "red", 2));
  assert.deepEqual(await screen(daemon), frozen);
  assert.deepEqual((await daemon.bout("a")).score, { red: 2, blue: 0 });
  await act(daemon, "main", { take: { panel: "needs" } });
  assert.deepEqual(await screen(daemon), frozen, "taken for when it goes on");
  await act(daemon, "main", { clear: { panel: true } });
  assert.equal((await screen(daemon)).on_air.panel, undefined, "clear beats everything");
  await act(daemon, "main", { hold: "hide" });
  assert.equal((await screen(daemon)).on_air.line, false);
  await act(daemon, "main", { hold: "off" });
  const back = await screen(daemon);
  assert.deepEqual(back.bout.score, { red: 2, blue: 0 });
  assert.equal(back.bout.clock.running, true);
  assert.equal(back.on_air.line, true);
  assert.equal(back.hold, undefined);
  await act(daemon, "main", { hold: "freeze" });
  await act(daemon, "main", { clear: {} });
  const cleared = await screen(daemon);
  assert.deepEqual([cleared.on_air, cleared.hold], [{ line: false }, undefined]);
});

test("another mat, its panels, and an output of a mat without a bout", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([call("a", { mat: "A" }), call("b", { mat: "B" })]);
  await act(daemon, "main", { take: { panel: "who" } });
  await act(daemon, "main", { mat: "B" });
  const state = await screen(daemon);
  assert.deepEqual([state.mat, state.bout.bout, state.on_air], ["B", "b", { line: true }]);
  await daemon.post(score("b", "blue", 1));
  assert.equal((await screen(daemon)).bout.score.blue, 1);
  await act(daemon, "main", { mat: "C" });
  assert.deepEqual(await screen(daemon), {
    output: "main",
    mat: "C",
    on_air: { line: true },
    look: {},
    delay_ms: 0,
  });
  await daemon.post(call("c", { mat: "C" }));
  assert.equal((await screen(daemon)).bout.bout, "c");
  await act(daemon, "main", { mat: "" });
  assert.equal((await screen(daemon)).mat, "A");
});

test("a rule fires at its moment, waits its turn, and ends by itself", async (t) => {
  const daemon = await daemonFor(t);
  const line = await Line.open(daemon, "out/main");
  t.after(() => line.close());
  for (const rule of ["names_at_call", "result_when_sure"])
    await act(daemon, "main", { arm: { rule, on: true } });
  assert.equal((await outputs(daemon)).outputs.main.rules.names_at_call.armed, true);
  await daemon.post(call("a"));
  const { on_air } = await line.state("out/main", (state) => state.on_air.panel);
  assert.deepEqual([on_air.panel.panel, on_air.panel.rule], ["who", "names_at_call"]);
  await daemon.postAll([clock("a", "start"), score("a", "red", 2), closed("a", "red")]);
  const { on_air: next } = await line.state(
    "out/main",
    (state) => state.on_air.panel?.panel === "result",
  );
  assert.ok(
    Date.parse(next.panel.since) - Date.parse(on_air.panel.since) >= 5000,
    "names stay 5 s, whatever a rule wants",
  );
  // Disarmed, its panel goes.
  await act(daemon, "main", { arm: { rule: "result_when_sure", on: false } });
  await line.state("out/main", (state) => !state.on_air.panel);
});

test("a delay in frames: data comes later, what the producer does comes at once", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([call("a"), clock("a", "start")]);
  const line = await Line.open(daemon, "out/main", "mat/A/table");
  t.after(() => line.close());
  await act(daemon, "main", { arm: { rule: "result_when_sure", on: true } });
  await act(daemon, "main", { delay: { frames: 150, rate: "50" } });
  assert.equal((await screen(daemon)).delay_ms, 3000);
  assert.deepEqual((await outputs(daemon)).outputs.main.delay, { ms: 3000, frames: 150, rate: "50" });
  const scored = score("a", "red", 2);
  const seq = await daemon.post(scored);
  const at_ms = Date.parse((await line.state("mat/A/table", ({ events }) => events[seq])).events[seq].at);
  assert.deepEqual((await screen(daemon)).bout.score, { red: 0, blue: 0 });
  await act(daemon, "main", { take: { panel: "who" } });
  assert.equal((await screen(daemon)).on_air.panel.panel, "who", "a take is immediate");
  await act(daemon, "main", { clear: { panel: true } });
  await daemon.post(closed("a", "red"));
  await line.state("out/main", ({ bout }) => bout.score.red === 2);
  assert.ok((await line.clock()).t2_ms >= at_ms + 3000, "not before its time");
  const { bout } = await line.state("out/main", ({ on_air }) => on_air.panel?.panel === "result");
  assert.ok(bout.result, "the rule fires at the delayed moment");
  // Another audience's delay is set by an output's action too, and leaves the output alone.
  const { version } = (await outputs(daemon)).outputs.main;
  await act(daemon, "main", { delay: { ms: 60000, of: "mat/A/follow" } });
  assert.deepEqual((await outputs(daemon)).delays, { "mat/A/follow": 60000 });
  assert.equal((await outputs(daemon)).outputs.main.version, version);
  await daemon.post(note("a", "Not yet for followers"));
  assert.ok(!(await daemon.get("/text/A?since=0")).includes("Not yet"));
  await act(daemon, "main", { delay: { ms: 0, of: "mat/A/follow" } });
  assert.ok((await daemon.get("/text/A?since=0")).includes("Not yet"), "caught up at once");
  assert.deepEqual((await outputs(daemon)).delays, {});
});

test("a delay is listed before its mat has had a bout, and after a restart", async (t) => {
  const store = newStore();
  const daemon = await daemonFor(t, { store });
  await act(daemon, "main", { delay: { ms: 3000, of: "mat/C/booth" } });
  assert.deepEqual((await outputs(daemon)).delays, { "mat/C/booth": 3000 });
  await daemon.kill();
  const again = await daemonFor(t, { store });
  assert.deepEqual((await outputs(again)).delays, { "mat/C/booth": 3000 });
});

test("at most so many audiences have a delay", async (t) => {
  const daemon = await daemonFor(t);
  const set = (i, ms) => ask(daemon, "main", { delay: { ms, of: `mat/${i}/follow` } });
  const answers = [];
  for (let i = 0; i <= 256; i++) answers.push(await set(i, 1000));
  assert.ok(answers.slice(0, 256).every(({ status }) => status === 200));
  assertProblem(answers[256], { status: 422, type: "delays-full", pointer: "/delay" });
  assert.equal((await set(7, 0)).status, 200);
  await until(async () => (await set(256, 1000)).status === 200, "room again");
});

test("what was answered is there after a kill, on air if it was on air", async (t) => {
  const store = newStore();
  const daemon = await startDaemon({ store });
  t.after(() => (daemon.isAlive() ? daemon.kill() : undefined));
  await daemon.post(call("a"));
  await act(daemon, "main", { prepare: { panel: "text", text: "Ünïcode 🤼" } });
  await act(daemon, "main", { take: { panel: "who", side: "blue" } });
  await act(daemon, "main", { look: { position: "upper-left", lang: "de", scale_percent: 75 } });
  await act(daemon, "main", { delay: { frames: 12, rate: "59.94" } });
  await act(daemon, "main", { delay: { ms: 500, of: "mat/A/booth" } });
  await act(daemon, "main", { arm: { rule: "round_between", on: true, at: "2027-05-08T14:00:00.000Z" } });
  await act(daemon, "wall", { mat: "B" });
  await act(daemon, "wall", { hold: "hide" });
  await act(daemon, "gone", { mat: "B" });
  await act(daemon, "gone", { remove: {} });
  const before = kept(await outputs(daemon));
  await daemon.kill();
  const again = await daemonFor(t, { store });
  assert.deepEqual(kept(await outputs(again)), before);
  const { on_air, look, delay_ms } = await screen(again);
  assert.deepEqual([on_air.panel.panel, on_air.panel.side], ["who", "blue"]);
  assert.deepEqual(look, { position: "upper-left", lang: "de", scale_percent: 75 });
  assert.equal(delay_ms, 200);
  assert.deepEqual((await screen(again, "wall")).on_air, { line: false });
  assertProblem(await again.ask("/api/v1/topics/out/gone"), { status: 404, type: "topic" });
  // A clear that was answered stays one.
  await act(again, "main", { clear: {} });
  await again.kill();
  const third = await daemonFor(t, { store });
  assert.deepEqual((await screen(third)).on_air, { line: false });
});

test("killed again and again: never less than what was answered", async (t) => {
  const store = newStore();
  let daemon = await startDaemon({ store });
  t.after(() => (daemon.isAlive() ? daemon.kill() : undefined));
  await daemon.post(call("a"));
  let sent = 0;
  let answered = 0;
  const sendOn = async () => {
    for (;;) {
      const text = `${++sent}`;
      const one = { take: { panel: "text", text } };
      const { status } = await ask(daemon, "main", one).catch(() => ({}));
      if (status !== 200) return;
      answered = sent;
    }
  };
  for (let round = 1; round <= 8; round++) {
    const enough = answered + 2 * round;
    const sending = sendOn();
    await until(() => answered >= enough, "some answers");
    await daemon.kill();
    await sending;
    daemon = await startDaemon({ store });
    const number = Number((await screen(daemon)).on_air.panel.text);
    assert.ok(number >= answered && number <= sent, `${answered} <= ${number} <= ${sent}`);
  }
});

test("a picture that was frozen comes back hidden after a restart", async (t) => {
  const store = newStore();
  const daemon = await startDaemon({ store });
  await daemon.post(call("a"));
  await act(daemon, "main", { hold: "freeze" });
  await daemon.stop();
  const again = await daemonFor(t, { store });
  const { hold, on_air } = await screen(again);
  assert.deepEqual([hold.how, on_air], ["hide", { line: false }]);
  assert.equal((await outputs(again)).outputs.main.hold.how, "freeze");
  await act(again, "main", { hold: "off" });
  assert.equal((await screen(again)).on_air.line, true);
});

test("minors: initials on every panel, and no panel while the day isn't public", async (t) => {
  const daemon = await daemonFor(t, { words: ["--public-minors"] });
  await daemon.postAll([
    call("f", { age_group: "u17" }),
    closed("f", "red"),
    call("a", { age_group: "u17" }),
  ]);
  await act(daemon, "main", { take: { panel: "who" } });
  const who = (await screen(daemon)).on_air.panel;
  assert.deepEqual([who.red.name, who.blue.name], ["IB", "NH"]);
  assert.equal(who.red.way[1].against, "NH");
  await act(daemon, "main", { take: { panel: "text", text: "Next: Ilse Brandt!" } });
  assert.equal((await screen(daemon)).on_air.panel.text, "Next: IB!");
  await act(daemon, "main", { take: { panel: "results" } });
  const text = JSON.stringify(await screen(daemon));
  assert.ok(!/Brandt|Haddad/.test(text), text);
  const hidden = await daemonFor(t);
  await hidden.post(call("a", { age_group: "u17" }));
  assertProblem(await ask(hidden, "main", { take: { panel: "who" } }), {
    status: 409,
    type: "withheld",
  });
  const state = await screen(hidden);
  assert.deepEqual([state.withheld, state.bout], ["minors", undefined]);
});

test("somebody hidden while the picture is frozen is hidden there too", async (t) => {
  const daemon = await daemonFor(t, { words: ["--public-minors"] });
  await daemon.post(call("a", { red: { name: "Ilse Brandt", athlete: "ib" } }));
  await act(daemon, "main", { hold: "freeze" });
  assert.match(JSON.stringify(await screen(daemon)), /Brandt/);
  await daemon.post({ id: newId("entry"), type: "entry", athlete: "ib", minor: true });
  const state = await screen(daemon);
  assert.ok(!JSON.stringify(state).includes("Brandt"));
  assert.equal(state.on_air.line, false);
  await act(daemon, "main", { hold: "off" });
  assert.equal((await screen(daemon)).bout.details.red.name, "IB");
});

test("a disk that has failed: producing goes on, and says that it isn't kept", async (t) => {
  const store = newStore();
  const disk = new FaultyDisk({ files: `${store}*`, calls: "sync", from: 1, error: "EIO" });
  const daemon = await Daemon.start({ store, env: disk.env });
  t.after(() => (daemon.isAlive() ? daemon.kill() : undefined));
  await daemon.post(call("a"));
  const good = await act(daemon, "main", { prepare: { panel: "who" } });
  assert.equal(good.kept, undefined);
  disk.arm();
  // The first meets the failure, the others come after it.
  for (const one of [{ take: {} }, { hold: "hide" }, { hold: "off" }])
    assert.equal((await act(daemon, "main", one)).kept, false, JSON.stringify(one));
  assert.equal((await screen(daemon)).on_air.panel.panel, "who");
  assertProblem(await daemon.postText(JSON.stringify(score("a", "red", 2))), {
    status: 503,
    type: "stopped",
  });
  assert.equal((await act(daemon, "main", { clear: {} })).kept, false);
  assert.deepEqual((await screen(daemon)).on_air, { line: false });
});

/* ---- values one by one ---- */

const flat = async (daemon, name = "main") => JSON.parse(await daemon.get(`/api/v1/flat/${name}`));

/** A line of CSV with quotes (RFC 4180), apart. */
const cells = (line) =>
  [...line.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^,]*))/g)].map(([, quoted, plain]) =>
    quoted === undefined ? plain : quoted.replaceAll('""', '"'),
  );

async function csv(daemon, path = "/api/v1/flat/main?format=csv", headers = {}) {
  const { status, headers: got, body } = await daemon.ask(path, { headers });
  assert.equal(status, 200, body);
  assert.equal(got["content-type"], "text/csv; charset=utf-8; header=present");
  const lines = body.split("\r\n");
  assert.deepEqual([lines.length, lines[2]], [3, ""], "names, values, and the end of the line");
  const [names, values] = lines.map(cells);
  assert.equal(names.length, values.length);
  return Object.fromEntries(names.map((name, i) => [name, values[i]]));
}

test("values one by one, as JSON and as CSV", async (t) => {
  const daemon = await daemonFor(t);
  assert.deepEqual(await flat(daemon), { output: "main", line: true });
  await daemon.postAll([
    call("a", { number: "12", red: { name: 'Ilse "Il" Brandt, jr.', team: "=SUM(A1)" }, blue: { name: "+Noor" } }),
    score("a", "red", 2),
    score("a", "blue", 1, { unconfirmed: true }),
  ]); // prettier-ignore
  const values = await flat(daemon);
  const { clock_left_ms: _, ...still } = values;
  assert.deepEqual(still, {
    output: "main", mat: "A", line: true, bout: "a", number: "12", style: "freestyle", weight: "57",
    phase: "called", period: 1, periods: 2, clock: "3:00", clock_elapsed: "0:00",
    red_name: 'Ilse "Il" Brandt, jr.', red_team: "=SUM(A1)", red_score: 2, red_cautions: 0,
    blue_name: "+Noor", blue_score: 1, blue_unconfirmed: 1, blue_cautions: 0,
  }); // prettier-ignore
  const table = await csv(daemon);
  assert.deepEqual(
    [table.red_name, table.red_team, table.blue_name, table.line, table.leader, table.red_score],
    ['Ilse "Il" Brandt, jr.', "'=SUM(A1)", "'+Noor", "yes", "", "2"],
  );
  assert.deepEqual(await csv(daemon, "/api/v1/flat/main", { Accept: "text/csv, */*;q=0.1" }), table);
  assert.deepEqual(Object.keys(table).filter((name) => table[name] !== "").sort(), Object.keys(values).sort());
  // Who leads is said once it is sure; a result once it stands.
  await daemon.postAll([make("confirm", "a", {}), closed("a", "red", { unconfirmed: true })]);
  assert.deepEqual([(await flat(daemon)).leader, (await flat(daemon)).winner], ["red", undefined]);
  await daemon.post(make("confirm", "a", {}));
  const { winner, result_how, winner_name, result_code } = await flat(daemon);
  assert.deepEqual([winner, result_how, result_code], ["red", "points", "VPO1"]);
  assert.equal(winner_name, values.red_name);
  // An output that asks for confirmed points only gets no others.
  await act(daemon, "sure", { look: { score: "confirmed" } });
  await daemon.post(score("a", "blue", 4, { unconfirmed: true }));
  assert.equal((await flat(daemon)).blue_score, 5);
  const sure = await flat(daemon, "sure");
  assert.deepEqual([sure.blue_score, sure.blue_unconfirmed, sure.leader], [1, undefined, undefined]);
  await act(daemon, "main", { take: { panel: "text", text: "Back soon" } });
  assert.deepEqual([(await flat(daemon)).panel, (await flat(daemon)).text], ["text", "Back soon"]);
  await act(daemon, "main", { hold: "hide" });
  const hidden = await flat(daemon);
  assert.deepEqual([hidden.line, hidden.panel, hidden.text, hidden.hold], [undefined, undefined, undefined, "hide"]);
  assertProblem(await daemon.ask("/api/v1/flat/none"), { status: 404, type: "output" });
  assertProblem(await daemon.ask("/api/v1/flat/main?format=xml"), { status: 404, type: "not-found" });
});

test("values hold nothing back from the delay, and nothing of minors", async (t) => {
  const daemon = await daemonFor(t, { words: ["--public-minors"] });
  await daemon.post(call("a", { age_group: "u17" }));
  const values = await flat(daemon);
  assert.deepEqual([values.red_name, values.weight], ["IB", undefined]);
  await act(daemon, "main", { delay: { ms: 2000 } });
  await daemon.post(score("a", "red", 2));
  assert.equal((await flat(daemon)).red_score, 0);
  await until(async () => (await flat(daemon)).red_score === 2, "the score, in its time");
  const closedDay = await daemonFor(t);
  await closedDay.post(call("a", { age_group: "u17" }));
  assert.deepEqual(await flat(closedDay), { output: "main", mat: "A", line: true });
});

test("values as files: one each, never half of one, written when they change", async (t) => {
  const folder = join(temporaryFolder(), "values");
  const store = newStore();
  const words = ["--write-files", folder];
  const daemon = await daemonFor(t, { store, words });
  const read = (name, output = "main") => {
    const path = join(folder, output, `${name}.txt`);
    return existsSync(path) ? readFileSync(path, "utf8") : undefined;
  };
  const becomes = (name, value, output) =>
    until(() => read(name, output) === value, () => `${name}: ${read(name, output)}, not ${value}`);
  await becomes("output", "main");
  await becomes("red_score", ""); // what isn't known is an empty file
  await daemon.postAll([call("a", { red: { name: "Žīlaviņa" } }), clock("a", "start")]);
  await becomes("red_name", "Žīlaviņa");
  await becomes("red_score", "0");
  await becomes("clock_running", "yes");
  // All that is asked for by HTTP stands there, but for the milliseconds.
  await daemon.post(clock("a", "stop"));
  await becomes("clock_running", "");
  const values = await csv(daemon);
  assert.ok(!readdirSync(join(folder, "main")).includes("clock_left_ms.txt"));
  for (const [name, value] of Object.entries(values))
    if (name !== "clock_left_ms") await becomes(name, value);
  // Read again and again while it is written: always whole.
  const named = statSync(join(folder, "main", "red_name.txt"));
  const seen = new Set();
  let writing = true;
  const sending = (async () => {
    for (let i = 0; i < 40; i++) await daemon.post(score("a", "red", i % 2 ? 1 : 2));
    writing = false;
  })();
  while (writing) {
    seen.add(read("red_score"));
    await new Promise((resolve) => setImmediate(resolve));
  }
  await sending;
  await becomes("red_score", "60");
  for (const value of seen) assert.match(value, /^\d{1,2}$/);
  const still = statSync(join(folder, "main", "red_name.txt"));
  assert.deepEqual([still.ino, still.mtimeMs], [named.ino, named.mtimeMs], "what stays isn't written");
  // The clock's text changes by time alone.
  await daemon.post(clock("a", "start"));
  const before = read("clock");
  await until(() => read("clock") !== before && /^\d:\d\d$/.test(read("clock")), "the clock");
  await act(daemon, "wall", { mat: "B" });
  await becomes("mat", "B", "wall");
  await act(daemon, "wall", { remove: {} });
  await becomes("output", "", "wall");
  await becomes("mat", "", "wall");
  // A folder that goes is made anew, with all that was in it.
  rmSync(join(folder, "main"), { recursive: true });
  await daemon.post(score("a", "blue", 1));
  await becomes("blue_score", "1");
  await becomes("red_name", "Žīlaviņa");
  await daemon.stop();
  const again = await daemonFor(t, { store, words });
  await again.post(score("a", "red", 1));
  await becomes("red_score", "61");
});

test("a folder for values that can't be: it doesn't start", async () => {
  const store = newStore();
  for (const folder of [store + ".d/none/values", "/dev/null"]) {
    const { code, errors } = await Daemon.startInVain({ store, words: ["--write-files", folder] });
    assert.equal(code, 2, errors);
    assert.match(errors, /values can't be written as files.*folder=/);
  }
});
