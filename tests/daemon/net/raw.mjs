// A client that says exactly what a test wants it to say, and the server that it says it to.
// Nothing here waits for a time to pass: it waits for bytes, an end or an answer, and LIMIT_MS is
// only when a test is given up.
import { spawn } from "node:child_process";
import { createHash, randomBytes } from "node:crypto";
import { connect } from "node:net";
import { connect as connectTls } from "node:tls";
import { fileURLToPath } from "node:url";

const LIMIT_MS = 20000;
const program = process.env.NET_ECHO ?? fileURLToPath(new URL("../../../build/sanitized/net_echo", import.meta.url));

/** Resolves as the promise does, or fails with what was waited for. */
export function within(promise, what, limit_ms = LIMIT_MS) {
  let timer;
  const limit = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error(`waited in vain for ${what}`)), limit_ms);
  });
  return Promise.race([promise, limit]).finally(() => clearTimeout(timer));
}

/** Asks again and again until `ask` gives something that is true. */
export async function until(ask, what, limit_ms = LIMIT_MS) {
  const end = Date.now() + limit_ms;
  for (;;) {
    const answer = await ask();
    if (answer) return answer;
    if (Date.now() > end) throw new Error(`waited in vain for ${what}`);
    await new Promise((resume) => setTimeout(resume, 20));
  }
}

/** Starts net_echo; `options` as {ping: 1} for "--ping 1". With a certificate it speaks TLS. */
export async function startServer(options = {}) {
  const words = Object.entries(options).flatMap(([name, value]) => [`--${name}`, String(value)]);
  const child = spawn(program, words, { stdio: ["pipe", "pipe", "pipe"] });
  let out = "";
  let errors = "";
  child.stderr.on("data", (bytes) => (errors += bytes));
  const ended = new Promise((resolve) => child.on("close", (code, signal) => resolve({ code, signal, errors, out })));
  const first = new Promise((resolve, reject) => {
    child.stdout.on("data", (bytes) => {
      out += bytes;
      if (/^\d+\n/.test(out)) resolve(parseInt(out, 10));
    });
    child.on("error", reject);
    ended.then(({ errors }) => reject(new Error(`net_echo ended: ${out} ${errors}`)));
  });
  const port = await within(first, "the port");
  return {
    port,
    child,
    counts: async () => JSON.parse((await request(port, "GET /api/counts HTTP/1.1", "", { tls: "certificate" in options })).body),
    errors: () => errors,
    ended,
    /** Resolves to {code, signal, errors} when everything was given back. */
    stop() {
      child.stdin.end();
      return within(ended, "net_echo to end");
    },
  };
}

/** One TCP connection, read as one buffer that is consumed from the front. */
export class Raw {
  constructor(socket) {
    this.socket = socket;
    this.bytes = Buffer.alloc(0);
    this.ended = false; // the server has said that it sends no more
    this.closed = false;
    this.waiting = [];
    socket.on("data", (bytes) => {
      this.bytes = Buffer.concat([this.bytes, bytes]);
      this.#look();
    });
    socket.on("end", () => {
      this.ended = true;
      this.#look();
    });
    socket.on("error", (error) => (this.error = error));
    socket.on("close", () => {
      this.ended = this.closed = true;
      this.#look();
    });
  }
  static open(port, options = {}) {
    return within(
      new Promise((resolve, reject) => {
        const { tls = false, ...more } = options;
        const where = { port, host: "127.0.0.1", noDelay: true, rejectUnauthorized: false, ...more };
        const socket = tls ? connectTls(where) : connect(where);
        socket.once("error", reject);
        socket.once(tls ? "secureConnect" : "connect", () => {
          socket.off("error", reject);
          resolve(new Raw(socket));
        });
      }),
      "a connection",
    );
  }
  #look() {
    this.waiting = this.waiting.filter((look) => !look());
  }
  write(bytes) {
    if (!this.closed) this.socket.write(bytes);
  }
  /** What `take` gives of the bytes that have come, as soon as it isn't undefined. */
  take(take, what) {
    return within(
      new Promise((resolve, reject) => {
        const look = () => {
          const taken = take(this.bytes);
          if (taken !== undefined) {
            this.bytes = this.bytes.subarray(taken.size);
            resolve(taken.value);
            return true;
          }
          if (!this.ended) return false;
          reject(new Error(`the connection ended before ${what}: ${JSON.stringify(this.bytes.toString().slice(0, 300))}`));
          return true;
        };
        if (!look()) this.waiting.push(look);
      }),
      what,
    );
  }
  text(wanted) {
    return this.take((bytes) => {
      const at = bytes.indexOf(wanted);
      return at < 0 ? undefined : { size: at + wanted.length, value: bytes.subarray(0, at + wanted.length).toString() };
    }, JSON.stringify(wanted));
  }
  end() {
    return within(
      new Promise((resolve) => {
        const look = () => this.ended && (resolve(this.bytes), true);
        if (!look()) this.waiting.push(look);
      }),
      "the connection's end",
    );
  }
  destroy() {
    this.socket.destroy();
  }
  /** The head of an answer: {status, headers, text}, names in lower case. */
  async head() {
    const text = await this.text("\r\n\r\n");
    const [first, ...lines] = text.trimEnd().split("\r\n");
    const headers = {};
    for (const line of lines) {
      const at = line.indexOf(":");
      headers[line.slice(0, at).toLowerCase()] = line.slice(at + 1).trim();
    }
    return { status: Number(first.split(" ")[1]), headers, text };
  }
  /** A whole answer with a Content-Length (none: no body). */
  async answer({ bodiless = false } = {}) {
    const head = await this.head();
    const size = bodiless ? 0 : Number(head.headers["content-length"] ?? 0);
    const bytes = await this.take((all) => (all.length < size ? undefined : { size, value: all.subarray(0, size) }), "a body");
    return { ...head, bytes, body: bytes.toString() };
  }
}

/** One request on a connection of its own: `lines` without the last ones, and a body. */
export async function request(port, lines, body = "", options = {}) {
  const raw = await Raw.open(port, options);
  raw.write(`${lines}\r\nHost: 127.0.0.1:${port}\r\nConnection: close\r\n\r\n${body}`);
  const answer = await raw.answer({ bodiless: lines.startsWith("HEAD ") });
  raw.destroy();
  return answer;
}

/** A frame as a client sends it. */
export function frame(opcode, payload = "", { final = true, masked = true } = {}) {
  const bytes = Buffer.from(payload);
  const first = (final ? 0x80 : 0) | opcode;
  const mark = masked ? 0x80 : 0;
  let head;
  if (bytes.length < 126) head = Buffer.from([first, mark | bytes.length]);
  else if (bytes.length < 65536) {
    head = Buffer.from([first, mark | 126, 0, 0]);
    head.writeUInt16BE(bytes.length, 2);
  } else {
    head = Buffer.alloc(10);
    head[0] = first;
    head[1] = mark | 127;
    head.writeBigUInt64BE(BigInt(bytes.length), 2);
  }
  if (!masked) return Buffer.concat([head, bytes]);
  const mask = randomBytes(4);
  return Buffer.concat([head, mask, bytes.map((byte, i) => byte ^ mask[i & 3])]);
}
export const TEXT = 1, BINARY = 2, CONTINUATION = 0, CLOSE = 8, PING = 9, PONG = 10;

/** A WebSocket whose frames are seen one by one. */
export class RawWebSocket {
  static async open(port, headers = {}, options = {}) {
    const raw = await Raw.open(port, options);
    const key = randomBytes(16).toString("base64");
    raw.write(handshake(port, { "Sec-WebSocket-Key": key, ...headers }));
    const head = await raw.head();
    if (head.status !== 101) throw new Error(`no upgrade: ${head.status}`);
    const wanted = createHash("sha1").update(`${key}258EAFA5-E914-47DA-95CA-C5AB0DC85B11`).digest("base64");
    if (head.headers["sec-websocket-accept"] !== wanted) throw new Error("wrong Sec-WebSocket-Accept");
    const socket = new RawWebSocket();
    return Object.assign(socket, { raw, head });
  }
  send(opcode, payload, options) {
    this.raw.write(frame(opcode, payload, options));
  }
  /** The next frame: {final, opcode, bytes, text}; a close frame has `code` and `reason`. */
  async next() {
    return this.raw.take((all) => {
      if (all.length < 2) return undefined;
      if (all[1] & 0x80) throw new Error("a server doesn't mask");
      let size = all[1] & 0x7f;
      let at = 2;
      if (size === 126) {
        if (all.length < 4) return undefined;
        size = all.readUInt16BE(2);
        at = 4;
      } else if (size === 127) {
        if (all.length < 10) return undefined;
        size = Number(all.readBigUInt64BE(2));
        at = 10;
      }
      if (all.length < at + size) return undefined;
      const bytes = all.subarray(at, at + size);
      const value = { final: Boolean(all[0] & 0x80), opcode: all[0] & 0xf, bytes, text: bytes.toString() };
      if (value.opcode === CLOSE && size >= 2)
        Object.assign(value, { code: bytes.readUInt16BE(0), reason: bytes.subarray(2).toString() });
      return { size: at + size, value };
    }, "a frame");
  }
  /** The next one that isn't a ping; pings are answered. */
  async message() {
    for (;;) {
      const got = await this.next();
      if (got.opcode !== PING) return got;
      this.send(PONG, got.bytes);
    }
  }
  async ask(text) {
    this.send(TEXT, text);
    return (await this.message()).text;
  }
  destroy() {
    this.raw.destroy();
  }
}

/** The request for a WebSocket; a header set to null is left out. */
export function handshake(port, headers = {}, path = "/ws") {
  const all = {
    Host: `127.0.0.1:${port}`,
    Upgrade: "websocket",
    Connection: "Upgrade",
    "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Protocol": "boutwire.v1",
    ...headers,
  };
  const lines = Object.entries(all).filter(([, value]) => value !== null).map(([name, value]) => `${name}: ${value}`);
  return `GET ${path} HTTP/1.1\r\n${lines.join("\r\n")}\r\n\r\n`;
}
