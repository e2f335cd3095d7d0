// What goes wrong in a hall, made to happen to a real daemon. The numbers are those of docs/faults.md,
// which also says where the others are tested. At full length: make soak.
import assert from "node:assert/strict";
import { performance } from "node:perf_hooks";
import { describe, test } from "node:test";
import {
  assertHalfOpen,
  assertSlowReaders,
  assertStandsStill,
  assertStorm,
  measured,
  RunningBout,
} from "../soak/peers.mjs";
import { call, score } from "../support/bouts.mjs";
import { assertProblem, checkProblem, daemonFor } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { CuttableProxy } from "../support/proxy.mjs";
import { within } from "../support/wait.mjs";
import { CLOSE, Raw, RawWebSocket, TEXT } from "./net/raw.mjs";
import { SteppedClock } from "./shims/stepped-clock.mjs";

test("fault 7: the system clock is set by an hour, back and forth, during a period", async (t) => {
  const system = new SteppedClock();
  system.step(3600);
  const ahead = await daemonFor(t, { env: system.env });
  const line = await Line.open(ahead, "out/main");
  const off_ms = (await line.clock()).t1_ms - Date.now();
  assert.ok(Math.abs(off_ms - 3600000) < 60000, `this daemon has that clock: ${off_ms}`);
  await line.close();
  await ahead.stop();

  system.step(0);
  const daemon = await daemonFor(t, { env: system.env });
  const bout = await RunningBout.start(daemon);
  const heard = await Line.open(daemon, "mat/A/table");
  const beats = () => heard.heard.items.flatMap(({ beat }) => (beat ? [Date.parse(beat.now)] : []));
  for (const seconds of [-3600, 3600, -1, 0]) {
    system.step(seconds);
    await bout.assertRight(`${seconds} s`);
    const seq = await daemon.post(score("runs", "red", 1));
    await heard.state("mat/A/table", ({ bout: shown }) => shown.seq === seq);
    const { length } = beats();
    await heard.find(() => beats().length > length, "a beat", heard.heard.items.length);
    await bout.assertRight(`${seconds} s, later`);
  }
  await bout.assertOrder("stepped");
  assert.deepEqual(beats(), beats().slice().sort((a, b) => a - b), "its time goes on");
  assert.ok(beats().at(-1) - beats()[0] < performance.now() - bout.started[0]);

  // Started again with the clock an hour back: the log's times go on from the last.
  await heard.close();
  await daemon.stop();
  system.step(-3600);
  const again = await daemonFor(t, { store: daemon.store, env: system.env });
  bout.daemon = again;
  await again.post(score("runs", "blue", 1));
  await bout.assertOrder("after a restart in the past");
});

describe("those that take their time", { concurrency: true }, () => {
  test("fault 8: stopped for a while, then on again", async (t) =>
    assertStandsStill(await daemonFor(t), 4));

  test("fault 9: a client that takes a byte a second, and one that takes nothing", async (t) =>
    assertSlowReaders(await daemonFor(t)));

  test("fault 11: a line that is cut without a word is noticed at both ends", async (t) => {
    const daemon = await daemonFor(t);
    const proxy = await CuttableProxy.open(daemon);
    t.after(() => proxy.close());
    await assertHalfOpen(daemon, proxy, () => proxy.freeze());
  });

  test("fault 15: who takes their time with a handshake, a head or a body is let go", async (t) => {
    const daemon = await daemonFor(t);
    const host = `Host: ${daemon.host}:${daemon.port}\r\n`;
    const peers = {
      "says nothing": "",
      "half a head": `GET /healthz HTTP/1.1\r\n${host}`,
      "half a handshake": `GET /ws HTTP/1.1\r\n${host}Upgrade: websocket\r\nConnection: Upgrade\r\n`,
      "half a body": `POST /api/v1/events HTTP/1.1\r\n${host}Content-Type: application/json\r\nContent-Length: 400\r\n\r\n{`,
    };
    const drops = { "half a head": "x", "half a handshake": "X-A: b\r\n", "half a body": " " };
    const ends = Object.entries(peers).map(async ([what, text]) => {
      const raw = await Raw.open(daemon.port);
      if (text) raw.write(text);
      const dropping = setInterval(() => raw.write(drops[what] ?? ""), 1000); // never quite silent
      await within(raw.end(), `${what} to be let go`, 30000).finally(() => clearInterval(dropping));
      raw.destroy();
    });
    const mute = await RawWebSocket.open(daemon.port); // opens, and never says what it wants
    const close = await within(mute.message(), "the mute one to be let go", 30000);
    assert.deepEqual([close.opcode, close.code], [CLOSE, 1008]);
    mute.destroy();
    await Promise.all(ends);
    assert.equal((await daemon.ask("/readyz")).status, 200);
  });

  test("fault 10: five hundred lose their line at once, and come back", async (t) =>
    t.diagnostic(await assertStorm(await daemonFor(t), 500)));
});

test("fault 20: out of file descriptors it refuses who comes, and keeps who is there", async (t) => {
  const daemon = await daemonFor(t, { wrapper: ["sh", "-c", 'ulimit -n 64; exec "$@"', "sh"] });
  await daemon.post(call("few"));
  const line = await Line.open(daemon, "mat/A/table");
  const held = [];
  t.after(() => held.forEach((raw) => raw.destroy()));
  for (let i = 0; i < 80; i++) held.push(await Raw.open(daemon.port)); // the kernel takes them all
  for (let i = 0; i < 5; i++) {
    const event = score("few", "red", 1);
    const from = line.heard.items.length;
    line.say({ event });
    const { ack } = await line.answer(event.id, from);
    assert.equal(ack?.id, event.id, "keying goes on");
    await line.state("mat/A/table", ({ bout }) => bout.seq === ack.seq);
  }
  held.splice(0).forEach((raw) => raw.destroy());
  assert.equal((await daemon.ask("/readyz")).status, 200, "and it takes others again");
  assert.ok((await measured(daemon, "boutwire_shortages")) > 0);
  assert.match(daemon.errors, /level=warning message="[^"]+" reason="no new client/);
  await line.close();
});

test("fault 19: two tables key one mat at once: one order, once each, both see it", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("two"));
  const tables = await Promise.all([0, 1].map(() => Line.open(daemon, "mat/A/table")));
  const same = score("two", "red", 2);
  const sent = tables.map(() => Array.from({ length: 30 }, () => score("two", "blue", 1)));
  for (let i = 0; i < 30; i++)
    for (const [n, table] of tables.entries()) {
      table.say({ event: sent[n][i] });
      if (i === 15) table.say({ event: same }); // both, under one id
    }
  const seqs = new Map();
  for (const [n, table] of tables.entries())
    for (const { id } of [...sent[n], same]) {
      const { ack } = await table.answer(id);
      assert.ok((seqs.get(id) ?? ack.seq) === ack.seq, `${id} has one number`);
      seqs.set(id, ack.seq);
    }
  assert.equal(seqs.size, 61);
  assert.deepEqual([...seqs.values()].sort((a, b) => a - b), Array.from({ length: 61 }, (_, i) => i + 2));
  for (const [n] of tables.entries()) {
    const own = sent[n].map(({ id }) => seqs.get(id));
    assert.deepEqual(own, own.slice().sort((a, b) => a - b), "each table's in the order in which it sent them");
  }
  const states = await Promise.all(
    tables.map((table) => table.state("mat/A/table", ({ bout }) => bout.seq === 62)),
  );
  assert.deepEqual(states[0], states[1]);
  assert.deepEqual(states[0].bout.score, { red: 2, blue: 60 });
  for (const table of tables) await table.close();
});

/** JSON that is meant to hurt: what it is, how it is written, which problem it must be. */
const HOSTILE = [
  ["arrays a hundred thousand deep", `${"[".repeat(1e5)}${"]".repeat(1e5)}`, "not-json"],
  ["objects in objects", `${'{"a":'.repeat(5e4)}1${"}".repeat(5e4)}`, "not-json"],
  ["depth inside an event", `{"id":"x","type":"note","bout":"h","text":${"[".repeat(3000)}${"]".repeat(3000)}}`, "not-json"],
  ["a member twice", '{"id":"x","id":"y","type":"note","bout":"h","text":"a","to":"public"}', "not-json"],
  ["a member twice, deep inside", '{"id":"x","type":"bout","red":{"name":"a","name":"b"}}', "not-json"],
  ["a number beyond every double", '{"id":"x","type":"score","bout":"h","points":1e400}', "not-json"],
  ["a number of a thousand digits", `{"id":"x","type":"score","bout":"h","points":${"9".repeat(1000)}}`, "not-json"],
  ["a number with a hundred thousand digits behind its point", `{"id":"x","type":"score","bout":"h","side":"red","action":"takedown","points":2.${"0".repeat(1e5)}1}`, "member-type"],
  ["a zero byte, escaped", '{"id":"x\\u0000y","type":"note","bout":"h","text":"a","to":"public"}', "not-json"],
  ["a zero byte", '{"id":"x\0y","type":"note","bout":"h","text":"a","to":"public"}', "not-json"],
  ["a zero byte behind it", '{"id":"x","type":"note","bout":"h","text":"a","to":"public"}\0', "not-json"],
  ["half a surrogate pair", '{"id":"x","type":"note","bout":"h","text":"\\ud800","to":"public"}', "not-json"],
  ["a hundred thousand members", `{${Array.from({ length: 1e5 }, (_, i) => `"${i.toString(36)}":0`).join(",")}}`, undefined],
  ["a text of nearly a million letters", `{"id":"x","type":"note","bout":"h","to":"public","text":"${"a".repeat(1e6)}"}`, "member-value"],
  ["nothing but a brace", "{", "not-json"],
];

test("fault 17: hostile JSON is refused with its reason, and harms nobody", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("h"));
  const before = await daemon.log("h");
  const table = await Line.open(daemon, "mat/A/table");
  for (const [what, text, type] of HOSTILE) {
    const answer = await daemon.postText(text);
    assert.ok([400, 422].includes(answer.status), `${what}: ${answer.status} ${answer.body.slice(0, 200)}`);
    const problem = JSON.parse(answer.body);
    assertProblem(answer, { status: answer.status, type: type ?? problem.type.slice("/problem/".length) });
    assert.ok(answer.body.length < 1000, `${what}: the answer is short`);
    const lines = await daemon.postText(`${text.replaceAll("\n", " ")}\n`, "application/x-ndjson");
    assert.equal(lines.status, answer.status, `${what}, as one of many: ${lines.body.slice(0, 200)}`);
    await table.clock(); // others are served between
  }
  for (const [what, text, type] of HOSTILE) {
    const line = await RawWebSocket.open(daemon.port);
    line.send(TEXT, `{"event":${text}}`);
    const got = await line.message();
    if (text.length > 65000) assert.deepEqual([got.opcode, got.code], [CLOSE, 1009], what);
    else if (got.opcode !== CLOSE) {
      const { problem } = JSON.parse(got.text);
      checkProblem(problem, { status: problem.status, type: type ?? "member-unknown" });
      assert.ok([400, 422].includes(problem.status), what);
    }
    line.destroy();
  }
  assert.equal(await daemon.log("h"), before, "nothing of it was taken");
  await table.close();
});
