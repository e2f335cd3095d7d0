// Starting, what can be in the way, and stopping while clients are there. net_echo exits 0 only
// when everything was given back; under the sanitizers a leak makes it exit otherwise.
import assert from "node:assert/strict";
import { readdir } from "node:fs/promises";
import { test } from "node:test";
import WebSocket from "ws";
import { CLOSE, Raw, RawWebSocket, TEXT, request, startServer, until, within } from "./raw.mjs";

test("an address that is taken, or isn't ours, is told of", async () => {
  const first = await startServer();
  await assert.rejects(startServer({ port: first.port }), /EADDRINUSE/);
  await assert.rejects(startServer({ host: "192.0.2.1" }), /EADDRNOTAVAIL/);
  await assert.rejects(startServer({ host: "no.such.host.invalid" }), /EADDRNOTAVAIL/);
  assert.equal((await first.stop()).code, 0);
});

test("IPv6 and names", async () => {
  for (const host of ["::1", "localhost"]) {
    const server = await startServer({ host });
    assert.ok(server.port > 0);
    assert.equal((await server.stop()).code, 0);
  }
});

test("stopping with nobody there", async () => {
  const server = await startServer();
  assert.equal((await server.stop()).code, 0);
});

test("stopping while clients of every kind are there", async () => {
  const server = await startServer();
  const open = async (text) => {
    const raw = await Raw.open(server.port);
    raw.write(text);
    return raw;
  };
  const socket = await RawWebSocket.open(server.port);
  const rude = await RawWebSocket.open(server.port); // never answers a close
  const deaf = await RawWebSocket.open(server.port);
  deaf.raw.socket.pause();
  deaf.send(TEXT, "flood 1000 20000");
  const events = await open("GET /sse/x HTTP/1.1\r\nHost: x\r\n\r\n");
  await events.head();
  const text = await open("GET /text/x HTTP/1.1\r\nHost: x\r\n\r\n");
  await text.head();
  const silent = await open("");
  const half = await open("GET /api/ec");
  const body = await open("POST /api/echo HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\nabc");
  const never = await open("GET /api/never HTTP/1.1\r\nHost: x\r\n\r\n");
  const later = await open("GET /api/later?ms=300 HTTP/1.1\r\nHost: x\r\n\r\n");
  const large = await open("GET /api/size?n=50000000 HTTP/1.1\r\nHost: x\r\n\r\n");
  large.socket.pause();
  await until(async () => {
    const counts = await server.counts();
    return counts.refused > 0 && counts.streams === 2 && counts.requests >= 5;
  }, "all to be there");
  const ended = server.stop();
  const close = await socket.message();
  assert.equal(close.opcode, CLOSE);
  assert.equal(close.code, 1001);
  socket.send(CLOSE, close.bytes);
  assert.equal((await rude.message()).code, 1001);
  assert.equal((await later.answer()).body, "later"); // what was asked is still answered
  for (const raw of [socket.raw, events, text, silent, half, body, never]) await raw.end();
  const { code, errors } = await ended;
  assert.equal(code, 0, errors);
  for (const raw of [socket.raw, rude.raw, deaf.raw, events, text, silent, half, body, never, later, large]) raw.destroy();
});

test("nobody new comes in while it stops", async () => {
  const server = await startServer();
  const rude = await RawWebSocket.open(server.port); // makes stopping take its time
  const ended = server.stop();
  await rude.message();
  await assert.rejects(Raw.open(server.port), /ECONNREFUSED/);
  assert.equal((await ended).code, 0);
  rude.destroy();
});

test("another's WebSocket gets along with ours", async () => {
  const server = await startServer();
  const socket = new WebSocket(`ws://127.0.0.1:${server.port}/ws`, ["boutwire.v1"]);
  const once = (name) => within(new Promise((resolve) => socket.once(name, (...all) => resolve(all))), name);
  await once("open");
  assert.equal(socket.protocol, "boutwire.v1");
  assert.equal(socket.extensions, "");
  socket.send("hello");
  assert.equal(String((await once("message"))[0]), "hello");
  socket.ping("are you there");
  assert.equal(String((await once("pong"))[0]), "are you there");
  socket.send("close 4002 enough");
  const [code, reason] = await once("close");
  assert.equal(code, 4002);
  assert.equal(String(reason), "enough");
  assert.equal((await server.stop()).code, 0);
});

test("out of file descriptors: who is there stays, who comes waits, and nothing spins", async () => {
  const server = await startServer({ files: 40 });
  const held = [];
  const stays = await RawWebSocket.open(server.port);
  for (let i = 0; i < 60; i++) held.push(await Raw.open(server.port)); // the kernel accepts them all
  const files = async () => (await readdir(`/proc/${server.child.pid}/fd`)).length;
  await until(async () => (await files()) >= 40, "the limit");
  assert.equal(await stays.ask("still here?"), "still here?");
  await until(() => server.errors().includes("too many open files"), "the complaint");
  for (const raw of held) raw.destroy();
  assert.equal((await request(server.port, "GET /healthz HTTP/1.1")).status, 200);
  assert.equal(await stays.ask("and now?"), "and now?");
  stays.destroy();
  assert.equal((await server.stop()).code, 0);
});

test("a server that stood still for longer than its patience lets go of nobody who is there", async (t) => {
  const server = await startServer({ ping: 1, "give-up": 2 });
  t.after(() => server.child.kill("SIGKILL"));
  const socket = new WebSocket(`ws://127.0.0.1:${server.port}/ws`, ["boutwire.v1"]);
  const once = (name) => within(new Promise((resolve) => socket.once(name, (...all) => resolve(all))), name);
  await once("open");
  t.after(() => socket.terminate());
  const closed = new Promise((resolve) => socket.once("close", (code) => resolve(`closed: ${code}`)));
  const stream = await Raw.open(server.port);
  stream.write("GET /sse/x HTTP/1.1\r\nHost: x\r\n\r\n");
  await stream.text("hello");
  for (let i = 0; i < 2; i++) {
    server.child.kill("SIGSTOP");
    await new Promise((resume) => setTimeout(resume, 3000)); // the fault itself
    server.child.kill("SIGCONT");
    assert.equal(await Promise.race([once("ping").then(() => "pinged"), closed]), "pinged");
    socket.send(`still ${i}`);
    assert.equal(await Promise.race([once("message").then(([text]) => String(text)), closed]), `still ${i}`);
  }
  assert.ok(!stream.ended);
  stream.destroy();
  socket.close();
  assert.equal((await server.stop()).code, 0);
});
