// Events as lines over TCP and over a socket in the file system: answers in order after the commit,
// keys, what is refused, what ends a connection, sockets left over, drain, the gallery's list.
import assert from "node:assert/strict";
import { existsSync, lstatSync, statSync, writeFileSync } from "node:fs";
import { connect, createServer } from "node:net";
import { join } from "node:path";
import { test } from "node:test";
import { call, clock, note, score } from "../support/bouts.mjs";
import { Daemon, checkProblem, makeKey } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { ndjson, rows, run, temporaryFolder } from "../support/program.mjs";
import { Growing, until, within } from "../support/wait.mjs";

/** One who sends lines, and hears the answers. */
class Talk {
  heard = new Growing();
  text = "";

  static async open(where) {
    const talk = new Talk();
    talk.socket = connect(where);
    talk.socket.setEncoding("utf8").on("data", (piece) => talk.#hear(piece));
    talk.socket.on("error", () => {});
    talk.socket.on("close", () => talk.heard.end("the connection closed"));
    talk.closed = new Promise((resolve) => talk.socket.on("close", resolve));
    await within(new Promise((resolve) => talk.socket.on("connect", resolve)), "a connection");
    return talk;
  }

  #hear(piece) {
    this.text += piece;
    for (let end; (end = this.text.indexOf("\n")) >= 0; this.text = this.text.slice(end + 1))
      this.heard.add(JSON.parse(this.text.slice(0, end)));
  }

  say(...messages) {
    this.socket.write(ndjson(messages));
  }

  /** The i-th answer, from 0. */
  async answer(i) {
    return (await this.heard.find(() => true, `answer ${i}`, i)).item;
  }

  /** All answers, once the connection has ended. */
  async all() {
    await within(this.closed, () => `the end: ${JSON.stringify(this.heard.items.slice(-2))}`);
    return this.heard.items;
  }
}

async function start(t, { words = [], folder = temporaryFolder(), key = false } = {}) {
  const store = join(folder, "day.sqlite");
  const path = join(folder, "lines");
  const made = key ? await makeKey(store, "table", "--name", "ann", "--mat", "A") : undefined;
  const daemon = await Daemon.start({
    store,
    words: ["--lines", "tcp:127.0.0.1:0", "--lines", `unix:${path}`, ...words],
  });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  await until(() => daemon.out.includes("unix:"), "all addresses");
  const port = Number(/^tcp:127\.0\.0\.1:(\d+) events as lines$/m.exec(daemon.out)[1]);
  return { daemon, port, path, store, folder, key: made?.key };
}

test("each line is answered by a line, in order and after its commit, over TCP and over a file", async (t) => {
  const { daemon, port, path } = await start(t);
  for (const [bout, where] of [["by-tcp", { port, host: "127.0.0.1" }], ["by-file", { path }]]) {
    const talk = await Talk.open(where);
    const events = [call(bout), clock(bout, "start"), { type: "nonsense", id: `${bout}-x` }, score(bout, "red", 2)];
    talk.say(...events);
    for (const [i, event] of events.entries()) {
      const answer = await talk.answer(i);
      if (i === 2) checkProblem(answer.problem, { type: "type", status: 422, line: 3, id: event.id });
      else assert.deepEqual(Object.keys(answer).sort().join(), "id,seq");
      assert.equal(answer.id ?? answer.problem.id, event.id);
    }
    const log = rows(await daemon.log(bout));
    assert.deepEqual(log.map(({ id }) => id), [0, 1, 3].map((i) => events[i].id));
    assert.deepEqual(log.map(({ seq }) => seq), [0, 1, 3].map((i) => talk.heard.items[i].seq));
    talk.say(events[0], { ...events[0], weight: "61" });
    assert.equal((await talk.answer(4)).seq, talk.heard.items[0].seq, "known: the same number");
    checkProblem((await talk.answer(5)).problem, { type: "id-reused", status: 409, line: 6 });
    talk.socket.end();
    await talk.all();
  }
});

test("whole days come through a pipe: pieces of any size, blank lines, no end at the end", async (t) => {
  const { daemon, path } = await start(t);
  const talk = await Talk.open({ path });
  const events = [call("b1"), ...Array.from({ length: 400 }, (_, i) => note("b1", `note ${i} é`, "booth"))];
  const text = Buffer.from(`\n${events.map((event) => JSON.stringify(event)).join("\r\n")}\r\n \n${JSON.stringify(note("b1", "the last"))}`);
  for (let at = 0, size = 1; at < text.length; at += size, size = (size * 7919) % 30011) {
    if (!talk.socket.write(text.subarray(at, at + size))) await new Promise((resolve) => talk.socket.once("drain", resolve));
  }
  talk.socket.end();
  const answers = await talk.all();
  assert.equal(answers.length, events.length + 1);
  assert.deepEqual(answers.slice(0, -1).map(({ id }) => id), events.map(({ id }) => id));
  assert.equal(rows(await daemon.log("b1")).length, events.length + 1);
});

test("where keys are needed the first line shows one; a file's mode is key enough", async (t) => {
  const { daemon, port, path, key } = await start(t, { key: true });
  const there = { port, host: "127.0.0.1" };
  const ann = await Talk.open(there);
  ann.say({ hello: { key } }, call("b1"), call("b2", { mat: "B" }));
  assert.deepEqual({ ...(await ann.answer(0)).hello, until: "" }, { role: "table", mat: "A", name: "ann", until: "" });
  assert.equal((await ann.answer(1)).seq, 1);
  checkProblem((await ann.answer(2)).problem, { type: "forbidden", status: 403, line: 3 });
  assert.equal(rows(await (await fetch(daemon.url("/api/v1/bouts/b1/events"), { headers: { Authorization: `Bearer ${key}` } })).text())[0].by, "ann");
  for (const [first, type] of [
    [call("b3"), "key-needed"],
    [{ hello: { key: "nobody's" } }, "key-unknown"],
  ]) {
    const talk = await Talk.open(there);
    talk.say(first, call("b4"));
    const answers = await talk.all();
    assert.equal(answers.length, 1, JSON.stringify(answers));
    checkProblem(answers[0].problem, { type, status: 401, line: 1 });
  }
  const silent = await Talk.open(there);
  const file = await Talk.open({ path });
  file.say(call("b5", { mat: "B" }));
  assert.equal((await file.answer(0)).id.startsWith("b5"), true);
  const later = await Talk.open({ path });
  later.say(call("b6"), { hello: { key } });
  await later.answer(0);
  assert.equal((await later.answer(1)).problem.status, 422, "a key comes with the first line");

  assert.equal((await run(["key", "revoke", "ann", "--store", daemon.store])).code, 0);
  checkProblem((await ann.all()).at(-1).problem, { type: "key-ended", status: 401 });
  checkProblem((await silent.all()).at(-1).problem, { type: "key-needed", status: 401 });
  assert.equal(file.socket.destroyed, false);
});

test("others reach lines by TCP only with keys, and in plain text only when that is said by name", async () => {
  const folder = temporaryFolder();
  const store = join(folder, "day.sqlite");
  const words = ["--lines", "tcp:0.0.0.0:0"];
  const bare = await Daemon.startInVain({ store, words });
  assert.equal(bare.code, 2);
  assert.match(bare.errors, /message="can't take lines" at=0\.0\.0\.0 port=0 reason="others reach this address, and no key opens/);
  await makeKey(store, "table");
  assert.match((await Daemon.startInVain({ store, words })).errors, /can't take lines.*without TLS/);
  const daemon = await Daemon.start({ store, words: [...words, "--plain-text-network"] });
  await daemon.stop();
});

test("what isn't a line ends the connection with the reason", async (t) => {
  const { daemon, path } = await start(t);
  const long = await Talk.open({ path });
  long.say(call("b1"));
  await long.answer(0);
  long.socket.write("x".repeat(70000));
  checkProblem((await long.all()).at(-1).problem, { type: "let-go", status: 408, detail: "a line of more than 65536 bytes" });
  const most = await Talk.open({ path });
  most.socket.write(`${JSON.stringify({ ...note("b1", "x"), text: "y".repeat(60000) }).padEnd(65536)}\n`);
  assert.equal((await most.answer(0)).problem.status, 422, "64 KiB are a line");
  most.socket.write("\xff\xfe{\n[]\n7\n{\n");
  for (let i = 1; i <= 4; i++) assert.equal((await most.answer(i)).problem.line, i + 1);
  const unended = await Talk.open({ path });
  unended.socket.write('{"id":');
  checkProblem((await unended.all()).at(-1).problem, { type: "let-go", detail: "a line that wasn't ended within 10 seconds", status: 408 });
  assert.ok(daemon.isAlive());
});

test("who doesn't read answers isn't read either, and is let go after ten seconds", async (t) => {
  const { daemon, path } = await start(t);
  await daemon.post(call("b1"));
  const talk = await Talk.open({ path });
  talk.socket.pause();
  const bad = `${JSON.stringify({ id: "x".repeat(60), type: "y".repeat(200) })}\n`.repeat(200);
  let stuck = false;
  for (let i = 0; i < 200 && !stuck; i++)
    stuck = !(talk.socket.write(bad) || (await Promise.race([new Promise((resolve) => talk.socket.once("drain", () => resolve(true))), new Promise((resolve) => setTimeout(() => resolve(false), 2000))])));
  assert.ok(stuck, "what it sends waits with it");
  await daemon.post(score("b1", "red", 2));
  const from = Date.now();
  await until(() => talk.socket.destroyed || Date.now() - from > 12000, "eleven seconds");
  talk.socket.resume();
  const answers = await talk.all();
  checkProblem(answers.at(-1).problem, { type: "let-go", status: 408, detail: "answers weren't read for 10 seconds" });
});

test("the gallery lists who sends lines, and cuts them off", async (t) => {
  const { daemon, path, port } = await start(t);
  const line = await Line.open(daemon, "gallery");
  const talk = await Talk.open({ path });
  const tcp = await Talk.open({ port, host: "127.0.0.1" });
  tcp.say(call("b1"));
  const state = await line.state("gallery", ({ connected }) => Object.keys(connected).length === 3);
  const [, file, second] = Object.keys(state.connected);
  assert.equal(state.connected[file].address, "this_machine");
  assert.equal(state.connected[second].role, "anyone");
  line.say({ cut: { connected: file } });
  checkProblem((await talk.all()).at(-1).problem, { type: "let-go", status: 408, detail: "cut off by the gallery" });
  await line.state("gallery", ({ connected }) => Object.keys(connected).length === 2);
  tcp.socket.end();
});

test("a socket that nobody listens to is replaced, a live one and any other file are not", async (t) => {
  const folder = temporaryFolder();
  const path = join(folder, "lines");
  const first = await start(t, { folder });
  assert.equal(statSync(path).mode & 0o777, 0o600);
  const other = (words) => Daemon.startInVain({ store: join(folder, "other.sqlite"), words });
  const live = await other(["--lines", `unix:${path}`]);
  assert.equal(live.code, 2);
  assert.match(live.errors, new RegExp(`can't take lines" at=${path} port=0 reason="somebody listens there already"`));
  assert.ok((await Talk.open({ path })) && existsSync(path), "the live one is as it was");
  await first.daemon.kill();
  assert.ok(lstatSync(path).isSocket(), "left over");
  const second = await start(t, { folder, words: ["--lines-mode", "0660"] });
  assert.equal(statSync(path).mode & 0o777, 0o660);
  const talk = await Talk.open({ path });
  talk.say(call("b1"));
  assert.equal((await talk.answer(0)).seq, 1);
  await second.daemon.stop();
  assert.ok(!existsSync(path), "removed at the end");
  writeFileSync(path, "a file");
  const file = await other(["--lines", `unix:${path}`]);
  assert.match(file.errors, /there is a file that isn't a socket/);
  assert.ok(existsSync(path));
  assert.match((await other(["--lines", `unix:${join(folder, "no", "folder")}`])).errors, /can't take lines/);
  for (const words of [["--lines", "7600"], ["--lines", "unix:"], ["--lines", `unix:/${"x".repeat(200)}`], ["--lines", "tcp:tls:a:1"], ["--lines-mode", "9"]])
    assert.equal((await run(["serve", ...words], { cwd: folder })).code, 2, words.join(" "));
});

test("a port that is taken is named", async (t) => {
  const taken = createServer();
  await new Promise((resolve) => taken.listen(0, "127.0.0.1", resolve));
  t.after(() => taken.close());
  const { port } = taken.address();
  const { code, errors } = await Daemon.startInVain({
    store: join(temporaryFolder(), "s"),
    words: ["--lines", `tcp:127.0.0.1:${port}`],
  });
  assert.equal(code, 2);
  assert.match(errors, new RegExp(`at=127\\.0\\.0\\.1 port=${port} reason="somebody listens there already"`));
});

test("at the daemon's end all that was sent is answered, then it says that it stops", async (t) => {
  const { daemon, path, port } = await start(t);
  const idle = await Talk.open({ path });
  const busy = await Talk.open({ port, host: "127.0.0.1" });
  const events = [call("b1"), ...Array.from({ length: 150 }, (_, i) => note("b1", `${i}`))];
  busy.say(...events);
  await busy.answer(0);
  daemon.child.kill("SIGTERM");
  const answers = await busy.all();
  checkProblem(answers.at(-1).problem, { type: "draining", status: 503 });
  assert.ok(answers.slice(0, -1).every(({ id }, i) => id === events[i].id));
  checkProblem((await idle.all()).at(-1).problem, { type: "draining", status: 503 });
  const { code } = await within(daemon.ended, "the end");
  assert.equal(code, 0, daemon.errors);
  const kept = (await run(["export", "--store", daemon.store])).out;
  for (const { id } of answers.slice(0, -1)) assert.ok(kept.includes(`"id":"${id}"`), id);
});

test("a store that can't be written is said on every line, and nothing is lost of what was answered", async (t) => {
  const { daemon, path } = await start(t);
  const talk = await Talk.open({ path });
  talk.say(...Array.from({ length: 20 }, (_, i) => call(`k${i}`)));
  await talk.answer(3);
  await daemon.kill();
  const answers = (await talk.all()).filter(({ seq }) => seq);
  const kept = rows((await run(["export", "--store", daemon.store])).out);
  for (const { id, seq } of answers) assert.equal(kept[seq - 1].id, id);
});
