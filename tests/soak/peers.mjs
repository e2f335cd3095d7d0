// Clocks that are stepped, processes that stand still, peers that are slow, gone, or come all at
// once. `make test` does these small, `make soak` at full length.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { randomBytes } from "node:crypto";
import { performance } from "node:perf_hooks";
import WebSocket from "ws";
import { Connection } from "../../overlay/lib/connection.js";
import { frame, handshake, TEXT } from "../daemon/net/raw.mjs";
import { call, clock, note, score } from "../support/bouts.mjs";
import { compiled } from "../support/compiled.mjs";
import { Crowd } from "../support/crowd.mjs";
import { Line } from "../support/listeners.mjs";
import { readOpenMetrics, valueOf } from "../support/openmetrics.mjs";
import { rows } from "../support/program.mjs";
import { until, within } from "../support/wait.mjs";

/** A value of the daemon's metrics. */
export async function measured(daemon, name, labels) {
  return valueOf(readOpenMetrics(await daemon.get("/metrics")), name, labels);
}

/** A bout whose clock was started, and how long it must have run by a clock that nobody steps. */
export class RunningBout {
  static async start(daemon, id = "runs", more = {}) {
    const bout = new RunningBout();
    Object.assign(bout, { daemon, id });
    await daemon.post(call(id, more));
    const from = performance.now();
    await daemon.post(clock(id, "start"));
    bout.started = [from, performance.now()];
    return bout;
  }

  /** The daemon's clock of the bout says what has really gone by. */
  async assertRight(what) {
    const asked = performance.now();
    const { clock: shown } = await this.daemon.bout(this.id);
    const [least, most] = [asked - this.started[1], performance.now() - this.started[0]];
    assert.ok(shown.running, what);
    const elapsed = shown.elapsed_ms;
    assert.ok(elapsed >= least - 2 && elapsed <= most + 2, `${what}: ${elapsed} of ${least}–${most}`);
  }

  /** The log is in the order in which it was keyed, with times that go on, none of them more apart
   *  than has really gone by. */
  async assertOrder(what) {
    const events = rows(await this.daemon.log(this.id));
    const times = events.map(({ at }) => Date.parse(at));
    assert.deepEqual(events.map(({ seq }) => seq), events.map((_, i) => events[0].seq + i), what);
    for (const [i, at] of times.entries()) assert.ok(i === 0 || at >= times[i - 1], `${what}: ${times}`);
    const gone_ms = performance.now() - this.started[0];
    assert.ok(times.at(-1) - times[1] <= gone_ms + 2, `${what}: ${times}`);
  }
}

/** A page's own line, as desks have it, in this process. */
export function pageLine({ host, port }, audience = "desk") {
  const line = new Connection({
    audience,
    address: `ws://${host}:${port}/ws`,
    makeSocket: (url) => Object.assign(new WebSocket(url, "boutwire.v1"), { onerror: () => {} }),
  });
  const states = new Map();
  return Object.assign(line, {
    states,
    watch: (topic) => line.follow(topic, (state) => states.set(topic, state)),
  });
}

/** Faults 8: the daemon stands still for so long, while a clock runs and pages are open. */
export async function assertStandsStill(daemon, seconds) {
  const bout = await RunningBout.start(daemon);
  const line = await Line.open(daemon, "mat/A/table");
  const page = pageLine(daemon);
  page.watch("mat/A/table");
  await until(() => page.connected && page.states.size > 0, "the page's line");
  daemon.child.kill("SIGSTOP");
  await new Promise((resume) => setTimeout(resume, seconds * 1000)); // the fault itself
  daemon.child.kill("SIGCONT");
  await bout.assertRight("after it stood still");
  const seq = await daemon.post(score("runs", "red", 2));
  await line.state("mat/A/table", ({ bout: shown }) => shown.seq === seq);
  await until(
    () => page.connected && page.trust === "sure" && page.states.get("mat/A/table").bout.seq === seq,
    "the page to have it",
  );
  await bout.assertRight("after an event");
  await bout.assertOrder("after it stood still");
  page.close();
  await line.close();
}

/** A client that asks for much, and takes a byte every so many milliseconds, or nothing (0). */
export class SlowReader {
  static async open(daemon, topic, times, pause_ms) {
    const reader = new SlowReader();
    reader.child = spawn(compiled("tests/daemon/shims/slow_reader.c"), [daemon.port, pause_ms], {
      stdio: ["pipe", "pipe", "inherit"],
    });
    const said = new Promise((resolve) => {
      let text = "";
      reader.child.stdout.setEncoding("utf8").on("data", (piece) => {
        text += piece;
        if (text.includes("reading")) resolve();
      });
      reader.closed = new Promise((done) => reader.child.on("close", () => done(text)));
    });
    const key = randomBytes(16).toString("base64");
    reader.child.stdin.write(handshake(daemon.port, { "Sec-WebSocket-Key": key }));
    const wish = JSON.stringify({ subscribe: [{ topic }] });
    for (let i = 0; i < times; i++) reader.child.stdin.write(frame(TEXT, wish));
    reader.child.stdin.end();
    await within(said, "the slow reader");
    return reader;
  }

  end() {
    this.child.kill("SIGKILL");
  }
}

/** Faults 9: clients that take a byte a second, or nothing, while others follow. */
export async function assertSlowReaders(daemon) {
  await daemon.post(call("slow", { mat: "S" }));
  for (let i = 0; i < 10; i++)
    await daemon.postAll(
      Array.from({ length: 100 }, (_, n) => note("slow", `${i} ${n} ${"x".repeat(240)}`, "booth")),
    );
  const quick = await Line.open(daemon, "mat/S/booth");
  const slow = await Promise.all([0, 1000].map((ms) => SlowReader.open(daemon, "mat/S/booth", 40, ms)));
  try {
    await until(async () => (await measured(daemon, "boutwire_held_back")) >= 2, "their queues to be full");
    for (let i = 0; i < 20; i++) {
      const seq = await daemon.post(note("slow", `while others are slow ${i}`, "booth"));
      await quick.state("mat/S/booth", ({ bout }) => bout.seq === seq);
    }
    // They can't be told: what they haven't read stands before any end.
    await until(
      async () =>
        (await measured(daemon, "boutwire_cut_offs", { reason: "slow" })) === 2 &&
        (await measured(daemon, "boutwire_connections", { audience: "anyone" })) === 1,
      "both to be let go",
    );
  } finally {
    for (const reader of slow) reader.end();
  }
  await quick.clock(); // the quick one is still there
  await quick.close();
}

/** Faults 10: everybody's line breaks at once, and everybody comes back, while a table keys. */
export async function assertStorm(daemon, count, { rounds = 2, limit_ms = 60000 } = {}) {
  await daemon.post(call("storm", { mat: "S" }));
  const table = await Line.open(daemon, "mat/S/table");
  const url = `ws://${daemon.host}:${daemon.port}/ws`;
  const crowd = new Crowd({ url, topic: "mat/S/follow" });
  let longest_ms = 0;
  try {
    await crowd.grow(count, limit_ms);
    for (let round = 0; round < rounds; round++) {
      crowd.breakAll();
      const start = performance.now();
      for (let i = 0; i < 10; i++) {
        const event = score("storm", "red", 1);
        const from = table.heard.items.length;
        table.say({ event });
        assert.ok((await table.answer(event.id, from)).ack, "keying goes on");
      }
      const { seq } = await daemon.topic("mat/S/follow");
      await crowd.allAt(seq, limit_ms);
      longest_ms = Math.max(longest_ms, performance.now() - start);
    }
    assert.equal(crowd.sum("gaps"), 0, "nobody has a gap");
    assert.equal(crowd.sum("begun"), count, "and nobody had to begin anew");
  } finally {
    await crowd.end();
    await table.close();
  }
  return `${count} were back within ${Math.round(longest_ms)} ms`;
}

/** Faults 11: the line goes silent without an end. Both ends notice. `cut` makes it so. */
export async function assertHalfOpen(daemon, through, cut) {
  await daemon.post(call("half", { mat: "H" }));
  const page = pageLine(through);
  page.watch("mat/H/table");
  await until(() => page.connected, "the page's line");
  const there = () => measured(daemon, "boutwire_connections", { audience: "anyone" });
  const silent = () => measured(daemon, "boutwire_cut_offs", { reason: "silent" });
  assert.equal(await there(), 1);
  const before = await silent();
  const start = performance.now();
  const noticed = {};
  cut();
  await Promise.all([
    until(() => !page.connected, "the page to notice").then(
      () => (noticed.page = Math.round(performance.now() - start)),
    ),
    until(async () => (await there()) === 0, "the daemon to notice").then(
      () => (noticed.daemon = Math.round(performance.now() - start)),
    ),
  ]);
  page.close();
  assert.equal(await silent(), before + 1, "for its silence");
  return `page ${noticed.page} ms, daemon ${noticed.daemon} ms`;
}
