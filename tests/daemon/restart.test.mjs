// Stops, crashes and restarts: what was acknowledged is there, once and in order, and what is shown
// is what was shown.
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { join } from "node:path";
import { test } from "node:test";
import { Dice } from "../reading/dice.mjs";
import { assertTangle, newTangle } from "../soak/tangle.mjs";
import { call, clock, make, newId, note, score } from "../support/bouts.mjs";
import { assertProblem, checkProblem, Daemon, daemonFor, PUBLIC_MINORS } from "../support/daemon.mjs";
import { Line, topicsOf } from "../support/listeners.mjs";
import { demoEvents, rows, temporaryFolder } from "../support/program.mjs";
import { age, aliveAt, setAliveAt, sql, storedEvents } from "../support/store.mjs";
import { until } from "../support/wait.mjs";

const TOPICS = topicsOf("A", "B");
const at = (ms) => new Date(ms).toISOString();
const newStore = () => join(temporaryFolder(), "day.sqlite");

/** All topics' states, and the lines for a terminal: what a restart must not change. */
async function shown(daemon) {
  const states = await Promise.all(
    TOPICS.map(async (topic) => [topic, (await daemon.topic(topic)).state]),
  );
  const texts = await Promise.all(["A", "B"].map((mat) => daemon.get(`/text/${mat}?since=0`)));
  return { ...Object.fromEntries(states), texts };
}

test("stopped and started again all over the demo day: everything shown is as it was", async (t) => {
  const events = demoEvents().map(({ at, seq, by, ...event }) => event);
  const store = newStore();
  let daemon = await daemonFor(t, { store, ...PUBLIC_MINORS });
  const epochs = new Set();
  // In the middle of bouts as well as between them; at the last point everything is closed.
  const points = [60, 211, 333, 480, 612, 777, 905, events.length];
  let sent = 0;
  for (const point of points) {
    for (; sent < point; sent += 40)
      await daemon.postAll(events.slice(sent, Math.min(point, sent + 40)));
    sent = point;
    await stopClocks(daemon, point);
    const was = await shown(daemon);
    epochs.add((await daemon.topic("out/main")).epoch);
    await daemon.stop();
    daemon = await daemonFor(t, { store, ...PUBLIC_MINORS });
    assert.deepEqual(await shown(daemon), was, `after ${point} events`);
  }
  assert.equal(epochs.size, points.length, "each life has an epoch of its own");
});

/* A clock that runs is looked at below: here everything stands, so that time changes nothing. */
async function stopClocks(daemon, point) {
  for (const mat of ["A", "B"]) {
    const { bout } = (await daemon.topic(`mat/${mat}/table`)).state;
    if (bout?.clock.running)
      await daemon.post(clock(bout.bout, "stop", { id: newId(`stop-${point}`) }));
  }
}

test("what time alone has told is told the same when the log is read again", async (t) => {
  const store = newStore();
  const daemon = await daemonFor(t, { store });
  const line = await Line.open(daemon, "mat/A/follow", "mat/A/table", "mat/B/table");
  const phase = (mat, is) => line.state(`mat/${mat}/table`, ({ bout }) => bout?.phase === is);
  const length = { periods: 2, period_ms: 600, break_ms: 200 };
  await daemon.postAll([
    call("t", { length }),
    call("u", { length, mat: "B" }),
    clock("t", "start"),
  ]);
  const started_ms = Date.parse(rows(await daemon.log("t")).at(-1).at);
  await phase("A", "break");
  await daemon.post(score("t", "red", 2));
  // The whistle came in time, but late over the line: the period was told to be over already.
  await daemon.post(clock("t", "stop", { keyed_at: at(started_ms + 300) }));
  await phase("A", "stopped");
  await daemon.post(clock("u", "start"));
  await phase("B", "break");
  await daemon.post(clock("t", "start"));
  await phase("A", "break");
  await daemon.post(clock("t", "start", { period: 2 }));
  await phase("A", "over");
  await daemon.postAll([
    score("t", "blue", 1),
    make("close", "t", { how: "points", winner: "red" }),
  ]);
  await phase("A", "closed");
  line.break();
  const was = await shown(daemon);
  assert.ok(was.texts[0].split("\n").length > 8);
  await daemon.stop();
  const again = await daemonFor(t, { store });
  assert.deepEqual(await shown(again), was);
});

test("a running clock runs on over a restart, anchor and all", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    call("run"),
    clock("run", "start"),
    score("run", "red", 2),
    make("passivity", "run", { side: "blue", stage: "activity" }),
    make("stoppage", "run", { kind: "blood", side: "red", do: "start" }),
  ]);
  const was = (await daemon.topic("mat/A/table")).state;
  const { elapsed_ms } = (await daemon.bout("run")).clock;
  await daemon.stop();
  const alive_ms = aliveAt(daemon.store);
  const again = await daemonFor(t, { store: daemon.store });
  const { state } = await again.topic("mat/A/table");
  if (state.bout.clock.unsure) return assert.ok(Date.now() - alive_ms > 10000); // so slow a machine
  assert.deepEqual(state, was);
  assert.ok((await again.bout("run")).clock.elapsed_ms >= elapsed_ms);
});

test("killed twenty times: all that was acknowledged is there, once, without a gap", async (t) => {
  const store = newStore();
  const acknowledged = new Map();
  const bouts = ["k0", "k1", "k2", "k3"];
  for (let life = 0; life < 20; life++) {
    const daemon = await daemonFor(t, { store });
    await assertAllThere(daemon, bouts, acknowledged, life);
    for (const bout of life === 0 ? bouts : []) {
      const event = call(bout, { mat: bout });
      acknowledged.set(event.id, await daemon.post(event));
    }
    const before = acknowledged.size;
    const senders = bouts.map((bout, i) =>
      (i % 2 === 0 ? postUntilDead : sayUntilDead)(daemon, bout, acknowledged),
    );
    // The point of the kill: after so many answers, while others are on their way.
    await until(() => acknowledged.size >= before + 3 + life * 7, "answers");
    await daemon.kill();
    await Promise.all(senders);
  }
  const last = await daemonFor(t, { store });
  await assertAllThere(last, bouts, acknowledged, 20);
  assert.ok(acknowledged.size > 200);
});

/** One after the other by POST, some of them batches, until nobody answers. */
async function postUntilDead(daemon, bout, acknowledged) {
  for (let i = 0; ; i++) {
    const events = Array.from({ length: i % 3 === 0 ? 5 : 1 }, () => score(bout, "red", 1));
    const body = events.map((event) => JSON.stringify(event)).join("\n");
    const type = events.length > 1 ? "application/x-ndjson" : "application/json";
    const answer = await daemon.postText(body, type).catch(() => undefined);
    if (answer?.status !== 200) return;
    for (const { id, seq } of rows(answer.body)) acknowledged.set(id, seq);
  }
}

/** Over a WebSocket, without waiting for each answer. */
async function sayUntilDead(daemon, bout, acknowledged) {
  const line = await Line.open(daemon).catch(() => undefined);
  if (!line) return;
  let waiting = 0;
  let dead = false;
  line.closed.then(() => (dead = true));
  for (let from = 0; !dead;) {
    for (; waiting < 8; waiting++) line.say({ event: score(bout, "blue", 1) });
    const answer = await line.heard.find(({ ack }) => ack, "an ack", from).catch(() => undefined);
    if (!answer) return;
    acknowledged.set(answer.item.ack.id, answer.item.ack.seq);
    waiting--;
    from = answer.place + 1;
  }
}

async function assertAllThere(daemon, bouts, acknowledged, life) {
  if (acknowledged.size === 0) return;
  const logs = await Promise.all(bouts.map(async (bout) => rows(await daemon.log(bout))));
  const events = logs.flat();
  const seqs = events.map(({ seq }) => seq).sort((one, other) => one - other);
  assert.deepEqual(
    seqs,
    seqs.map((_, i) => i + 1),
    `life ${life}: 1, 2, 3 … without a gap`,
  );
  assert.equal(new Set(events.map(({ id }) => id)).size, events.length, `life ${life}: none twice`);
  const kept = new Map(events.map(({ id, seq }) => [id, seq]));
  for (const [id, seq] of acknowledged) assert.equal(kept.get(id), seq, `life ${life}: ${id}`);
  for (const [i, bout] of bouts.entries()) {
    const points = (side) =>
      logs[i].reduce((sum, event) => sum + (event.side === side ? event.points : 0), 0);
    const { score: shownScore } = await daemon.bout(bout);
    assert.deepEqual(shownScore, { red: points("red"), blue: points("blue") });
  }
}

/** The bout's log once all that the daemon itself keyed at its start is in it: answers come in the
 *  order of what was taken, so an event of ours that is answered comes after it. */
async function settledLog(daemon, bout) {
  const barrier = note(bout, "Settled", "booth");
  await daemon.post(barrier);
  return rows(await daemon.log(bout)).filter(({ id }) => id !== barrier.id);
}

/** Waits until a sign of life is in the store that is later than all events: it is noted with each
 *  beat, and on disk before the next but one. */
async function signsOfLife(daemon) {
  const line = await Line.open(daemon, "mat/A/table");
  for (let beats = 0, from = 0; beats < 3; beats++)
    from = (await line.heard.find((message) => "beat" in message, "a beat", from)).place + 1;
  line.break();
}

/** A store whose daemon was killed while a clock ran, so long ago. `more` is done before.
 *  @returns {Promise<{store: string, started_ms: number, alive_ms: number}>} */
async function killedWhileRunning(t, ago_ms, more = async () => {}) {
  const daemon = await daemonFor(t);
  await daemon.postAll([call("l"), clock("l", "start"), score("l", "red", 2)]);
  await more(daemon);
  const [, start] = rows(await daemon.log("l"));
  await signsOfLife(daemon);
  await daemon.kill();
  const alive_ms = age(daemon.store, ago_ms);
  return { store: daemon.store, started_ms: Date.parse(start.at) - ago_ms, alive_ms };
}

test("away for more than ten seconds: a running clock is lost, as of the last sign of life", async (t) => {
  const { store, started_ms, alive_ms } = await killedWhileRunning(t, 60000);
  const t_ms = alive_ms - started_ms;
  assert.ok(t_ms > 0 && t_ms < 60000, String(t_ms));
  const daemon = await daemonFor(t, { store });
  const lost = (await settledLog(daemon, "l")).at(-1);
  assert.deepEqual(
    { type: lost.type, do: lost.do, by: lost.by, keyed_at: lost.keyed_at, seq: lost.seq },
    { type: "clock", do: "lost", by: "daemon", keyed_at: at(alive_ms), seq: 4 },
  );
  const { clock: stands, phase } = await daemon.bout("l");
  assert.deepEqual(stands, {
    period: 1,
    t_ms,
    left_ms: 180000 - t_ms,
    elapsed_ms: t_ms,
    running: false,
    unsure: true,
  });
  assert.equal(phase, "stopped");
  const { state } = await daemon.topic("mat/A/table");
  assert.deepEqual(state.bout.clock, {
    period: 1,
    t_ms,
    at: at(alive_ms),
    running: false,
    unsure: true,
  });
  await daemon.stop();
  // It stands now: nothing is lost a second time, however long the daemon is away.
  age(store, 60000);
  const again = await daemonFor(t, { store });
  assert.equal((await settledLog(again, "l")).filter(({ do: act }) => act === "lost").length, 1);
  await again.post(clock("l", "start"));
  assert.equal((await again.bout("l")).clock.unsure, undefined);
});

test("the clocks of several mats ran while it was away: each is lost, and it starts", async (t) => {
  const bouts = ["l", "m", "n", "o"];
  const { store } = await killedWhileRunning(t, 60000, async (daemon) => {
    for (const bout of bouts.slice(1))
      await daemon.postAll([call(bout, { mat: bout }), clock(bout, "start")]);
  });
  const daemon = await daemonFor(t, { store });
  for (const bout of bouts) assert.equal((await settledLog(daemon, bout)).at(-1).do, "lost");
});

test("away until after the period's end: it didn't end, and no line says that it did", async (t) => {
  const { store, started_ms, alive_ms } = await killedWhileRunning(t, 600000);
  const daemon = await daemonFor(t, { store });
  assert.equal((await settledLog(daemon, "l")).at(-1).do, "lost");
  const { phase, clock: stands } = await daemon.bout("l");
  assert.deepEqual([phase, stands.t_ms, stands.unsure], ["stopped", alive_ms - started_ms, true]);
  assert.doesNotMatch(await daemon.get("/text/A?since=0"), /End of period|over|time is up/i);
});

test("away for less: the clock has run on", async (t) => {
  const { store } = await killedWhileRunning(t, 0);
  // A machine may be so slow that it is away for longer after all: then once more.
  for (let tries = 0; tries < 10; tries++) {
    const alive_ms = Date.now() - 3000;
    setAliveAt(store, alive_ms);
    const daemon = await daemonFor(t, { store });
    if (Date.now() - alive_ms > 9500) {
      await daemon.kill();
      sql(store, "DELETE FROM events WHERE seq > 3");
      continue;
    }
    assert.equal((await settledLog(daemon, "l")).length, 3);
    const { running, elapsed_ms } = (await daemon.bout("l")).clock;
    assert.ok(running);
    assert.ok(elapsed_ms >= 2000, String(elapsed_ms));
    return;
  }
  assert.fail("never started within ten seconds");
});

test("away for long with the clock standing, or run out before: nothing is lost", async (t) => {
  const length = { periods: 2, period_ms: 500 };
  const { store } = await killedWhileRunning(t, 600000, (daemon) =>
    daemon.postAll([
      call("s", { mat: "B" }),
      clock("s", "start"),
      clock("s", "stop"),
      call("l", { length }),
    ]),
  );
  const daemon = await daemonFor(t, { store });
  assert.equal((await settledLog(daemon, "l")).length, 4);
  assert.equal((await settledLog(daemon, "s")).length, 3);
  const { phase, clock: stands } = await daemon.bout("l");
  assert.deepEqual([phase, stands.t_ms, stands.unsure], ["break", 500, undefined]);
});

test("what ran out while the daemon was away is told when it is back, once", async (t) => {
  const daemon = await daemonFor(t);
  const length = { periods: 2, period_ms: 60000, break_ms: 30000 };
  await daemon.postAll([
    call("o", { length }),
    clock("o", "start", { keyed_at: at(Date.now() - 59000) }),
  ]);
  await daemon.stop();
  await until(() => Date.now() > aliveAt(daemon.store) + 1100, "the period's end");
  const again = await daemonFor(t, { store: daemon.store });
  const line = await Line.open(again, "mat/A/follow", "mat/A/table");
  t.after(() => line.close());
  const { lines } = await line.state("mat/A/follow", (state) =>
    Object.values(state.lines).some(({ kind, event }) => kind === "clock" && !event),
  );
  assert.equal(
    Object.values(lines).filter(({ kind, event }) => kind === "clock" && !event).length,
    1,
  );
  assert.equal((await again.bout("o")).phase, "break");
});

const inVain = (options) => Daemon.startInVain(options);
const hash = (path) => createHash("sha256").update(readFileSync(path)).digest("hex");

test("one store, one daemon: a second one says why it doesn't start, and disturbs nothing", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("one"));
  const { code, errors } = await inVain({ store: daemon.store });
  assert.equal(code, 2);
  assert.match(errors, /is in use: another daemon holds this store/);
  assert.ok(errors.includes(daemon.store));
  await daemon.post(score("one", "red", 2));
  await daemon.stop();
  const again = await daemonFor(t, { store: daemon.store });
  assert.deepEqual((await again.bout("one")).score, { red: 2, blue: 0 });
});

test("a port that is taken, an address that isn't ours: said, with exit code 2", async (t) => {
  const server = createServer();
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  t.after(() => server.close());
  const taken = await inVain({ store: newStore(), port: server.address().port });
  assert.equal(taken.code, 2);
  assert.match(taken.errors, /can't listen.*address already in use/);
  const foreign = await inVain({ store: newStore(), host: "192.0.2.1", port: 7600 }); // RFC 5737: nobody's
  assert.equal(foreign.code, 2);
  assert.match(foreign.errors, /can't listen/);
});

test("what is no store of ours is refused and left as it is", async (t) => {
  const store = newStore();
  const refused = async (path, reason) => {
    const was = hash(path);
    const { code, errors } = await inVain({ store: path });
    assert.equal(code, 2, errors);
    assert.match(errors, reason);
    assert.equal(hash(path), was);
  };
  const text = join(temporaryFolder(), "letter.txt");
  writeFileSync(text, "Dear club, the cup begins at ten.\n".repeat(100));
  await refused(text, /is not a store of boutwire/);
  const foreign = newStore();
  sql(foreign, "CREATE TABLE sheet (a); INSERT INTO sheet VALUES (1)");
  await refused(foreign, /is not a store of boutwire/);
  const { code, errors } = await inVain({
    store: join(temporaryFolder(), "nowhere", "day.sqlite"),
  });
  assert.equal(code, 2);
  assert.match(errors, /no such file or directory/);
  const daemon = await daemonFor(t, { store });
  await daemon.postAll([
    call("d"),
    score("d", "red", 2),
    score("d", "blue", 1),
    note("d", "The last one"),
  ]);
  await daemon.stop();
  const damagedBy = (statement) => {
    const path = join(temporaryFolder(), "damaged.sqlite");
    writeFileSync(path, readFileSync(store));
    sql(path, statement);
    return path;
  };
  await refused(
    damagedBy("PRAGMA user_version = 2"),
    /has format 2, and this daemon knows format 1 only/,
  );
  await refused(damagedBy("DELETE FROM events WHERE seq = 2"), /event 2 is missing/);
  await refused(
    damagedBy("UPDATE events SET text = replace(text, '\"points\":2', '\"points\":4')"),
    /event 2 is not as it was written/,
  );
  await refused(damagedBy("UPDATE life SET alive_at_ms = 1"), /not as it was written/);
});

test("what the store keeps is the log, as it can be read again", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([call("kept"), score("kept", "red", 2), note("kept", "„Ünïcode“ 🤼")]);
  const log = rows(await daemon.log("kept"));
  await daemon.stop();
  const stored = storedEvents(daemon.store);
  assert.deepEqual(
    stored.map(({ text }) => JSON.parse(text)),
    log,
  );
  assert.deepEqual(
    stored.map(({ seq }) => seq),
    [1, 2, 3],
  );
});

test("a full disk: events are refused, what stands is shown, nothing acknowledged is lost", async (t) => {
  const store = newStore();
  // A file may not grow beyond this; what a full disk answers is EFBIG instead of ENOSPC.
  const wrapper = ["bash", "-c", "trap '' XFSZ; ulimit -f 300; exec \"$@\"", "bash"];
  const daemon = await daemonFor(t, { store, wrapper });
  await daemon.post(call("full"));
  const line = await Line.open(daemon, "mat/A/table");
  const acknowledged = new Map();
  let refused;
  for (let i = 0; i < 10000 && !refused; i++) {
    const event = note("full", "x".repeat(280), "booth");
    const answer = await daemon.postText(JSON.stringify(event));
    if (answer.status === 200) acknowledged.set(event.id, JSON.parse(answer.body).seq);
    else refused = answer;
  }
  assert.ok(acknowledged.size > 10);
  assertProblem(refused, { status: 503, type: "stopped" });
  assert.ok(JSON.parse(refused.body).detail.length > 0);
  const was = await daemon.topic("mat/A/table");
  const event = score("full", "red", 2);
  assertProblem(await daemon.postText(JSON.stringify(event)), { status: 503, type: "stopped" });
  const from = line.heard.items.length;
  line.say({ event });
  const { problem } = await line.find((message) => "problem" in message, "a problem", from);
  checkProblem(problem, { status: 503, type: "stopped", id: event.id }); // a page finds its event by it
  assert.deepEqual(await daemon.topic("mat/A/table"), was);
  assert.equal((await daemon.ask("/follow/")).status, 200);
  assert.match(daemon.errors, /can't be written/);
  line.break();
  await daemon.kill();
  const again = await daemonFor(t, { store });
  const kept = new Map(rows(await again.log("full")).map(({ id, seq }) => [id, seq]));
  for (const [id, seq] of acknowledged) assert.equal(kept.get(id), seq);
  await again.post(event);
});

test("SIGINT ends it in order too, and those who listen are told that it goes", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("end"));
  const line = await Line.open(daemon, "mat/A/table");
  await daemon.stop("SIGINT");
  assert.equal((await line.closed).code, 1001);
});

test("everything at once by all four ways, and an end in the middle of it, four times", async () => {
  const dice = new Dice(20);
  const tangle = newTangle();
  for (let life = 0; life < 4; life++) await assertTangle(tangle, () => dice.throw(), 800);
  assert.ok(tangle.acknowledged.size > 0);
});
