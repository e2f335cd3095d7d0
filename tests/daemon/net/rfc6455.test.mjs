// RFC 6455's rules, case by case, sent by a client that may break them. The section stands first in
// each case's name. What a case must give is what comes back, frame by frame: {text}, {pong}, or
// {code} of a close frame, after which the server must have closed its side.
// The same rules at every cut of the bytes: tests/unit/test_reader.c.
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { after, before, test } from "node:test";
import { makeCertificate } from "../../support/certificate.mjs";
import { temporaryFolder } from "../../support/program.mjs";
import {
  BINARY, CLOSE, CONTINUATION, PING, PONG, Raw, RawWebSocket, TEXT, frame, handshake, startServer, until,
} from "./raw.mjs";

const MESSAGE_MAX = 65536;
let server;
let secure;
let port;
before(async () => {
  const { certificate, key } = makeCertificate(temporaryFolder(), "hall");
  server = await startServer({ message: MESSAGE_MAX });
  secure = await startServer({ message: MESSAGE_MAX, certificate, "private-key": key });
  port = server.port;
});
after(async () => {
  for (const one of [server, secure]) {
    const { code, errors } = await one.stop();
    assert.equal(code, 0, errors);
  }
});

const more = { final: false };
const last = { final: true };
const text = (payload, options) => frame(TEXT, payload, options);
const continued = (payload, options) => frame(CONTINUATION, payload, options);
const closing = (code, reason = "") => {
  const bytes = Buffer.alloc(2 + Buffer.byteLength(reason));
  bytes.writeUInt16BE(code);
  bytes.write(reason, 2);
  return frame(CLOSE, bytes);
};
const hex = (bytes) => Buffer.from(bytes.replaceAll(" ", ""), "hex");
/** Bytes as they stand, each in a write of its own. */
const oneByOne = (bytes) => [...bytes].map((byte) => Buffer.of(byte));
/** A frame's head with a length written in so many bytes, whatever it is. */
const head = (opcode, length, bytes) => {
  const result = Buffer.alloc(2 + bytes + 4);
  result[0] = 0x80 | opcode;
  result[1] = 0x80 | (bytes === 2 ? 126 : 127);
  if (bytes === 2) result.writeUInt16BE(length, 2);
  else result.writeBigUInt64BE(BigInt(length), 2);
  return result;
};
const ofSize = (size) => "x".repeat(size);
const euro = Buffer.from("€");

const cases = [
  // 5.2: what a frame may look like
  ...[0, 1, 125, 126, 127, 65535, 65536].map((size) => ["5.2", `a message of ${size} bytes`, [text(ofSize(size))], [{ text: ofSize(size) }]]),
  ["5.2", "125 written in two more bytes", [head(TEXT, 125, 2)], [{ code: 1002 }]],
  ["5.2", "0 written in two more bytes", [head(TEXT, 0, 2)], [{ code: 1002 }]],
  ["5.2", "126 written in eight more bytes", [head(TEXT, 126, 8)], [{ code: 1002 }]],
  ["5.2", "65535 written in eight more bytes", [head(TEXT, 65535, 8)], [{ code: 1002 }]],
  ["5.2", "the first bit of an eight-byte length", [hex("81 ff 8000000000000001 00000000")], [{ code: 1002 }]],
  ...[0x40, 0x20, 0x10, 0x70].map((bits) => ["5.2", `reserved bits ${bits.toString(16)}`, [Buffer.of(0x81 | bits, 0x80, 0, 0, 0, 0)], [{ code: 1002 }]]),
  ["5.2", "a reserved bit of a control frame", [hex("c9 80 00000000")], [{ code: 1002 }]],
  ["5.2", "a reserved bit of a continuation", [text("a", more), hex("c0 80 00000000")], [{ code: 1002 }]],
  ...[3, 4, 5, 6, 7, 11, 12, 13, 14, 15].map((opcode) => ["5.2", `opcode ${opcode}`, [frame(opcode, "x")], [{ code: 1002 }]]),
  ["5.2", "a wrong frame behind a good one: the good one counts", [text("good"), frame(3, "x")], [{ text: "good" }, { code: 1002 }]],
  // 5.1: a client masks every frame
  ["5.1", "a text without a mask", [text("hello", { masked: false })], [{ code: 1002 }]],
  ["5.1", "an empty text without a mask", [text("", { masked: false })], [{ code: 1002 }]],
  ["5.1", "a ping without a mask", [frame(PING, "x", { masked: false })], [{ code: 1002 }]],
  ["5.1", "a pong without a mask", [frame(PONG, "x", { masked: false })], [{ code: 1002 }]],
  ["5.1", "a close without a mask", [frame(CLOSE, Buffer.of(3, 0xe8), { masked: false })], [{ code: 1002 }]],
  ["5.1", "a continuation without a mask", [text("a", more), continued("b", { masked: false })], [{ code: 1002 }]],
  ["5.3", "a mask of zeros is a mask", [Buffer.concat([hex("81 85 00000000"), Buffer.from("Hello")])], [{ text: "Hello" }]],
  ["5.7", "the RFC's masked text", [hex("81 85 37fa213d 7f9f4d5158")], [{ text: "Hello" }]],
  ["5.7", "the RFC's masked text, a byte at a time", oneByOne(hex("81 85 37fa213d 7f9f4d5158")), [{ text: "Hello" }]],
  ["5.7", "the RFC's masked ping", [hex("89 85 37fa213d 7f9f4d5158")], [{ pong: "Hello" }]],
  // 5.4: fragments
  ["5.4", "two fragments", [text("Hel", more), continued("lo", last)], [{ text: "Hello" }]],
  ["5.4", "empty fragments around", [text("", more), continued("", more), continued("x", more), continued("", last)], [{ text: "x" }]],
  ["5.4", "all fragments empty", [text("", more), continued("", last)], [{ text: "" }]],
  ["5.4", "65536 fragments of one byte", [Buffer.concat([text("x", more), ...Array(MESSAGE_MAX - 2).fill(continued("x", more)), continued("x", last)])], [{ text: ofSize(MESSAGE_MAX) }]],
  ["5.4", "a ping and a pong between fragments", [text("a", more), frame(PING, "p"), continued("b", more), frame(PONG, "q"), continued("c", last)], [{ pong: "p" }, { text: "abc" }]],
  ["5.4", "a close between fragments", [text("a", more), closing(1000), continued("b", last)], [{ code: 1000 }]],
  ["5.4", "a continuation of nothing", [continued("x", last)], [{ code: 1002 }]],
  ["5.4", "a continuation of nothing, that goes on", [continued("x", more)], [{ code: 1002 }]],
  ["5.4", "a continuation after the end", [text("a"), continued("b", last)], [{ text: "a" }, { code: 1002 }]],
  ["5.4", "a text within a message", [text("a", more), text("b")], [{ code: 1002 }]],
  ["5.4", "binary within a message", [text("a", more), frame(BINARY, "b")], [{ code: 1002 }]],
  // 5.5: control frames
  ["5.5", "a ping of 125 bytes", [frame(PING, ofSize(125))], [{ pong: ofSize(125) }]],
  ["5.5", "a ping of 126 bytes", [frame(PING, ofSize(126))], [{ code: 1002 }]],
  ["5.5", "a pong of 126 bytes", [frame(PONG, ofSize(126))], [{ code: 1002 }]],
  ["5.5", "a close of 126 bytes", [closing(1000, ofSize(124))], [{ code: 1002 }]],
  ["5.5", "a ping in fragments", [frame(PING, "a", more), continued("b", last)], [{ code: 1002 }]],
  ["5.5", "a close in fragments", [frame(CLOSE, Buffer.of(3, 0xe8), more)], [{ code: 1002 }]],
  ["5.5.2", "an empty ping", [frame(PING)], [{ pong: "" }]],
  ["5.5.2", "a ping's bytes come back as they were", [frame(PING, hex("00ff fe01"))], [{ pong: hex("00fffe01") }]],
  ["5.5.2", "pings that wait are answered in their order", [frame(PING, "1"), frame(PING, "2"), frame(PING, "3")], [{ pong: "1" }, { pong: "2" }, { pong: "3" }]],
  ["5.5.2", "a ping a byte at a time", oneByOne(frame(PING, "slow")), [{ pong: "slow" }]],
  ["5.5.3", "a pong that nobody asked for", [frame(PONG, "x"), text("and on")], [{ text: "and on" }]],
  // 5.5.1, 7.4: closing
  ["5.5.1", "a close without a code: one without", [frame(CLOSE)], [{ code: undefined }]],
  ["5.5.1", "a close of one byte", [frame(CLOSE, Buffer.of(3))], [{ code: 1002 }]],
  ["5.5.1", "a reason of 123 bytes", [closing(1000, ofSize(123))], [{ code: 1000 }]],
  ["5.5.1", "a reason that isn't UTF-8", [frame(CLOSE, hex("03e8 ff"))], [{ code: 1007 }]],
  ["5.5.1", "a reason that ends within a character", [frame(CLOSE, hex("03e8 e282"))], [{ code: 1007 }]],
  ["5.5.1", "what follows a close isn't read", [closing(1000), text("x"), frame(PING, "x"), hex("ffffffff")], [{ code: 1000 }]],
  ...[1000, 1001, 1002, 1003, 1007, 1008, 1009, 1010, 1011, 3000, 3999, 4000, 4999].map((code) => ["7.4", `close ${code} comes back`, [closing(code, "why")], [{ code }]]),
  ...[0, 999, 1004, 1005, 1006, 1015, 1016, 1100, 2000, 2999, 5000, 65535].map((code) => ["7.4", `nobody may send ${code}`, [closing(code)], [{ code: 1002 }]]),
  ...[1012, 1013, 1014].map((code) => ["7.4.2", `close ${code}, registered with IANA later`, [closing(code)], [{ code }]]),
  // 5.6: we take text
  ["5.6", "binary", [frame(BINARY, "{}")], [{ code: 1003 }]],
  ["5.6", "binary in fragments, told by its first", [frame(BINARY, "{", more)], [{ code: 1003 }]],
  // 8.1: text is UTF-8, and what isn't is told as soon as it is seen
  ["8.1", "a character cut between two fragments", [text(euro.subarray(0, 1), more), continued(euro.subarray(1), last)], [{ text: "€" }]],
  ["8.1", "a character cut between three, a ping within", [text(euro.subarray(0, 1), more), frame(PING, "p"), continued(euro.subarray(1, 2), more), continued(euro.subarray(2), last)], [{ pong: "p" }, { text: "€" }]],
  ...["ff", "80", "c080", "c1bf", "e09fbf", "eda080", "edbfbf", "f08fbfbf", "f4908080", "f5808080", "61c328"].map((bytes) => ["8.1", `bytes ${bytes}`, [text(hex(bytes))], [{ code: 1007 }]]),
  ["8.1", "a message that ends within a character", [text(hex("e282"))], [{ code: 1007 }]],
  ["8.1", "a bad byte in a frame that isn't whole", [text(Buffer.concat([hex("ff"), Buffer.alloc(99)])).subarray(0, 10)], [{ code: 1007 }]],
  ["8.1", "a bad byte in a fragment, the next still to come", [text(hex("eda0"), more)], [{ code: 1007 }]],
  ["8.1", "a character that the next fragment doesn't go on with", [text(hex("e2"), more), continued("a", more)], [{ code: 1007 }]],
  ["8.1", "U+10FFFF, U+D7FF, U+E000, U+FFFF", [text("\u{10ffff}\ud7ff\ue000\uffff")], [{ text: "\u{10ffff}\ud7ff\ue000\uffff" }]],
  // 10.4: limits
  ["10.4", "a frame beyond the limit, told by its head", [head(TEXT, MESSAGE_MAX + 1, 8)], [{ code: 1009 }]],
  ["10.4", "the longest that can be written", [hex("81 ff 7fffffffffffffff 00000000")], [{ code: 1009 }]],
  ["10.4", "fragments beyond the limit", [text(ofSize(40000), more), continued(ofSize(40000), more)], [{ code: 1009 }]],
  ["10.4", "fragments of one byte beyond the limit", [Buffer.concat([text("x", more), ...Array(MESSAGE_MAX).fill(continued("x", more))])], [{ code: 1009 }]],
];

/** What a frame that has come is compared as. */
function seen(got) {
  if (got.opcode === TEXT) return { text: got.text };
  if (got.opcode === PONG) return { pong: got.text };
  return { code: got.code };
}

for (const [section, name, writes, wanted] of cases) {
  for (const tls of [false, true]) test(`${section}: ${name}${tls ? ", by TLS" : ""}`, async () => {
    const socket = await RawWebSocket.open((tls ? secure : server).port, {}, { tls });
    for (const bytes of writes) socket.raw.write(bytes);
    for (const one of wanted) {
      const got = await socket.message();
      assert.ok(got.final, "we send no fragments");
      const want = Buffer.isBuffer(one.pong) ? { pong: one.pong.toString() } : one;
      if (Buffer.isBuffer(one.pong)) assert.deepEqual(Buffer.from(got.bytes), one.pong);
      assert.deepEqual(seen(got), want);
    }
    if ("code" in wanted.at(-1)) assert.equal((await socket.raw.end()).length, 0, "nothing follows a close");
    else assert.equal(await socket.ask("still here?"), "still here?");
    socket.destroy();
  });
}

test("8.1: a character cut between two writes", async () => {
  const socket = await RawWebSocket.open(port);
  const bytes = text("€");
  socket.raw.write(bytes.subarray(0, 7)); // its head, and one of three bytes
  await server.counts(); // so that it has been read
  socket.raw.write(bytes.subarray(7));
  assert.equal((await socket.message()).text, "€");
  socket.destroy();
});

test("7.1.1: after our close and theirs, our side of the connection is closed first", async () => {
  const socket = await RawWebSocket.open(port);
  socket.send(TEXT, "close 4001 enough");
  const got = await socket.message();
  assert.deepEqual([got.opcode, got.code, got.reason], [CLOSE, 4001, "enough"]);
  socket.send(TEXT, "not answered any more");
  socket.send(PING, "nor this");
  const before = (await server.counts()).closed;
  socket.raw.write(closing(4001));
  assert.equal((await socket.raw.end()).length, 0);
  socket.destroy();
  await until(async () => (await server.counts()).closed > before, "closed");
});

test("7.1.7: a broken rule drops what was still to be sent, and harms nobody else", async () => {
  const broken = await RawWebSocket.open(port);
  const other = await RawWebSocket.open(port);
  const { refused } = await server.counts();
  broken.raw.socket.pause();
  broken.send(TEXT, "flood 1000 20000");
  await until(async () => (await server.counts()).refused > refused, "a full queue");
  broken.raw.write(frame(3, "x"));
  assert.equal(await other.ask("still here?"), "still here?");
  broken.raw.socket.resume();
  let got;
  do got = await broken.message();
  while (got.opcode === TEXT);
  assert.deepEqual([got.opcode, got.code], [CLOSE, 1002]);
  await broken.raw.end();
  broken.destroy();
  other.destroy();
});

test("4.1: what is sent before the handshake's answer isn't read", async () => {
  const raw = await Raw.open(port);
  raw.write(Buffer.concat([Buffer.from(handshake(port)), text("early")]));
  assert.equal((await raw.head()).status, 101);
  const socket = Object.assign(new RawWebSocket(), { raw });
  assert.equal(await socket.ask("in time"), "in time");
  raw.destroy();
});

// 4.2.1, 4.2.2, 1.3: the handshake. {status, headers?} of the answer to a request with these headers
// (null: without it) and, where it isn't the usual, this first line.
const handshakes = [
  ["4.2.1", "all as it must be", {}, { status: 101 }],
  ["1.3", "the RFC's own key", { "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==" }, { status: 101, headers: { "sec-websocket-accept": "s3pPLMBiTxaQ9kYGzzhZRbK+xOo=" } }],
  ["4.2.2", "the version that we speak", { "Sec-WebSocket-Version": "8" }, { status: 426, headers: { "sec-websocket-version": "13" } }],
  ["4.4", "a later version", { "Sec-WebSocket-Version": "14" }, { status: 426, headers: { "sec-websocket-version": "13" } }],
  ["4.2.1", "no version", { "Sec-WebSocket-Version": null }, { status: 426, headers: { "sec-websocket-version": "13" } }],
  ["4.2.1", "no key", { "Sec-WebSocket-Key": null }, { status: 400 }],
  ["4.2.1", "a key of 15 bytes", { "Sec-WebSocket-Key": Buffer.alloc(15).toString("base64") }, { status: 400 }],
  ["4.2.1", "a key of 17 bytes", { "Sec-WebSocket-Key": Buffer.alloc(17).toString("base64") }, { status: 400 }],
  ["4.2.1", "a key of 24 signs that isn't base64", { "Sec-WebSocket-Key": "!!!!!!!!!!!!!!!!!!!!!!==" }, { status: 400 }],
  ["4.2.1", "no Upgrade", { Upgrade: null }, { status: 426, headers: { upgrade: "websocket" } }],
  ["4.2.1", "an Upgrade to something else", { Upgrade: "h2c" }, { status: 400 }],
  ["4.2.1", "Upgrade in capitals", { Upgrade: "WebSocket" }, { status: 101 }],
  ["4.2.1", "no Connection", { Connection: null }, { status: 400 }],
  ["4.2.1", "Connection without upgrade", { Connection: "keep-alive" }, { status: 400 }],
  ["4.2.1", "Connection with others", { Connection: "keep-alive, Upgrade" }, { status: 101 }],
  ["4.2.1", "no Host", { Host: null }, { status: 400 }],
  ["4.2.1", "POST", {}, { status: 405, headers: { allow: "GET" } }, "POST /ws HTTP/1.1"],
  ["4.2.1", "HTTP/1.0", {}, { status: 400 }, "GET /ws HTTP/1.0"],
  ["4.2.2", "an address that has none", {}, { status: 404 }, "GET /wss HTTP/1.1"],
  ["4.2.2", "an Origin that is another's", { Origin: "https://elsewhere.example" }, { status: 403 }],
  ["4.2.2", "no subprotocol offered: none chosen", { "Sec-WebSocket-Protocol": null }, { status: 101, headers: { "sec-websocket-protocol": undefined } }],
  ["4.2.2", "ours among others: ours chosen", { "Sec-WebSocket-Protocol": "a, boutwire.v1, b" }, { status: 101, headers: { "sec-websocket-protocol": "boutwire.v1" } }],
  ["4.2.2", "none of ours: refused", { "Sec-WebSocket-Protocol": "boutwire.v2" }, { status: 400 }],
  ["4.2.2", "extensions offered: none chosen", { "Sec-WebSocket-Extensions": "permessage-deflate" }, { status: 101, headers: { "sec-websocket-extensions": undefined } }],
];

for (const [section, name, headers, wanted, line = "GET /ws HTTP/1.1"] of handshakes) {
  test(`${section}: handshake: ${name}`, async () => {
    const raw = await Raw.open(port);
    raw.write(handshake(port, headers).replace("GET /ws HTTP/1.1", line));
    const answer = wanted.status === 101 ? await raw.head() : await raw.answer();
    assert.equal(answer.status, wanted.status, answer.text);
    for (const [header, value] of Object.entries(wanted.headers ?? {})) assert.equal(answer.headers[header], value, header);
    if (wanted.status === 101) {
      const key = headers["Sec-WebSocket-Key"] ?? "AAAAAAAAAAAAAAAAAAAAAA==";
      const accept = createHash("sha1").update(`${key}258EAFA5-E914-47DA-95CA-C5AB0DC85B11`).digest("base64");
      assert.equal(answer.headers["sec-websocket-accept"], accept);
    } else {
      assert.equal(JSON.parse(answer.body).status, wanted.status);
    }
    raw.destroy();
  });
}
