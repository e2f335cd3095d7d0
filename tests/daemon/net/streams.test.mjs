// Event streams and streams of text: what they say, and that a client that leaves is noticed without
// the loop spinning (libwebsockets issue 2455).
import assert from "node:assert/strict";
import { readdir } from "node:fs/promises";
import { after, before, test } from "node:test";
import { EventSource } from "eventsource";
import { Raw, RawWebSocket, request, startServer, until, within } from "./raw.mjs";

let server;
let port;
before(async () => {
  server = await startServer();
  port = server.port;
});
after(async () => {
  const { code, errors } = await server.stop();
  assert.equal(code, 0, errors);
});

async function open(path, headers = "", at = port) {
  const raw = await Raw.open(at);
  raw.write(`GET ${path} HTTP/1.1\r\nHost: x\r\n${headers}\r\n`);
  return { raw, head: await raw.head() };
}
const post = (path, body = "") => request(port, `POST ${path} HTTP/1.1\r\nContent-Length: ${body.length}`, body);

test("an event stream: its head, Last-Event-ID, and what is sent to everyone", async () => {
  const { raw, head } = await open("/sse/mat/A/follow", "Last-Event-ID: e1-41\r\n");
  assert.equal(head.status, 200);
  assert.equal(head.headers["content-type"], "text/event-stream");
  assert.equal(head.headers["cache-control"], "no-store");
  assert.equal(head.headers["x-accel-buffering"], "no");
  assert.equal(head.headers["x-robots-tag"], "noindex, nofollow");
  assert.equal(head.headers["content-length"], undefined);
  assert.match(head.headers["content-security-policy"], /^default-src 'none'/);
  await raw.text("data: hello e1-41\n\n");
  for (let i = 0; i < 100; i++) await post("/api/all", `event ${i}`);
  for (let i = 0; i < 100; i++) assert.equal(await raw.text("\n\n"), `data: event ${i}\n\n`);
  raw.destroy();
});

test("a stream of text", async () => {
  const { raw, head } = await open("/text/A");
  assert.equal(head.headers["content-type"], "text/plain; charset=utf-8");
  assert.equal(head.headers["x-robots-tag"], "noindex, nofollow");
  await raw.text("hello -\n");
  await post("/api/all", "a line\n");
  assert.equal(await raw.text("\n"), "a line\n");
  raw.destroy();
});

test("streams end when the daemon ends them, after what they still had to get", async () => {
  const events = await open("/sse/x");
  const text = await open("/text/x");
  await post("/api/all", "the last");
  await post("/api/end");
  assert.match((await events.raw.end()).toString(), /data: the last\n\n$/);
  assert.match((await text.raw.end()).toString(), /the last$/);
});

test("an EventSource comes back by itself and says what it saw last", async () => {
  const source = new EventSource(`http://127.0.0.1:${port}/sse/mat/A`);
  const messages = [];
  const next = () => until(() => messages.shift(), "a message");
  source.onmessage = (message) => messages.push(message.data);
  assert.equal(await next(), "hello -");
  await post("/api/all", "one\nid: e1-7");
  assert.equal(await next(), "one");
  await post("/api/end");
  assert.equal(await next(), "hello e1-7");
  source.close();
});

test("a client that leaves is noticed at once, and an idle stream costs no CPU", async () => {
  const own = await startServer();
  const streams = [];
  for (let i = 0; i < 10; i++) {
    streams.push((await open("/sse/x", "", own.port)).raw);
    streams.push((await open("/text/x", "", own.port)).raw);
  }
  await until(async () => (await own.counts()).streams === 20, "twenty streams");
  // Ways to leave: FIN, RST, and FIN of one side alone.
  streams[0].socket.end();
  streams[1].socket.destroy();
  streams[2].socket.resetAndDestroy();
  streams[3].socket.end();
  await until(async () => (await own.counts()).closed === 4, "four to be noticed", 5000);
  // A loop that spins takes all of a second's CPU time; an idle one next to nothing. The bound is
  // a quarter, and the wait is long enough to tell, however slow the machine is.
  const before = (await own.counts()).cpu_ms;
  await new Promise((resume) => setTimeout(resume, 2000));
  const spent = (await own.counts()).cpu_ms - before;
  assert.ok(spent < 500, `${spent} ms of CPU time in two idle seconds`);
  for (const raw of streams) raw.destroy();
  await until(async () => (await own.counts()).closed === 20, "all to be noticed", 5000);
  assert.equal((await own.stop()).code, 0);
});

test("who leaves with something still to get is let go soon, and without spinning", async () => {
  for (const path of ["/sse/x", "/text/x", "/ws"]) {
    const own = await startServer({ "give-up": 20, queue: 20000 });
    const leaving = [];
    for (let i = 0; i < 4; i++) leaving.push(path === "/ws" ? (await RawWebSocket.open(own.port)).raw : (await open(path, "", own.port)).raw);
    for (const raw of leaving) raw.socket.pause();
    const text = "x".repeat(4000);
    const send = () => request(own.port, `POST /api/all HTTP/1.1\r\nContent-Length: ${text.length}`, text);
    await until(async () => {
      for (let i = 0; i < 25; i++) await Promise.all([send(), send(), send(), send()]);
      return (await own.counts()).refused >= 100;
    }, "full queues");
    const before = (await own.counts()).cpu_ms;
    for (const raw of leaving) raw.socket.end();
    const after = await until(async () => {
      const counts = await own.counts();
      return counts.closed === 4 && counts;
    }, "all to be noticed");
    // libwebsockets alone spins for five seconds first; we look twice a second.
    assert.ok(after.cpu_ms - before < 750, `${path}: ${after.cpu_ms - before} ms of CPU time`);
    for (const raw of leaving) raw.destroy();
    assert.equal((await own.stop()).code, 0);
  }
});

test("who sends anything on a stream is let go, and harms nobody", async () => {
  const before = (await server.counts()).closed;
  const { raw } = await open("/sse/x");
  raw.write("GET /api/echo HTTP/1.1\r\nHost: x\r\n\r\n");
  const other = await open("/sse/x");
  other.raw.write("POST /api/echo HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\n\r\nabc");
  await raw.end();
  await other.raw.end();
  const both = await Raw.open(port); // in one write with the request for the stream
  both.write("GET /sse/x HTTP/1.1\r\nHost: x\r\n\r\nPOST /api/echo HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\n\r\nabc");
  await both.end();
  await until(async () => (await server.counts()).closed === before + 3, "three to be let go");
});

test("a stream that isn't read: others go on, what waits is bounded, and it is let go", async () => {
  const own = await startServer({ "give-up": 2, queue: 100000 });
  const deaf = await open("/sse/x", "", own.port);
  deaf.raw.socket.pause();
  const good = await open("/sse/x", "", own.port);
  await good.raw.text("hello -\n\n");
  const text = "x".repeat(3000);
  const send = () => request(own.port, `POST /api/all HTTP/1.1\r\nContent-Length: ${text.length}`, text);
  await until(async () => {
    for (let i = 0; i < 50; i++) await send();
    for (let i = 0; i < 50; i++) await good.raw.text("\n\n");
    return (await own.counts()).closed === 1;
  }, "the deaf one to be let go");
  deaf.raw.destroy();
  good.raw.destroy();
  assert.equal((await own.stop()).code, 0);
});

test("an idle event stream gets a comment before any proxy cuts it", { timeout: 40000 }, async () => {
  const { raw } = await open("/sse/x");
  await raw.text("hello -\n\n");
  const comment = await within(raw.text("\n\n"), "a comment", 30000).catch(async () => raw.text("\n\n"));
  assert.equal(comment, ":\n\n");
  raw.destroy();
});

test("nothing is left open when all have gone", async () => {
  const own = await startServer();
  const files = async () => (await readdir(`/proc/${own.child.pid}/fd`)).length;
  await own.counts();
  const before = await files();
  for (let i = 0; i < 20; i++) {
    (await open("/sse/x", "", own.port)).raw.destroy();
    await request(own.port, "GET /api/echo HTTP/1.1");
  }
  await until(async () => (await files()) <= before, "the files to be closed");
  assert.equal((await own.stop()).code, 0);
});
