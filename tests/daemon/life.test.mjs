// How a daemon begins and ends, and what its service manager hears: sd_notify(3), systemd 252, and
// the orderly end of practice (stop accepting, 503, 1001, spread, a hard deadline).
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { randomUUID } from "node:crypto";
import { readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call, score } from "../support/bouts.mjs";
import { assertProblem, bearer, Daemon, daemonFor, makeKey } from "../support/daemon.mjs";
import { Line, Reading, Stream } from "../support/listeners.mjs";
import { NotifySocket } from "../support/notify.mjs";
import { ndjson, program, root, rows, run, temporaryFolder } from "../support/program.mjs";
import { until, within } from "../support/wait.mjs";
import { CLOSE, Raw, RawWebSocket } from "./net/raw.mjs";
import { FaultyDisk } from "./shims/faulty-disk.mjs";

const newStore = () => join(temporaryFolder(), "day.sqlite");

async function earFor(t, name) {
  const ear = await NotifySocket.open(name);
  t.after(() => ear.close());
  return ear;
}

for (const [kind, makeName] of [
  ["a path", () => join(temporaryFolder(), "notify")],
  ["an abstract name", () => `@boutwire-test-${randomUUID()}`],
])
  test(`its manager hears when it is ready and when it stops, at ${kind}`, async (t) => {
    const store = newStore();
    const first = await daemonFor(t, { store });
    await first.postAll([call("a"), score("a", "red", 2)]);
    await first.stop();
    const ear = await earFor(t, makeName());
    const daemon = await daemonFor(t, { store, env: { NOTIFY_SOCKET: ear.name } });
    const ready = await ear.find("READY");
    assert.equal(ready.READY, "1");
    assert.equal((await daemon.ask("/readyz")).status, 200);
    assert.equal((await daemon.bout("a")).score.red, 2, "the log has been read");
    assert.equal((await ear.find("STATUS")).STATUS, "2 events of 1 bouts");
    assert.ok(!ear.has("STOPPING") && !ear.has("WATCHDOG"));
    await daemon.stop();
    assert.equal((await ear.find("STOPPING")).STOPPING, "1");
  });

test("an address that can't be told is said, and it runs all the same", async (t) => {
  for (const name of ["relative", "@", `/${"x".repeat(200)}`]) {
    const daemon = await daemonFor(t, { store: newStore(), env: { NOTIFY_SOCKET: name } });
    assert.match(daemon.errors, /NOTIFY_SOCKET is no address/, name);
    await daemon.stop();
  }
  const nobody = join(temporaryFolder(), "nobody"); // a manager that has gone
  const daemon = await daemonFor(t, { store: newStore(), env: { NOTIFY_SOCKET: nobody } });
  await daemon.post(call("a"));
  await daemon.stop();
});

test("the watchdog hears of it while the loop turns and the disk isn't stuck", async (t) => {
  const store = newStore();
  const ear = await earFor(t, join(temporaryFolder(), "notify"));
  const disk = new FaultyDisk({ files: `${store}-wal`, calls: "sync", from: 1, error: "HANG" });
  const env = { ...disk.env, NOTIFY_SOCKET: ear.name, WATCHDOG_USEC: "400000" };
  const daemon = await daemonFor(t, { store, env });
  t.after(() => disk.disarm());
  const alive = async (from) => (await ear.find("WATCHDOG", from)).place;
  let place = 0;
  for (let i = 0; i < 3; i++) place = (await alive(place)) + 1;

  // The loop stands still: two beats of a watchdog that would kill it pass without a word.
  daemon.child.kill("SIGSTOP");
  const quiet = async () => {
    const before = ear.heard.items.length;
    await new Promise((resume) => setTimeout(resume, 800)); // as long as it would take to be noticed
    return ear.heard.items.slice(before).every((message) => !("WATCHDOG" in message));
  };
  await until(quiet, "silence while it is stopped");
  daemon.child.kill("SIGCONT");
  await alive(ear.heard.items.length);

  disk.arm();
  const waits = daemon.post(call("a"));
  await until(quiet, "silence while the disk is stuck");
  assert.equal((await daemon.ask("/healthz")).status, 200, "the loop does turn");
  disk.disarm();
  await waits;
  await alive(ear.heard.items.length);
  await daemon.stop();
});

test("a watchdog meant for another process isn't answered", async (t) => {
  const ear = await earFor(t, join(temporaryFolder(), "notify"));
  const env = { NOTIFY_SOCKET: ear.name, WATCHDOG_USEC: "20000", WATCHDOG_PID: "1" };
  const daemon = await daemonFor(t, { store: newStore(), env });
  for (let i = 0; i < 20; i++) await daemon.get("/healthz");
  await daemon.stop();
  await ear.find("STOPPING");
  assert.ok(!ear.has("WATCHDOG"));
});

test("a store that fails: not ready, said to the manager, and no reason to be restarted", async (t) => {
  const store = newStore();
  const ear = await earFor(t, join(temporaryFolder(), "notify"));
  const disk = new FaultyDisk({ files: `${store}-wal`, calls: "sync", from: 1, error: "EIO" });
  const env = { ...disk.env, NOTIFY_SOCKET: ear.name, WATCHDOG_USEC: "400000" };
  const daemon = await daemonFor(t, { store, env });
  disk.arm();
  assert.equal((await daemon.postText(JSON.stringify(call("a")))).status, 503);
  assertProblem(await daemon.ask("/readyz"), { status: 503, type: "stopped" });
  assert.equal((await daemon.ask("/healthz")).status, 200);
  await ear.heard.find(({ STATUS }) => /^no event is taken, .*disk/.test(STATUS ?? ""), "the status");
  await ear.find("WATCHDOG", ear.heard.items.length);
  await daemon.stop();
});

test("the unit file is one, and gives away little", async (t) => {
  const unit = readFileSync(join(root, "docs/boutwire.service"), "utf8");
  const lines = unit.split("\n").filter(Boolean);
  for (const line of lines) assert.match(line, /^(#.*|\[\w+\]|[A-Z]\w+=.*)$/, "systemd.syntax(7)");
  const sections = lines.filter((line) => line.startsWith("["));
  assert.deepEqual(sections, ["[Unit]", "[Service]", "[Install]"]);
  for (const wanted of ["Type=notify", "WatchdogSec=20s", "NoNewPrivileges=yes"])
    assert.ok(lines.includes(wanted), wanted);
  const analyze = (...words) =>
    spawnSync("systemd-analyze", words, { encoding: "utf8", env: { ...process.env, LC_ALL: "C" } });
  if (analyze("--version").error) return t.diagnostic("without systemd-analyze: the syntax alone");
  const copy = join(temporaryFolder(), "boutwire.service");
  writeFileSync(copy, unit.replace("/opt/boutwire/build/boutwire", program));
  const { status, stdout, stderr } = analyze("verify", copy);
  assert.deepEqual([status, stdout, stderr], [0, "", ""]);
  const { stdout: level } = analyze("security", "--offline=true", copy);
  assert.match(level, /Overall exposure level for boutwire.service: [01]\.\d OK/);
  return undefined;
});

/** A request whose last bytes are still to come. */
async function halfPost(daemon, event) {
  const body = JSON.stringify(event);
  const raw = await Raw.open(daemon.port);
  raw.write(
    `POST /api/v1/events HTTP/1.1\r\nHost: ${daemon.host}:${daemon.port}\r\n` +
      `Content-Type: application/json\r\nContent-Length: ${body.length}\r\n\r\n${body.slice(0, -1)}`,
  );
  return { raw, finish: () => raw.write(body.slice(-1)) };
}

/** Until the daemon has got so far: no more connections are taken. */
const refusing = (daemon) =>
  until(
    () =>
      Raw.open(daemon.port).then(
        (raw) => raw.destroy(),
        () => true,
      ),
    "connections to be refused",
  );

test("the orderly end: not ready, nobody new, all answered, everybody told", async (t) => {
  const store = newStore();
  const daemon = await daemonFor(t, { store, words: ["--drain-seconds", "60"] });
  await daemon.post(call("a"));
  const [table, follow] = [
    await Line.open(daemon, "mat/A/table"),
    await Line.open(daemon, "mat/A/follow"),
  ];
  const stream = await Stream.open(daemon.url(), "mat/A/follow");
  stream.source.close(); // it would come back by itself; a stream without that:
  const events = await Reading.open(daemon, "/sse/mat/A/follow");
  const text = await Reading.open(daemon, "/text/A");
  const ready = await Raw.open(daemon.port);
  ready.write(`GET /readyz HTTP/1.1\r\nHost: ${daemon.host}\r\n`); // its end is still to come
  const late = score("a", "red", 2);
  const post = await halfPost(daemon, late);

  daemon.child.kill("SIGTERM");
  await refusing(daemon);
  assert.ok(daemon.isAlive());
  ready.write("\r\n");
  const answer = await ready.answer();
  assertProblem(answer, { status: 503, type: "draining" });
  for (const line of [table, follow])
    assert.deepEqual(await within(line.closed, "the close"), { code: 1001, reason: "the daemon stops" });
  for (const reading of [events, text])
    await assert.rejects(reading.grown.find(() => false, "more", reading.grown.items.length), /ended/);
  assert.ok(daemon.isAlive(), "it waits for the request that is under way");
  post.finish();
  const taken = await post.raw.answer();
  assert.deepEqual([taken.status, JSON.parse(taken.body)], [200, { id: late.id, seq: 2 }]);
  const { code } = await within(daemon.ended, "the end");
  assert.equal(code, 0, daemon.errors);

  const again = await daemonFor(t, { store });
  assert.deepEqual(rows(await again.log("a")).map(({ id }) => id).at(-1), late.id);
  await again.stop();
});

test("an event that waits for the disk is committed and answered before the end", async (t) => {
  const store = newStore();
  const disk = new FaultyDisk({ files: `${store}-wal`, calls: "sync", from: 1, error: "HANG" });
  const daemon = await daemonFor(t, { store, env: disk.env });
  t.after(() => disk.disarm());
  await daemon.post(call("a"));
  disk.arm();
  const event = score("a", "blue", 1);
  const waits = daemon.post(event);
  await until(() => disk.hasFailed, "the commit to begin");
  daemon.child.kill("SIGTERM");
  await refusing(daemon);
  assert.ok(daemon.isAlive());
  disk.disarm();
  assert.equal(await waits, 2);
  assert.equal((await within(daemon.ended, "the end")).code, 0);
});

test("viewers are let go first, who works here last", async (t) => {
  const store = newStore();
  const { key } = await makeKey(store, "table");
  const daemon = await daemonFor(t, { store });
  const sent = await daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...bearer(key) },
    body: JSON.stringify(call("a")),
  });
  assert.equal(sent.status, 200, sent.body);
  const order = [];
  const note = (name, line) => line.closed.then(() => order.push(name));
  const closed = [];
  const table = await Line.openWith(daemon, key, "mat/A/table");
  closed.push(note("table", table));
  for (let i = 0; i < 40; i++) closed.push(note("viewer", await Line.open(daemon, "mat/A/follow")));
  const screen = await Line.open(daemon, "out/main");
  closed.push(note("screen", screen));
  for (let i = 0; i < 40; i++) closed.push(note("viewer", await Line.open(daemon, "mat/A/follow")));
  await daemon.stop();
  await within(Promise.all(closed), "all to be closed");
  // Some viewers go with them at the end, and are heard to go before or after them.
  for (const name of ["screen", "table"]) assert.ok(order.indexOf(name) >= 50, `${order}`);
});

test("who doesn't answer, and who never finishes, doesn't keep it beyond its time", async (t) => {
  const daemon = await daemonFor(t, { words: ["--drain-seconds", "1"] });
  const rude = await RawWebSocket.open(daemon.port); // never answers a close
  const post = await halfPost(daemon, call("a"));
  daemon.child.kill("SIGTERM");
  const close = await rude.message();
  assert.deepEqual([close.opcode, close.code, close.reason], [CLOSE, 1001, "the daemon stops"]);
  assert.equal((await within(daemon.ended, "the end")).code, 0, daemon.errors);
  await post.raw.end();
  rude.destroy();
});

test("a second signal ends it at once", async (t) => {
  const daemon = await daemonFor(t, { words: ["--drain-seconds", "600"] });
  const rude = await RawWebSocket.open(daemon.port);
  const post = await halfPost(daemon, call("a")); // would keep it for ten minutes
  daemon.child.kill("SIGINT");
  await rude.message();
  await refusing(daemon);
  daemon.child.kill("SIGINT");
  assert.equal((await within(daemon.ended, "the end")).code, 0, daemon.errors);
  assert.match(daemon.errors, /message="stopping at once" signal=2/);
  await post.raw.end();
  rude.destroy();
});

/** A store in which a clock runs since long ago: a daemon keys that it is lost before it listens. */
async function storeWithLostClock() {
  const store = newStore();
  const at = "2026-01-05T10:00:00.000Z";
  const log = ndjson([
    { ...call("a"), at },
    { id: "go", type: "clock", bout: "a", do: "start", at },
  ]);
  const { code, errors } = await run(["import", "--store", store, "-"], { input: log });
  assert.equal(code, 0, errors);
  return store;
}

test("a signal before it listens ends it in order", async (t) => {
  const countOn = await storeWithLostClock();
  const counting = new FaultyDisk({ files: `${countOn}*`, calls: "sync", from: 0, error: "EIO" });
  const daemon = await daemonFor(t, { store: countOn, env: counting.arm().env });
  const before = counting.calls.length;
  await daemon.stop();

  const store = await storeWithLostClock();
  const disk = new FaultyDisk({ files: `${store}*`, calls: "sync", from: before, error: "HANG" });
  const starting = Daemon.starting({ store, env: disk.arm().env });
  t.after(() => starting.isAlive() && starting.kill());
  await until(() => disk.hasFailed, "the lost clock's commit to begin");
  starting.child.kill("SIGTERM");
  await until(() => /message="?stopping/.test(starting.errors), "the signal to be heard");
  disk.disarm();
  assert.equal((await within(starting.ended, "the end")).code, 0, starting.errors);
  assert.equal(starting.out, "", "it never listened");
});

test("SIGHUP reads the settings again, and drops nobody", async (t) => {
  const folder = temporaryFolder();
  const config = join(folder, "day.conf");
  const store = join(folder, "day.sqlite");
  const write = (...lines) => writeFileSync(config, lines.join("\n"));
  write("log_level = info", "drain_seconds = 600");
  const ear = await earFor(t, join(folder, "notify"));
  const env = { NOTIFY_SOCKET: ear.name };
  const daemon = await daemonFor(t, { store, env, words: ["--config", config, "--private"] });
  await daemon.post(call("a", { age_group: "u15" }));
  const line = await Line.open(daemon, "mat/A/follow", "mat/A/table");
  assert.equal(line.topics.get("mat/A/follow").state.withheld, "minors");
  const reload = async (wanted) => {
    const place = ear.heard.items.length;
    const before = process.hrtime.bigint();
    daemon.child.kill("SIGHUP");
    const reloading = await ear.find("RELOADING", place);
    const told_ns = BigInt(reloading.MONOTONIC_USEC) * 1000n; // sd_notify(3): CLOCK_MONOTONIC
    assert.ok(told_ns >= before - 1000n && told_ns <= process.hrtime.bigint(), "when it began");
    await ear.find("READY", reloading.place);
    await until(() => wanted.test(daemon.errors), () => `${wanted} in ${daemon.errors}`);
  };

  write("log_level = debug", "drain_seconds = 1", "public_minors = yes", "store = other.sqlite");
  await reload(/the settings are read again" changed=3\n/);
  for (const setting of ["log_level", "drain_seconds", "public_minors"])
    assert.match(daemon.errors, new RegExp(`level=info message="a setting has changed" setting=${setting}\n`));
  assert.doesNotMatch(daemon.errors, /restart only" setting=store/, "the option is stronger");
  await line.state("mat/A/follow", ({ withheld, bout }) => !withheld && bout);
  await daemon.post(score("a", "red", 1));
  await line.state("mat/A/table", ({ bout }) => bout.score.red === 1);

  write("private = no", "language = de", "log_level = debug", "drain_seconds = 1");
  await reload(/level=warning message="a setting is changed by a restart only" setting=language\n/);
  await line.state("mat/A/follow", ({ withheld }) => withheld === "minors");

  write("log_format = json", "public_minors = yes", "drain_seconds = soon");
  await reload(/nothing is changed" reason="\S+day.conf:3: drain_seconds: soon is no number [^"]+"\n/);
  assert.equal((await daemon.topic("mat/A/follow")).state.withheld, "minors", "nothing of it");
  rmSync(config);
  await reload(/nothing is changed" reason="\S+day.conf: No such file or directory"\n/);

  write("log_format = json", "log_level = info", "drain_seconds = 1");
  await reload(/^\{.*"message":"the settings are read again","changed":2\}$/m);
  assert.equal((await line.clock()).t0_ms > 0, true, "the same line all the time");
  assert.ok(daemon.errors.split("\n").every((said) => /^(at=|\{|$)/.test(said)), "nothing but log lines");
  await line.close();
});
