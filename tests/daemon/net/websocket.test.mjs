// WebSockets: the handshake, messages and their limits, closing, and clients that don't read.
// Codes by RFC 6455 7.4.1; what a handshake must hold by 4.2.1; fragments by 5.4.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { BINARY, CLOSE, CONTINUATION, PING, PONG, Raw, RawWebSocket, TEXT, handshake, request, startServer, until, within } from "./raw.mjs";

let server;
let port;
before(async () => {
  server = await startServer({ message: 65536, queue: 262144 });
  port = server.port;
});
after(async () => {
  const { code, errors } = await server.stop();
  assert.equal(code, 0, errors);
});

const closes = async (socket, code, reason) => {
  for (;;) {
    const got = await socket.message();
    if (got.opcode !== CLOSE) continue;
    assert.equal(got.code, code, got.reason);
    if (reason !== undefined) assert.equal(got.reason, reason);
    socket.send(CLOSE, got.bytes); // the answer that the server waits for
    await socket.raw.end();
    return got;
  }
};

test("the handshake: subprotocol, with and without; no extension is agreed to", async () => {
  for (const [offered, agreed] of [["boutwire.v1", "boutwire.v1"], ["other, boutwire.v1", "boutwire.v1"], [null, undefined]]) {
    const socket = await RawWebSocket.open(port, { "Sec-WebSocket-Protocol": offered, "Sec-WebSocket-Extensions": "permessage-deflate" });
    assert.equal(socket.head.headers["sec-websocket-protocol"], agreed);
    assert.equal(socket.head.headers["sec-websocket-extensions"], undefined);
    assert.equal(await socket.ask("hello"), "hello");
    socket.destroy();
  }
});

test("a handshake that isn't one is answered, in words", async () => {
  for (const [headers, status, path] of [
    [{ Origin: "http://elsewhere.example" }, 403], [{ Origin: "null" }, 403], [{ Origin: `http://127.0.0.1:${port}.elsewhere.example` }, 403],
    [{ Origin: "http://127.0.0.1" }, 403], [{ "Sec-WebSocket-Version": "8" }, 426], [{ "Sec-WebSocket-Version": null }, 426],
    [{ "Sec-WebSocket-Key": null }, 400], [{ "Sec-WebSocket-Key": "short" }, 400], [{ Connection: "keep-alive" }, 400], [{ Connection: null }, 400],
    [{ "Sec-WebSocket-Protocol": "other" }, 400], [{ Upgrade: "h2c" }, 400], [{ Host: null }, 400], [{}, 404, "/elsewhere"], [{}, 404, "/api/ws"],
  ]) {
    const raw = await Raw.open(port);
    raw.write(handshake(port, headers, path));
    const answer = await raw.answer();
    assert.equal(answer.status, status, JSON.stringify([headers, path]));
    assert.equal(answer.headers["content-type"], "application/problem+json");
    assert.equal(JSON.parse(answer.body).status, status);
    assert.equal((await raw.end()).length, 0);
    raw.destroy();
  }
  const raw = await Raw.open(port);
  raw.write(`GET /ws HTTP/1.1\r\nHost: x\r\n\r\n`);
  const answer = await raw.answer();
  assert.equal(answer.status, 426);
  assert.match(answer.text, /^upgrade: websocket\r$/im);
  raw.destroy();
});

test("a page of the same host is let in, whatever the capitals", async () => {
  for (const origin of [`http://127.0.0.1:${port}`, `https://127.0.0.1:${port}`, `HTTP://127.0.0.1:${port}`]) {
    const socket = await RawWebSocket.open(port, { Origin: origin });
    assert.equal(await socket.ask("in"), "in");
    socket.destroy();
  }
});

test("messages of every kind of length come back as they were", async () => {
  const socket = await RawWebSocket.open(port);
  for (const size of [0, 1, 125, 126, 127, 1023, 1024, 1025, 4096, 16383, 16384, 65535, 65536]) {
    const text = "ä".repeat(size >> 1) + "x".repeat(size & 1);
    assert.equal(await socket.ask(text), text, `${size} bytes`);
  }
  socket.destroy();
});

test("many messages in one write, and one message in many", async () => {
  const socket = await RawWebSocket.open(port);
  for (let i = 0; i < 500; i++) socket.send(TEXT, `message ${i}`);
  for (let i = 0; i < 500; i++) assert.equal((await socket.message()).text, `message ${i}`);
  socket.send(TEXT, "", { final: false });
  const text = "Grüße".repeat(50);
  for (const byte of Buffer.from(text)) socket.send(CONTINUATION, Buffer.of(byte), { final: false });
  socket.send(PING, "between fragments");
  socket.send(CONTINUATION, "", { final: true });
  const both = [await socket.message(), await socket.message()].sort((a, b) => a.opcode - b.opcode);
  assert.deepEqual(both.map((got) => [got.opcode, got.text]), [[TEXT, text], [PONG, "between fragments"]]);
  assert.equal(await socket.ask("and on"), "and on");
  socket.destroy();
});

test("1009: too large, in one frame, in fragments, and by what it announces", async () => {
  const one = await RawWebSocket.open(port);
  one.send(TEXT, "x".repeat(65537));
  await closes(one, 1009);
  const many = await RawWebSocket.open(port);
  many.send(TEXT, "x".repeat(40000), { final: false });
  many.send(CONTINUATION, "x".repeat(40000), { final: false });
  await closes(many, 1009);
  const huge = await RawWebSocket.open(port);
  const head = Buffer.from([0x81, 0xff, 0, 0, 0, 255, 0, 0, 0, 0, 0, 0, 0, 0]); // about a terabyte
  huge.raw.write(head);
  huge.raw.write(Buffer.alloc(200000, 120));
  assert.equal((await huge.message()).code, 1009);
  huge.destroy();
});

test("1003: binary; 1007: not UTF-8, wherever it is cut", async () => {
  const binary = await RawWebSocket.open(port);
  binary.send(BINARY, "{}");
  await closes(binary, 1003);
  for (const bytes of [[0xff], [0xc0, 0xaf], [0xe2, 0x82], [0xed, 0xa0, 0x80], [0xf4, 0x90, 0x80, 0x80], [0x61, 0x80]]) {
    const whole = await RawWebSocket.open(port);
    whole.send(TEXT, Buffer.from(bytes));
    await closes(whole, 1007);
    const cut = await RawWebSocket.open(port);
    cut.send(TEXT, Buffer.from(bytes.slice(0, 1)), { final: false });
    cut.send(CONTINUATION, Buffer.from(bytes.slice(1)), { final: true });
    await closes(cut, 1007);
    const long = await RawWebSocket.open(port);
    long.send(TEXT, Buffer.concat([Buffer.alloc(3000, 97), Buffer.from(bytes)]));
    await closes(long, 1007);
  }
  const good = await RawWebSocket.open(port);
  const euro = Buffer.from("€");
  good.send(TEXT, euro.subarray(0, 1), { final: false });
  good.send(CONTINUATION, euro.subarray(1), { final: true });
  assert.equal((await good.message()).text, "€");
  good.destroy();
});

test("1002: frames that no one may send", async () => {
  const rsv = await RawWebSocket.open(port);
  rsv.raw.write(Buffer.from([0xf1, 0x80, 1, 2, 3, 4]));
  await closes(rsv, 1002);
  const opcode = await RawWebSocket.open(port);
  opcode.send(3, "x");
  await closes(opcode, 1002);
  const continuation = await RawWebSocket.open(port);
  continuation.send(CONTINUATION, "x");
  await closes(continuation, 1002);
  const second = await RawWebSocket.open(port);
  second.send(TEXT, "x", { final: false });
  second.send(TEXT, "y");
  await closes(second, 1002);
});

test("the server closes with a code and a reason, after what it still had to say", async () => {
  const socket = await RawWebSocket.open(port);
  socket.send(TEXT, "big 300000");
  socket.send(TEXT, "close 4001 the reason why");
  assert.equal((await socket.message()).bytes.length, 300000);
  await closes(socket, 4001, "the reason why");
  const long = await RawWebSocket.open(port);
  long.send(TEXT, `close 1008 ${"x".repeat(80)}`);
  await closes(long, 1008, "x".repeat(80));
});

test("the client's close is answered with its code", async () => {
  const before = (await server.counts()).closed;
  const socket = await RawWebSocket.open(port);
  socket.send(CLOSE, Buffer.from([0x03, 0xe8, 0x62, 0x79, 0x65])); // 1000 "bye"
  const got = await socket.message();
  assert.equal(got.opcode, CLOSE);
  assert.equal(got.code, 1000);
  await socket.raw.end();
  await until(async () => (await server.counts()).closed > before, "closed");
});

test("a client that vanishes is told of, whatever it was doing", async () => {
  const before = await server.counts();
  const idle = await RawWebSocket.open(port);
  const within_message = await RawWebSocket.open(port);
  within_message.send(TEXT, "half", { final: false });
  const flooded = await RawWebSocket.open(port);
  flooded.raw.socket.pause();
  flooded.send(TEXT, "flood 1000 20000");
  await until(async () => (await server.counts()).refused > before.refused, "a full queue");
  const reset = await RawWebSocket.open(port);
  for (const socket of [idle, within_message, flooded]) socket.destroy();
  reset.raw.socket.resetAndDestroy();
  await until(async () => (await server.counts()).closed >= before.closed + 4, "four to be closed");
});

test("a large frame arrives whole", async () => {
  const socket = await RawWebSocket.open(port);
  for (const size of [200_000, 5_000_000]) {
    socket.send(TEXT, `big ${size}`);
    const got = await socket.message();
    assert.equal(got.bytes.length, size);
    assert.ok(got.bytes.every((byte, i) => byte === 97 + (i % 26)));
  }
  socket.destroy();
});

test("a client that stops reading: false, then drained, and nothing lost or doubled", async () => {
  const before = await server.counts();
  const slow = await RawWebSocket.open(port);
  slow.raw.socket.pause();
  slow.send(TEXT, "flood 2000 10000");
  await until(async () => (await server.counts()).refused > before.refused, "a full queue");
  const quick = await RawWebSocket.open(port); // others don't notice
  assert.equal(await quick.ask("still here?"), "still here?");
  slow.raw.socket.resume();
  for (let i = 0; i < 2000; i++) {
    const got = await slow.message();
    assert.equal(got.bytes.length, 10000, `frame ${i}`);
    assert.equal(got.bytes[0], 97);
  }
  assert.equal((await slow.message()).text, "flooded 2000");
  assert.ok((await server.counts()).drained > before.drained);
  slow.destroy();
  quick.destroy();
});

test("a client's pings in the middle of a large frame break nothing", async () => {
  const socket = await RawWebSocket.open(port);
  socket.raw.socket.pause();
  socket.send(TEXT, "flood 50 100000");
  for (let i = 0; i < 100; i++) socket.send(PING, `p${i}`);
  await until(async () => (await server.counts()).refused > 0, "a full queue");
  socket.raw.socket.resume();
  let frames = 0;
  for (;;) {
    const got = await socket.message();
    if (got.opcode === PONG) continue;
    if (got.text.startsWith("flooded")) break;
    assert.equal(got.bytes.length, 100000);
    assert.ok(got.bytes.every((byte, i) => byte === 97 + (i % 26)));
    frames++;
  }
  assert.equal(frames, 50);
  socket.destroy();
});

test("one frame for many clients is the same for each", async () => {
  const sockets = await Promise.all(Array.from({ length: 50 }, () => RawWebSocket.open(port)));
  const text = "to all of you ".repeat(20);
  const raw = await Raw.open(port);
  raw.write(`POST /api/all HTTP/1.1\r\nHost: x\r\nContent-Length: ${text.length}\r\n\r\n${text}`);
  assert.equal((await raw.answer()).status, 200);
  for (const socket of sockets) assert.equal((await socket.message()).text, text);
  for (const socket of sockets) socket.destroy();
});

for (const plain of [0, 1])
  test(`one frame for many, ${plain ? "by one send each" : "in batches"}: who doesn't read gets it later, whole and in order`, async () => {
    const own = await startServer({ plain, queue: 200000 });
    const sockets = await Promise.all(Array.from({ length: 300 }, () => RawWebSocket.open(own.port)));
    const deaf = sockets.slice(100, 104);
    for (const socket of deaf) socket.raw.socket.pause();
    deaf[0].send(PING, "in between");
    const text = (number) => `${number} `.padEnd(10000, "x");
    const told = async (socket) => {
      let got;
      do got = await socket.message(); while (got.opcode === PONG);
      return got.text;
    };
    let sent = 0;
    while ((await own.counts()).refused < deaf.length) {
      const body = text(sent++);
      await request(own.port, `POST /api/all HTTP/1.1\r\nContent-Length: ${body.length}`, body);
      for (const socket of sockets) if (!deaf.includes(socket)) assert.equal(await told(socket), body);
    }
    for (const socket of deaf) {
      socket.raw.socket.resume();
      let had = 0;
      for (let got = await told(socket); !got.startsWith("flooded"); got = await told(socket)) assert.equal(got, text(had++));
      assert.ok(had > 10 && had <= sent, "all until it was too slow, and none of what came then");
    }
    for (const socket of sockets) socket.destroy();
    const { code, errors } = await own.stop();
    assert.equal(code, 0, errors);
  });

test("the peer's address", async () => {
  const socket = await RawWebSocket.open(port);
  assert.equal(await socket.ask("address"), "127.0.0.1");
  socket.destroy();
});

test("pings come, who answers stays, who is silent is let go", async () => {
  const own = await startServer({ ping: 1, "give-up": 3 });
  const alive = await RawWebSocket.open(own.port);
  const silent = await RawWebSocket.open(own.port);
  const ended = silent.raw.end();
  let gone = false;
  ended.then(() => (gone = true));
  let pings = 0;
  while (!gone) {
    const got = await alive.next();
    assert.equal(got.opcode, PING);
    assert.equal(got.bytes.length, 4);
    alive.send(PONG, got.bytes);
    pings++;
  }
  assert.ok(pings >= 2);
  assert.equal(await alive.ask("still here?"), "still here?");
  alive.destroy();
  silent.destroy();
  assert.equal((await own.stop()).code, 0);
});

test("who only looks on is pinged less often, and may be silent for longer", async () => {
  const own = await startServer({ ping: 1, "give-up": 2, "patient-ping": 2, "patient-give-up": 8 });
  const working = await RawWebSocket.open(own.port);
  const patient = await RawWebSocket.open(own.port);
  patient.send(TEXT, "patient");
  const order = [];
  await Promise.all([working.raw.end().then(() => order.push("working")), patient.raw.end().then((bytes) => {
    order.push("patient");
    const pings = bytes.length / 6; // each has four bytes
    assert.ok(pings >= 1 && pings <= 5, `${pings} pings`);
  })]);
  assert.deepEqual(order, ["working", "patient"]);
  working.destroy();
  patient.destroy();
  assert.equal((await own.stop()).code, 0);
});

test("a client that never takes what waits for it is let go, though it says things", async () => {
  const own = await startServer({ ping: 1, "give-up": 2 });
  const deaf = await RawWebSocket.open(own.port);
  deaf.raw.socket.pause();
  deaf.send(TEXT, "flood 2000 10000");
  await until(async () => (await own.counts()).refused > 0, "a full queue");
  const talking = setInterval(() => deaf.send(PONG, "x"), 100);
  try {
    await until(async () => (await own.counts()).closed === 1, "the deaf one to be let go");
  } finally {
    clearInterval(talking);
  }
  deaf.destroy();
  assert.equal((await own.stop()).code, 0);
});

test("the daemon's close doesn't wait for ever for who doesn't answer", async () => {
  const before = (await server.counts()).closed;
  const socket = await RawWebSocket.open(port);
  socket.send(TEXT, "close 4000 go");
  assert.equal((await socket.message()).code, 4000);
  await until(async () => (await server.counts()).closed > before, "closed");
  await within(socket.raw.end(), "the end");
  socket.destroy();
});
