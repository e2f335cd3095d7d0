// How fast one source may go, how many may be connected, and when a connection is given up.
// Sources: RFC 6585 4 (429, Retry-After), RFC 9110 10.2.3, RFC 6455 5.5.2 (pings) and 11.7 (1013);
// the figures are our own choice.
import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import { connect } from "node:net";
import { join } from "node:path";
import { test } from "node:test";
import WebSocket from "ws";
import { call, note } from "../support/bouts.mjs";
import { Daemon, assertProblem, bearer, checkProblem, daemonFor, makeKey } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { demoDay, ndjson, rows, run, temporaryFolder } from "../support/program.mjs";
import { until, within } from "../support/wait.mjs";
import { startServer } from "./net/raw.mjs";

const limited = (rate, burst) => ["--event-rate", `${rate}`, "--event-burst", `${burst}`];
const notes = (count) => Array.from({ length: count }, (_, i) => note("b1", `${i}`, "booth"));
const lines = "application/x-ndjson";

test("a source that is too fast is told how long to wait, and loses nothing", async (t) => {
  const daemon = await daemonFor(t, { words: limited(2, 20) });
  await daemon.post(call("b1"));
  let refused;
  let taken = 1;
  for (let i = 0; i < 20 && !refused; i++) {
    const batch = notes(19);
    const answer = await daemon.postText(ndjson(batch), lines);
    if (answer.status === 200) taken += 19;
    else refused = { answer, batch };
  }
  assertProblem(refused.answer, { type: "too-fast", status: 429 });
  assert.match(refused.answer.headers["retry-after"], /^([1-9]|10)$/);
  assert.match(JSON.parse(refused.answer.body).detail, /^send the same again in \d+ ms$/);
  assert.equal(rows(await daemon.log("b1")).length, taken, "all or nothing of a batch");
  await until(async () => (await daemon.postText(ndjson(refused.batch), lines)).status === 200, "to be taken");
  assert.equal(rows(await daemon.log("b1")).length, taken + 19);
});

test("a whole log passes a full bucket at once, and then not again for a while", async (t) => {
  const daemon = await daemonFor(t, { words: limited(1, 30) });
  await until(async () => (await daemon.postText(ndjson([call("b1"), ...notes(200)]), lines)).status === 200, "a log");
  const again = await daemon.postText(ndjson(notes(200)), lines);
  assertProblem(again, { type: "too-fast", status: 429 });
});

test("WebSockets and lines hear the same problem, with the event's id", async (t) => {
  const path = join(temporaryFolder(), "lines");
  const daemon = await daemonFor(t, { words: [...limited(1, 10), "--lines", `unix:${path}`] });
  const line = await Line.open(daemon);
  const events = [call("b1"), ...notes(40)];
  for (const event of events) line.say({ event });
  const answers = await Promise.all(events.map(({ id }) => line.answer(id)));
  const first = answers.findIndex(({ problem }) => problem);
  assert.ok(first >= 10, `${first}`);
  checkProblem(answers[first].problem, { type: "too-fast", status: 429, id: events[first].id });
  assert.ok(answers.slice(0, first).every(({ ack }, i) => ack.seq === i + 1), "in order until then");

  const socket = connect(path);
  t.after(() => socket.destroy());
  let text = "";
  socket.setEncoding("utf8").on("data", (piece) => (text += piece));
  const more = notes(40);
  socket.write(ndjson(more));
  await until(() => text.split("\n").length === 41, "forty answers");
  const problem = rows(text).find((answer) => answer.problem).problem;
  checkProblem(problem, { type: "too-fast", status: 429, id: more[problem.line - 1].id });
});

test("each key has its own speed; the demo's player has no limit", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const ann = await makeKey(store, "table", "--name", "ann");
  const ben = await makeKey(store, "table", "--name", "ben");
  const daemon = await Daemon.start({ store, words: limited(1, 10) });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const post = (key, events) =>
    daemon.ask("/api/v1/events", { method: "POST", headers: { "Content-Type": lines, ...bearer(key) }, body: ndjson(events) });
  assert.equal((await post(ann.key, [call("b1"), ...notes(9)])).status, 200);
  assert.equal((await post(ann.key, notes(10))).status, 429);
  assert.equal((await post(ben.key, notes(10))).status, 200);
  assert.equal((await post(ben.key, notes(10))).status, 429);
  await daemon.stop();

  const demo = await daemonFor(t, { store: undefined, command: "demo", words: ["--speed", "60", "--log", demoDay, ...limited(1, 1)] });
  await until(async () => Number(/^boutwire_log_events (\d+)/m.exec(await demo.get("/metrics"))[1]) > 100, "a hundred events");
  assert.match(await demo.get("/metrics"), /^boutwire_inputs_total\{outcome="too_fast"\} 0$/m);
});

test("the speed is changed by SIGHUP while it runs", async (t) => {
  const config = join(temporaryFolder(), "boutwire.conf");
  writeFileSync(config, "event_rate = 1\nevent_burst = 10\n");
  const daemon = await daemonFor(t, { words: ["--config", config], env: { BOUTWIRE_EVENT_RATE: undefined } });
  assert.equal((await daemon.postText(ndjson([call("b1"), ...notes(50)]), lines)).status, 200);
  assert.equal((await daemon.postText(ndjson(notes(50)), lines)).status, 429);
  writeFileSync(config, "event_rate = 0\nevent_burst = 10\n");
  daemon.child.kill("SIGHUP");
  await until(() => daemon.errors.includes("the settings are read again"), "the new settings");
  assert.equal((await daemon.postText(ndjson(notes(50)), lines)).status, 200);
});

test("a rehearsal waits when it is told to, and comes out whole and in order", async (t) => {
  const log = demoDay;
  const daemon = await daemonFor(t, { words: [...limited(100, 20), "--public-minors"] });
  const { code, errors } = await run(["rehearse", "--exact", "--quiet", "--to", `127.0.0.1:${daemon.port}`, log]);
  assert.equal(code, 0, errors);
  const metrics = await daemon.get("/metrics");
  assert.match(metrics, /outcome="too_fast"\} [1-9]/);
  assert.match(metrics, /^boutwire_log_events 1091$/m);
});

test("a viewer has a hundred messages a minute, who works here any number", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const { key } = await makeKey(store, "table");
  const daemon = await Daemon.start({ store });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const table = await Line.openWith(daemon, key);
  const viewer = await Line.open(daemon, "day/follow");
  for (let i = 0; i < 400; i++) for (const line of [table, viewer]) line.say({ clock: { t0_ms: i } });
  await table.find(({ clock }) => clock?.t0_ms === 399, "the last answer");
  assert.equal((await within(viewer.closed, "a close")).code, 1008);
  checkProblem(viewer.heard.items.at(-1).problem, { type: "too-fast", status: 429, detail: "100 messages a minute" });
  await table.close();
});

test("the last places are kept for who works here", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const { key } = await makeKey(store, "table");
  const daemon = await Daemon.start({ store, words: ["--connections", "48", "--trusted-proxy", "127.0.0.1"] });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const outside = { "X-Forwarded-For": "192.0.2.7" };
  const from = { socketUrl: `ws://127.0.0.1:${daemon.port}/ws`, socketOptions: { headers: outside } };
  const viewers = [];
  for (let i = 0; i < 45; i++) viewers.push(await Line.open(from, "day/follow"));
  const late = await Line.greet(from, { hello: {} });
  late.say({ subscribe: [{ topic: "day/follow" }] });
  assert.equal((await within(late.closed, "a close")).code, 1013);
  checkProblem(late.heard.items.at(-1).problem, { type: "full", status: 503 });
  const stream = await daemon.ask("/sse/day/follow", { headers: outside });
  assertProblem(stream, { type: "full", status: 503 });
  assert.equal(stream.headers["retry-after"], "30");
  const table = await Line.greet(from, { hello: { key } }, "mat/A/table");
  for (const line of viewers.splice(-2)) await line.close();
  await until(async () => {
    const line = await Line.greet(from, { hello: {} });
    line.say({ subscribe: [{ topic: "day/follow" }] });
    line.clock().catch(() => {});
    const { topic, problem } = await line.find((message) => message.topic || message.problem, "an answer");
    if (topic) await line.close();
    return !problem;
  }, "a place for a viewer again");
  for (const line of [table, ...viewers]) await line.close();
});

test("who takes nothing is cut off with the reason, and hears it when it reads again", async () => {
  const server = await startServer({ unsent: 2, queue: 200000 });
  const socket = new WebSocket(`ws://127.0.0.1:${server.port}/ws`);
  const closed = new Promise((resolve) => socket.on("close", (code, reason) => resolve([code, String(reason)])));
  await new Promise((resolve) => socket.on("open", resolve));
  socket.send("flood 1000000 1000");
  await new Promise((resolve) => socket.once("message", resolve));
  socket.pause();
  await until(async () => (await server.counts()).slow === 1, "to be cut off");
  socket.resume();
  assert.deepEqual(await within(closed, "a close"), [1013, "nothing was taken for 2 seconds"]);
  const { code, errors } = await server.stop();
  assert.equal(code, 0, errors);
});

test("who only follows is pinged, and given up, later", async () => {
  const server = await startServer({ ping: 1, "give-up": 3, "patient-ping": 4, "patient-give-up": 60 });
  const open = async (first) => {
    const socket = new WebSocket(`ws://127.0.0.1:${server.port}/ws`, { autoPong: false });
    const one = { socket, pings: 0 };
    socket.on("ping", () => one.pings++);
    one.closed = new Promise((resolve) => socket.on("close", resolve));
    await new Promise((resolve) => socket.on("open", resolve));
    socket.send(first);
    return one;
  };
  const patient = await open("patient");
  const working = await open("hello");
  await within(working.closed, "it to be given up");
  assert.ok(working.pings >= 2 && patient.pings <= 2, `${working.pings} and ${patient.pings}`);
  assert.equal(patient.socket.readyState, WebSocket.OPEN);
  patient.socket.send("still here");
  await new Promise((resolve) => patient.socket.once("message", resolve));
  patient.socket.close();
  await patient.closed;
  const { code, errors } = await server.stop();
  assert.equal(code, 0, errors);
});
