// TLS by certificate files: every way of reading and keying, big answers, slow readers, many at once,
// handshakes that stall, versions that are too old, and a certificate renewed while people listen.
// Sources: RFC 8446 (TLS 1.3), RFC 9325 3.1.1 (nothing older than TLS 1.2), RFC 8446 6.1
// (close_notify: an answer that ends without it might have been cut).
import assert from "node:assert/strict";
import { copyFileSync, writeFileSync } from "node:fs";
import { request } from "node:https";
import { connect } from "node:net";
import { join } from "node:path";
import { test } from "node:test";
import { connect as connectTls } from "node:tls";
import { call, clock, note, score } from "../support/bouts.mjs";
import { makeCertificate } from "../support/certificate.mjs";
import { Daemon } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { ndjson, rows, temporaryFolder } from "../support/program.mjs";
import { Growing, until, within } from "../support/wait.mjs";

/** A daemon with a plain address (the Daemon's own) and one by TLS. */
async function start(test, { words = [] } = {}) {
  const folder = temporaryFolder();
  const made = makeCertificate(folder, "first");
  const used = { certificate: join(folder, "used.pem"), key: join(folder, "used.key") };
  const use = ({ certificate, key }) => {
    copyFileSync(certificate, used.certificate);
    copyFileSync(key, used.key);
  };
  use(made);
  const daemon = await Daemon.start({
    store: join(folder, "day.sqlite"),
    listen: ["127.0.0.1:0", "tls:127.0.0.1:0"],
    words: ["--certificate", used.certificate, "--private-key", used.key, ...words],
  });
  test.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const port = Number(/^https:\/\/127\.0\.0\.1:(\d+)\/ /m.exec(daemon.out)[1]);
  const secure = (ca = made.pem) => ({
    socketUrl: `wss://127.0.0.1:${port}/ws`,
    socketOptions: { ca },
  });
  return { daemon, port, ca: made.pem, folder, used, use, secure };
}

/** One request: {status, headers, body, protocol}. */
function ask({ port, ca }, path, { method = "GET", headers = {}, body, ...more } = {}) {
  return within(
    new Promise((resolve, reject) => {
      const sizes = body === undefined ? {} : { "Content-Length": Buffer.byteLength(body) };
      const all = { ...sizes, ...headers };
      const options = { host: "127.0.0.1", port, ca, path, method, headers: all, agent: false, ...more };
      const sent = request(options, (answer) => {
        const pieces = [];
        const protocol = answer.socket.getProtocol();
        answer.on("data", (piece) => pieces.push(piece));
        answer.on("error", reject);
        answer.on("end", () => {
          const text = Buffer.concat(pieces).toString();
          resolve({ status: answer.statusCode, headers: answer.headers, body: text, protocol });
        });
      });
      sent.on("error", reject);
      sent.end(body);
    }),
    `${method} ${path}`,
  );
}

/** Reads a stream's text as it comes. */
function read({ port, ca }, path, test) {
  const pieces = new Growing();
  let text = "";
  const sent = request({ host: "127.0.0.1", port, ca, path, agent: false }, (answer) => {
    answer.setEncoding("utf8").on("data", (piece) => pieces.add((text += piece)));
    answer.on("end", () => pieces.end(answer.complete ? "ended" : "cut"));
    answer.on("error", () => pieces.end("broken"));
  });
  sent.on("error", (error) => pieces.end(error.message));
  sent.end();
  test.after(() => sent.destroy());
  return { until: (part) => pieces.find((all) => all.includes(part), `${part} in ${text}`), pieces };
}

const many = (bout, count, size) =>
  Array.from({ length: count }, (_, i) => note(bout, `${i} `.padEnd(size, "a fact of the day "), "booth"));

test("by 1.2 and 1.3: pages, keying, problems, topics, logs of a megabyte; nothing older", async (t) => {
  const server = await start(t);
  for (const version of ["TLSv1.2", "TLSv1.3"]) {
    const only = { minVersion: version, maxVersion: version };
    const page = await ask(server, "/table/", only);
    assert.equal(page.status, 200);
    assert.equal(page.protocol, version);
    assert.equal(page.headers.connection, "close");
    assert.equal(page.body, await server.daemon.get("/table/"));
    const bout = `by-${version}`;
    const key = (body, type) =>
      ask(server, "/api/v1/events", { method: "POST", headers: { "Content-Type": type }, body, ...only });
    assert.equal((await key(JSON.stringify(call(bout)), "application/json")).status, 200);
    assert.equal((await key("{}", "application/json")).status, 422);
    const notes = many(bout, 2400, 270);
    const taken = await key(ndjson(notes), "application/x-ndjson");
    assert.equal(taken.status, 200, taken.body);
    assert.equal(rows(taken.body).length, 2400);
    const log = await ask(server, `/api/v1/bouts/${bout}/events`, only);
    assert.ok(log.body.length > 600000, `${log.body.length}`);
    assert.equal(log.body, await server.daemon.log(bout));
  }
  const old = { minVersion: "TLSv1", maxVersion: "TLSv1.1", ciphers: "DEFAULT@SECLEVEL=0" };
  await assert.rejects(ask(server, "/healthz", old), /alert|protocol|version|hang up|disconnected/i);
  const plain = await new Promise((resolve) => {
    const socket = connect(server.port, "127.0.0.1", () => socket.write("GET /healthz HTTP/1.1\r\nHost: a\r\n\r\n"));
    let text = "";
    socket.on("data", (piece) => (text += piece));
    socket.on("error", () => {});
    socket.on("close", () => resolve(text));
  });
  assert.ok(!plain.includes("HTTP/1.1 200"), "no answer in plain text on an address by TLS");
});

test("event streams, text and WebSockets hear what is keyed, acknowledge it, and end in order", async (t) => {
  const server = await start(t);
  const line = await Line.open(server.secure(), "mat/A/table");
  const events = read(server, "/sse/mat/A/follow", t);
  const text = read(server, "/text/A", t);
  await events.until("event: state");
  const keyed = [call("b1"), clock("b1", "start"), score("b1", "red", 2)];
  for (const event of keyed) line.say({ event });
  for (const [i, { id }] of keyed.entries()) assert.equal((await line.answer(id)).ack.seq, i + 1);
  line.say({ event: { ...note("b1", "x".repeat(60000), "booth"), id: "long" } });
  assert.equal((await line.answer("long")).problem.pointer, "/text");
  await events.until("takedown");
  await text.until("\n");
  line.sayText("y".repeat(70000));
  assert.equal((await within(line.closed, "a close")).code, 1009);
  await server.daemon.stop();
  await assert.rejects(events.pieces.find(() => false, "the end", events.pieces.items.length), /^Error: ended/);
  await assert.rejects(text.pieces.find(() => false, "the end", text.pieces.items.length), /^Error: ended/);
});

test("snapshots of hundreds of kilobytes come whole; a reader that stops for a while has the newest", async (t) => {
  const server = await start(t);
  await server.daemon.post(call("b1"));
  await server.daemon.postAll(many("b1", 1500, 270));
  const slow = await Line.open(server.secure(), "mat/A/table");
  const quick = await Line.open(server.secure(), "mat/A/table");
  assert.ok(JSON.stringify(quick.topics.get("mat/A/table").state).length > 400000);
  slow.stopReading();
  for (let i = 0; i < 12; i++) await server.daemon.postAll(many("b1", 60, 270));
  const last = await server.daemon.topic("mat/A/table");
  const state = await quick.state("mat/A/table", last.seq);
  assert.deepEqual(state, last.state);
  slow.readOn();
  assert.deepEqual(await slow.state("mat/A/table", last.seq), last.state);
  for (const one of [slow, quick]) await one.close();
});

test("two hundred at once: each hears each change, over WebSockets and event streams", async (t) => {
  const server = await start(t);
  const lines = await Promise.all(
    Array.from({ length: 100 }, () => Line.open(server.secure(), "mat/A/follow")),
  );
  const streams = Array.from({ length: 100 }, () => read(server, "/sse/mat/A/follow", t));
  await Promise.all(streams.map((stream) => stream.until("event: state")));
  await server.daemon.post(call("b1"));
  for (let i = 0; i < 5; i++) await server.daemon.post(score("b1", "red", 2));
  const { seq, state } = await server.daemon.topic("mat/A/follow");
  for (const line of lines) assert.deepEqual(await line.state("mat/A/follow", seq), state);
  const { epoch } = await server.daemon.topic("mat/A/follow");
  await Promise.all(streams.map((stream) => stream.until(`id: ${epoch}-${seq}`)));
  await Promise.all(lines.map((line) => line.close()));
});

/** The name in the certificate that a new connection gets. */
const nameAt = (port) =>
  within(
    new Promise((resolve, reject) => {
      const socket = connectTls({ port, host: "127.0.0.1", rejectUnauthorized: false }, () => {
        resolve(socket.getPeerCertificate().subject.CN);
        socket.destroy();
      });
      socket.on("error", reject);
    }),
    "a handshake",
  );

test("SIGHUP takes up a renewed certificate without dropping anybody; a broken one changes nothing", async (t) => {
  const server = await start(t);
  const { daemon, port, folder, used, use } = server;
  const line = await Line.open(server.secure(), "mat/A/table");
  const events = read(server, "/sse/mat/A/follow", t);
  await events.until("event: state");
  const said = (words) => until(() => daemon.errors.includes(words), words);
  assert.equal(await nameAt(port), "first");

  use(makeCertificate(folder, "second"));
  assert.equal(await nameAt(port), "first", "only when it is told to");
  daemon.child.kill("SIGHUP");
  await said("the certificate is read again");
  assert.equal(await nameAt(port), "second");

  const third = makeCertificate(folder, "third");
  writeFileSync(used.certificate, "no certificate\n");
  daemon.child.kill("SIGHUP");
  await said("the certificate is no good, the old one stays");
  assert.equal(await nameAt(port), "second");

  copyFileSync(third.certificate, used.certificate); /* with the second's key */
  daemon.child.kill("SIGHUP");
  await until(() => daemon.errors.split("the old one stays").length === 3, "a second complaint");
  assert.match(daemon.errors, /used\.key: key values mismatch/);
  assert.equal(await nameAt(port), "second");

  await daemon.post(call("b1"));
  await line.state("mat/A/table", ({ bout }) => bout !== undefined);
  await events.until("Brandt");
  await line.close();
});

test("a certificate that can't be used stops the start, with the reason", async () => {
  const folder = temporaryFolder();
  const good = makeCertificate(folder, "good");
  const other = makeCertificate(folder, "other");
  const locked = makeCertificate(folder, "locked", "-passout", "pass:secret");
  const files = (certificate, key) => ["--certificate", certificate, "--private-key", key];
  for (const [words, said] of [
    [[], /TLS needs a certificate and its private key/],
    [["--certificate", good.certificate], /TLS needs a certificate and its private key/],
    [files(join(folder, "none.pem"), good.key), /none\.pem: no such file or directory/],
    [files(good.certificate, join(folder, "none.key")), /none\.key: no such file or directory/],
    [files(good.certificate, other.key), /other\.key: key values mismatch/],
    [files(good.key, good.key), /good\.key: no start line/],
    [files(locked.certificate, locked.key), /locked\.key: /],
  ]) {
    const { code, errors } = await Daemon.startInVain({
      store: join(folder, "day.sqlite"),
      listen: ["tls:127.0.0.1:0"],
      words,
    });
    assert.equal(code, 2, errors);
    assert.match(errors, /message="can't listen"/);
    assert.match(errors, said);
    assert.doesNotMatch(errors, /Sanitizer/);
  }
});

test("a handshake that stalls is ended, and so is a request that never comes after it", async (t) => {
  const server = await start(t);
  const closed = (socket) => new Promise((resolve) => socket.on("close", resolve).on("error", () => {}));
  const silent = connect(server.port, "127.0.0.1");
  const half = connect(server.port, "127.0.0.1", () => half.write(Buffer.from("160301020001", "hex")));
  const shaken = connectTls({ port: server.port, host: "127.0.0.1", ca: server.ca });
  for (const socket of [silent, half, shaken]) socket.resume();
  await Promise.all([silent, half, shaken].map(closed));
  assert.equal((await ask(server, "/healthz")).status, 200);
});
