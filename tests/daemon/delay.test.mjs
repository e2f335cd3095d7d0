// Delay: what an audience behind by some time is shown, from a real daemon; and that it can be had
// again from the log: the frames that were recorded are what `boutwire fold --until TIME --delay MS`
// prints. (docs/wire.md, "Delay".)
import assert from "node:assert/strict";
import { test } from "node:test";
import { setTimeout as sleep } from "node:timers/promises";
import { Dice } from "../reading/dice.mjs";
import { call, clock, make, newId, note, score, voided } from "../support/bouts.mjs";
import { bearer, daemonFor, makeKey, PUBLIC_MINORS } from "../support/daemon.mjs";
import { Line, Reading } from "../support/listeners.mjs";
import { demoEvents, fold, rows, run } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

/** Sets an audience's delay, as the producer does. */
async function delay(daemon, ms, of, headers = {}) {
  const body = JSON.stringify({ delay: { ms, ...(of && { of }) } });
  const answer = await daemon.ask("/api/v1/outputs/main", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...headers },
    body,
  });
  assert.equal(answer.status, 200, answer.body);
}

const later = (at, ms) => new Date(Date.parse(at) + ms).toISOString();
const wait = (ms) => new Promise((resume) => setTimeout(resume, ms));

/** Every event of the daemon's store, as it was kept, in their order. */
async function wholeLog(daemon) {
  const { code, out, errors } = await run(["export", "--store", daemon.store]);
  assert.equal(code, 0, errors);
  return out;
}

/** All versions of a topic that a line has heard, whole. */
function framesOf(line, topic) {
  const frames = [];
  let state;
  const patched = (one, patch) => {
    const made = { ...(typeof one === "object" ? one : {}) };
    for (const [name, value] of Object.entries(patch)) {
      if (value === null) delete made[name];
      else if (typeof value === "object" && !Array.isArray(value))
        made[name] = patched(made[name], value);
      else made[name] = value;
    }
    return made;
  };
  for (const message of line.heard.items.filter((message) => message.topic === topic)) {
    state = "state" in message ? message.state : patched(state, message.patch);
    frames.push(state);
  }
  return frames;
}

const TIMELESS = [
  ...["bout", "seq", "score", "unconfirmed", "confirmed", "holds", "cautions", "passivity"],
  ...["challenge", "position", "leader", "attacks", "outlook", "needs", "result"],
];

/** A frame's VIEW is the state that `fold` prints: what doesn't move with time, and its clock. */
function assertShown(view, state, at_ms, what) {
  for (const member of TIMELESS) assert.deepEqual(view[member], state[member], `${what}: ${member}`);
  const gone_ms = view.clock.running ? at_ms - Date.parse(view.clock.at) : 0;
  assert.equal(view.clock.running, state.clock.running, `${what}: running`);
  assert.equal(view.clock.t_ms + gone_ms, state.clock.t_ms, `${what}: the anchor is moved`);
}

// ---- the record ----

test("the frames of delayed audiences are what fold prints, over the demo day's corrections", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const dice = new Dice(7);
  const delays = { "out/main": 700, "mat/A/follow": 250, "mat/B/booth": 1200 };
  await delay(daemon, 700);
  await delay(daemon, 250, "mat/A/follow");
  await delay(daemon, 1200, "mat/B/booth");
  const line = await Line.open(daemon, ...Object.keys(delays));
  // Its first events, with one in three corrections said to be the officials'.
  for (const { at, keyed_at, seq, by, ...event } of demoEvents().slice(0, 170)) {
    const isCorrection = event.type === "void" || event.type === "amend";
    await daemon.post(isCorrection && dice.chance(0.33) ? { ...event, why: "officials" } : event);
    await wait(dice.integer(0, 40));
  }
  const log = await wholeLog(daemon);
  const events = rows(log);
  const last = events.at(-1);
  let hidden = 0;
  for (const [topic, ms] of Object.entries(delays)) {
    // All has come due when the last event that is shown has.
    const end = await fold(log, "--until", later(last.at, ms), "--delay", String(ms));
    const reached = (state) => state.bout && state.bout.seq === end.get(state.bout.bout).seq;
    await line.state(topic, reached);
    const seen = new Set();
    let before = 0;
    for (const { bout: view } of framesOf(line, topic)) {
      if (!view || seen.has(`${view.bout} ${view.seq}`)) continue;
      seen.add(`${view.bout} ${view.seq}`);
      const { at } = events[view.seq - 1];
      const states = await fold(log, "--until", later(at, ms), "--delay", String(ms));
      assertShown(view, states.get(view.bout), Date.parse(at) + ms, `${topic}, seq ${view.seq}`);
      assert.ok(view.seq > before, `${topic}: ${view.seq} after ${before}`);
      before = view.seq;
    }
    assert.ok(seen.size > 20, `${topic} had ${seen.size} states`);
    const bouts = new Set([...seen].map((one) => one.split(" ")[0]));
    for (const bout of bouts)
      hidden += events.filter(
        (one, place) => one.bout === bout && one.type === "void" && !seen.has(`${bout} ${place + 1}`),
      ).length;
  }
  assert.ok(hidden > 0, "some void was never shown");
  await line.close();
});

// ---- slips ----

test("a slip corrected within the delay is seen by nobody behind it, in no topic and no text", async (t) => {
  const daemon = await daemonFor(t);
  const bout = newId("slip");
  for (const of of ["mat/A/follow", "mat/A/booth"]) await delay(daemon, 1500, of);
  await delay(daemon, 1500);
  const topics = ["out/main", "mat/A/follow", "mat/A/booth", "day/follow", "day/booth"];
  const line = await Line.open(daemon, ...topics, "mat/A/table");
  const text = await Reading.open(daemon, "/text/A");
  const slip = score(bout, "red", 4);
  const wrong = note(bout, "Zzyzx was never said.");
  await daemon.postAll([call(bout), clock(bout, "start"), slip, wrong]);
  await daemon.postAll([
    voided(bout, slip.id),
    voided(bout, wrong.id),
    score(bout, "blue", 2),
    note(bout, "This was said."),
  ]);
  await line.state("mat/A/table", (state) => state.bout?.score.blue === 2);
  await line.state("out/main", (state) => state.bout?.score.blue === 2);
  await line.state("mat/A/booth", (state) => state.bout?.score.blue === 2);
  await line.state("day/booth", (state) => state.mats.A?.score.blue === 2);
  await line.state("day/follow", (state) => state.mats.A?.score.blue === 2);
  await text.until((all) => all.includes("This was said."), "the note");
  for (const topic of topics)
    for (const frame of framesOf(line, topic)) {
      const shown = JSON.stringify(frame);
      assert.ok(!shown.includes(slip.id) && !shown.includes("Zzyzx"), `${topic}: ${shown}`);
      const { score: points } = frame.bout ?? frame.mats?.A ?? {};
      assert.ok(!points || points.red === 0, `${topic}: ${shown}`);
    }
  assert.ok(!text.text.includes("Zzyzx") && !text.text.includes("orrect"), text.text);
  text.close();
  await line.close();
});

test("what the officials correct is seen, and corrected at its own time", async (t) => {
  const daemon = await daemonFor(t);
  const bout = newId("officials");
  await delay(daemon, 4000); // and keyed a second apart: a slow machine shows both, too
  const line = await Line.open(daemon, "out/main");
  const given = score(bout, "red", 4);
  await daemon.postAll([call(bout), given]);
  await sleep(1000);
  await daemon.post(voided(bout, given.id, { why: "officials" }));
  await line.state("out/main", (state) => state.bout?.seq === 3);
  const scores = framesOf(line, "out/main").map(({ bout }) => bout?.score.red);
  assert.ok(scores.includes(4), String(scores));
  assert.equal(scores.at(-1), 0);
  await line.close();
});

// ---- setting it ----

test("raising holds still, lowering catches up at once, and nothing comes twice", async (t) => {
  const daemon = await daemonFor(t);
  const bout = newId("set");
  const line = await Line.open(daemon, "out/main", "mat/A/follow");
  await daemon.postAll([call(bout), clock(bout, "start"), score(bout, "red", 2)]);
  await line.state("out/main", (state) => state.bout?.score.red === 2);
  for (const of of [undefined, "mat/A/follow"]) await delay(daemon, 120000, of);
  const still = await line.state("out/main", (state) => state.bout.still_at);
  assert.equal(still.bout.clock.running, false);
  assert.equal(still.bout.clock.at, still.bout.still_at);
  assert.equal(still.bout.score.red, 2, "what was shown stays");
  for (let i = 0; i < 20; i++) await daemon.post(score(bout, "blue", 1));
  assert.equal((await daemon.topic("out/main")).state.bout.score.blue, 0);
  assert.equal((await daemon.topic("day/follow")).state.mats.A.score.blue, 0);
  assert.equal((await daemon.topic("day/booth")).state.mats.A.score.blue, 20, "it has no delay");
  for (const of of [undefined, "mat/A/follow"]) await delay(daemon, 0, of);
  const moved = await line.state("out/main", (state) => state.bout.score.blue === 20);
  assert.equal(moved.bout.still_at, undefined);
  assert.equal(moved.bout.clock.running, true);
  const followed = await line.state("mat/A/follow", (state) => state.bout.score.blue === 20);
  assert.equal(Object.keys(followed.lines).length, 23, "the call, the start, and each point once");
  const seqs = framesOf(line, "mat/A/follow").map((state) => state.bout?.seq ?? 0);
  assert.deepEqual(seqs, [...seqs].sort((a, b) => a - b), "in their order");
  await line.close();
});

test("who comes back to a delayed topic gets what that audience was shown", async (t) => {
  const daemon = await daemonFor(t);
  const bout = newId("back");
  await delay(daemon, 400, "mat/A/follow");
  const first = await Line.open(daemon, "mat/A/follow");
  await daemon.postAll([call(bout), score(bout, "red", 1)]);
  await first.state("mat/A/follow", (state) => state.bout?.score.red === 1);
  const left = first.topics.get("mat/A/follow");
  await first.close();
  const slip = score(bout, "blue", 4);
  await daemon.postAll([slip, voided(bout, slip.id), score(bout, "red", 2)]);
  await until(
    async () => (await daemon.topic("mat/A/follow")).state.bout.score.red === 3,
    "the 2 to come due",
  );
  const again = await Line.greet(daemon, { hello: {} });
  again.resume(left);
  await again.state("mat/A/follow", (state) => state.bout.score.red === 3);
  const heard = again.heard.items.filter((message) => message.topic);
  assert.ok(heard.every((message) => "patch" in message), "what was missed, no snapshot");
  assert.ok(!JSON.stringify(heard).includes(slip.id), "and nothing of the slip");
  await again.close();
});

test("a batch of thousands in one moment comes due whole", async (t) => {
  const daemon = await daemonFor(t);
  const line = await Line.open(daemon, "out/main", "mat/A/follow");
  await delay(daemon, 300);
  await delay(daemon, 300, "mat/A/follow");
  const bouts = Array.from({ length: 5 }, () => newId("many"));
  const events = bouts.flatMap((bout) => [
    call(bout),
    ...Array.from({ length: 200 }, () => score(bout, "red", 1)).flatMap((one, place) =>
      place % 2 ? [one, voided(bout, one.id)] : [one],
    ),
  ]);
  await daemon.postAll(events);
  const isAll = ({ bout }) => bout?.bout === bouts.at(-1) && bout.score.red === 100;
  await line.state("out/main", isAll); // every second one was a slip
  const followed = await line.state("mat/A/follow", isAll);
  assert.equal(Object.keys(followed.lines).length, 101, "the call, and each once");
  const seqs = framesOf(line, "out/main").map((state) => state.bout?.seq ?? 0);
  assert.deepEqual(seqs, [...seqs].sort((a, b) => a - b), "in their order");
  assert.ok(framesOf(line, "out/main").length < 200, "not one by one");
  await line.close();
});

// ---- ends and restarts ----

test("after an end, in order or not, no audience is shown more or less than before", async (t) => {
  let daemon = await daemonFor(t);
  const { store } = daemon;
  const bout = newId("again");
  const slip = score(bout, "red", 4);
  await delay(daemon, 700, "mat/A/booth");
  await daemon.postAll([call(bout), slip, voided(bout, slip.id), score(bout, "blue", 2)]);
  const isShown = async () => (await daemon.topic("mat/A/booth")).state.bout?.score.blue === 2;
  await until(isShown, "the booth's 2");
  await delay(daemon, 120000, "mat/A/follow");
  await delay(daemon, 120000, "mat/A/booth");
  await delay(daemon, 120000);
  for (const end of ["stop", "kill"]) {
    await daemon.post(score(bout, "red", 1));
    await daemon[end]();
    daemon = await daemonFor(t, { store });
    for (const topic of ["mat/A/follow", "mat/A/booth", "out/main"]) {
      const { state } = await daemon.topic(topic);
      assert.deepEqual(state.bout.score, { red: 0, blue: 2 }, `${topic} after ${end}`);
      assert.ok(state.bout.still_at, `${topic} after ${end}: its time hasn't come`);
    }
    const { events } = (await daemon.topic("mat/A/booth")).state;
    assert.deepEqual(Object.keys(events), ["4"], "the slip and its void are still not there");
  }
  assert.equal((await daemon.topic("mat/A/table")).state.bout.score.red, 2);
  await delay(daemon, 0, "mat/A/follow");
  assert.equal((await daemon.topic("mat/A/follow")).state.bout.score.red, 2);
});

// ---- who else reads it ----

test("a bout and its log are read as far as the reader's audience is", async (t) => {
  const daemon = await daemonFor(t);
  const keys = {};
  for (const role of ["table", "booth", "gallery"])
    keys[role] = bearer((await makeKey(daemon.store, role)).key);
  const opens = async () =>
    (await daemon.ask("/api/v1/topics/gallery", { headers: keys.gallery })).status === 200;
  await until(async () => (await daemon.ask("/api/v1/topics/gallery")).status === 401, "the keys");
  await until(opens, "the last key");
  const bout = newId("read");
  await delay(daemon, 120000, "mat/A/follow", keys.gallery);
  await delay(daemon, 120000, "mat/A/booth", keys.gallery);
  const post = (events) =>
    daemon.ask("/api/v1/events", {
      method: "POST",
      headers: { "Content-Type": "application/x-ndjson", ...keys.table },
      body: events.map((event) => `${JSON.stringify(event)}\n`).join(""),
    });
  assert.equal((await post([call(bout), score(bout, "red", 4)])).status, 200);
  const status = async (path, headers = {}) => (await daemon.ask(path, { headers })).status;
  assert.equal(await status(`/api/v1/bouts/${bout}`), 404, "the public hasn't heard of it");
  assert.equal(await status(`/api/v1/bouts/${bout}`, keys.booth), 404);
  assert.equal(await status(`/api/v1/bouts/${bout}/events`, keys.booth), 404);
  assert.equal(await status(`/api/v1/bouts/${bout}`, keys.table), 200);
  assert.equal(await status(`/api/v1/bouts/${bout}/events`, keys.table), 200);
  assert.equal((await daemon.get("/text/A?since=0")).length, 0);
  await delay(daemon, 0, "mat/A/follow", keys.gallery);
  assert.equal(await status(`/api/v1/bouts/${bout}`), 200, "caught up");
  assert.match(await daemon.get("/text/A?since=0"), /^On mat A/);
});

test("hiding an athlete is never delayed, in what is shown and in what is kept", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const bout = newId("minor");
  const red = { name: "Wilma Sandvik", athlete: "sandvik", team: "Harbour" };
  const line = await Line.open(daemon, "mat/A/follow");
  await daemon.postAll([call(bout, { red }), score(bout, "red", 2)]);
  await line.state("mat/A/follow", (state) => state.bout?.score.red === 2);
  await delay(daemon, 120000, "mat/A/follow");
  await delay(daemon, 120000);
  const left = line.topics.get("mat/A/follow");
  const entry = make("entry", undefined, { athlete: "sandvik", name: red.name, minor: true });
  delete entry.bout;
  await daemon.post({ ...entry, id: newId("entry") });
  for (const topic of ["mat/A/follow", "out/main", "day/follow"]) {
    const shown = JSON.stringify((await daemon.topic(topic)).state);
    assert.ok(!shown.includes("Sandvik"), `${topic}: ${shown}`);
    assert.ok(shown.includes('"WS"'), `${topic}: ${shown}`);
  }
  const again = await Line.greet(daemon, { hello: {} });
  again.resume(left);
  await again.clock();
  const heard = JSON.stringify(again.heard.items);
  assert.ok(!heard.includes("Sandvik"), heard);
  await again.close();
  await line.close();
});
