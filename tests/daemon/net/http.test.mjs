// HTTP: whole requests, bodies in pieces, what is refused and how the connection ends then.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { Raw, request, startServer, until } from "./raw.mjs";

let server;
let port;
before(async () => {
  server = await startServer({ body: 100000, first: 2 });
  port = server.port;
});
after(async () => {
  const { code, errors } = await server.stop();
  assert.equal(code, 0, errors);
});

const host = () => `Host: 127.0.0.1:${port}`;
const isProblem = (answer, status) => {
  assert.equal(answer.status, status, answer.text);
  assert.equal(answer.headers["content-type"], "application/problem+json");
  const problem = JSON.parse(answer.body);
  assert.equal(problem.status, status);
  assert.ok(problem.title.length > 0 && problem.detail.length > 0);
};

test("a GET: method, path, query and headers come through", async () => {
  const answer = await request(
    port,
    "GET /api/echo%2Fsub/%C3%A9?x=1&q=a%26b%3D%20c&y HTTP/1.1\r\nAccept: text/plain\r\nAuthorization: Bearer abc\r\nLast-Event-ID: e1-42\r\nOrigin: http://elsewhere",
  );
  assert.equal(answer.status, 200);
  assert.match(answer.body, /^method GET$/m);
  assert.match(answer.body, /^path \/api\/echo\/sub\/é$/m);
  assert.match(answer.body, /^q a&b= c$/m);
  assert.match(answer.body, /^accept text\/plain$/m);
  assert.match(answer.body, /^authorization Bearer abc$/m);
  assert.match(answer.body, /^last-event-id e1-42$/m);
  assert.match(answer.body, /^origin http:\/\/elsewhere$/m);
  assert.match(answer.body, /^body 0$/m);
});

test("a POST in one piece, in bytes, and empty", async () => {
  for (const body of ['{"a":1}', "x".repeat(99999), ""]) {
    const raw = await Raw.open(port);
    const text = `POST /api/echo HTTP/1.1\r\n${host()}\r\nContent-Type: application/json\r\nContent-Length: ${body.length}\r\n\r\n${body}`;
    raw.write(text);
    const answer = await raw.answer();
    assert.equal(answer.status, 200, answer.text);
    assert.match(answer.body, /^content-type application\/json$/m);
    assert.ok(answer.body.endsWith(`body ${body.length}\n\n${body}`));
    raw.destroy();
  }
  const raw = await Raw.open(port);
  const bytes = Buffer.from(`POST /api/echo?q=ü HTTP/1.1\r\n${host()}\r\nContent-Length: 5\r\n\r\nhello`);
  for (const byte of bytes) {
    raw.write(Buffer.of(byte));
    await new Promise((resume) => setImmediate(resume));
  }
  const answer = await raw.answer();
  assert.ok(answer.body.endsWith("body 5\n\nhello"), answer.body);
  raw.destroy();
});

test("a connection carries one request: what is sent behind it isn't answered, and does no harm", async () => {
  // Found in libwebsockets 4.1.6: a second POST sent before the first answer never let go of the loop.
  const post = (q) => `POST /api/echo?q=${q} HTTP/1.1\r\n${host()}\r\nContent-Length: 3\r\n\r\nabc`;
  const get = (path) => `GET ${path} HTTP/1.1\r\n${host()}\r\n\r\n`;
  const before = await server.counts();
  for (const [first, rest] of [
    [post(1), post(2)], [post(1), get("/api/echo?q=2")], [get("/api/echo?q=1"), post(2)],
    [get("/api/later?ms=20"), post(2) + post(3)], [post(1), "POST /api/ec"], [get("/api/echo?q=1"), "abc"],
  ]) {
    const raw = await Raw.open(port);
    raw.write(first + rest);
    const answer = await raw.answer();
    assert.equal(answer.status, 200);
    assert.equal(answer.headers.connection, "close");
    assert.ok(!answer.body.includes("q 2"));
    assert.equal((await raw.end()).length, 0);
    raw.destroy();
  }
  assert.equal((await server.counts()).requests, before.requests + 7);
});

test("HTTP/1.0 is answered too", async () => {
  const raw = await Raw.open(port);
  raw.write("GET /api/echo HTTP/1.0\r\n\r\n");
  assert.equal((await raw.answer()).status, 200);
  assert.equal((await raw.end()).length, 0);
});

test("a client that has closed its side still gets its answer", async () => {
  const raw = await Raw.open(port, { allowHalfOpen: true });
  raw.socket.end(`GET /api/later?ms=20 HTTP/1.1\r\n${host()}\r\n\r\n`);
  assert.equal((await raw.answer()).body, "later");
  assert.equal((await raw.end()).length, 0);
});

test("answers of any size", async () => {
  for (const size of [0, 1, 65535, 65536, 5_000_001]) {
    const answer = await request(port, `GET /api/size?n=${size} HTTP/1.1`);
    assert.equal(answer.bytes.length, size);
    for (const at of [0, size >> 1, size - 1].filter((at) => at >= 0 && at < size))
      assert.equal(answer.bytes[at], 97 + (at % 26));
  }
});

test("HEAD is GET without the body", async () => {
  const raw = await Raw.open(port);
  raw.write(`HEAD /api/size?n=1000 HTTP/1.1\r\n${host()}\r\n\r\n`);
  const head = await raw.answer({ bodiless: true });
  assert.equal(head.headers["content-length"], "1000");
  assert.equal((await raw.end()).length, 0);
  raw.destroy();
});

test("every answer has the policy's headers", async () => {
  for (const lines of ["GET /api/echo HTTP/1.1", "GET /nothing HTTP/1.1", "PUT /api/echo HTTP/1.1", "GET /ws HTTP/1.1", "FOO /api/echo HTTP/1.1", "GET /%zz HTTP/1.1"]) {
    const { headers, text } = await request(port, lines);
    assert.match(headers["content-security-policy"], /^default-src 'none'/, text);
    assert.equal(headers["x-content-type-options"], "nosniff", text);
    assert.equal(headers["referrer-policy"], "no-referrer", text);
    assert.equal(headers["cache-control"], "no-store", text);
    assert.equal(headers["x-robots-tag"], "noindex, nofollow", text);
  }
  assert.equal((await request(port, "GET /api/counts HTTP/1.1")).headers["x-test"], "yes");
});

test("other methods are 405, and say which are taken", async () => {
  for (const [lines, allow] of [
    ["DELETE /api/x HTTP/1.1", "GET, HEAD, POST"], ["PUT /api/x HTTP/1.1\r\nContent-Length: 3", "GET, HEAD, POST"],
    ["PATCH /api/x HTTP/1.1", "GET, HEAD, POST"], ["OPTIONS /api/x HTTP/1.1", "GET, HEAD, POST"],
    ["POST /sse/x HTTP/1.1\r\nContent-Length: 0", "GET"], ["HEAD /sse/x HTTP/1.1", "GET"],
    ["POST /text/x HTTP/1.1\r\nContent-Length: 3", "GET"], ["POST /healthz HTTP/1.1\r\nContent-Length: 0", "GET, HEAD"],
    ["POST / HTTP/1.1\r\nContent-Length: 0", "GET, HEAD"],
  ]) {
    const body = lines.includes("Length: 3") ? "abc" : "";
    const raw = await Raw.open(port);
    raw.write(`${lines}\r\n${host()}\r\n\r\n${body}`);
    const answer = await raw.answer({ bodiless: lines.startsWith("HEAD") });
    if (!lines.startsWith("HEAD")) isProblem(answer, 405);
    assert.equal(answer.status, 405, lines);
    assert.equal(answer.headers.allow, allow, lines);
    assert.equal((await raw.end()).length, 0);
    raw.destroy();
  }
});

test("411: a body without its length, or in chunks", async () => {
  for (const [lines, body] of [
    ["POST /api/echo HTTP/1.1", "abc"],
    ["POST /api/echo HTTP/1.1\r\nTransfer-Encoding: chunked", "3\r\nabc\r\n0\r\n\r\n"],
    ["POST /api/echo HTTP/1.1\r\nContent-Length: 3\r\nTransfer-Encoding: chunked", "3\r\nabc\r\n0\r\n\r\n"],
    ["GET /api/echo HTTP/1.1\r\nTransfer-Encoding: chunked", "3\r\nabc\r\n0\r\n\r\n"],
  ]) {
    const raw = await Raw.open(port);
    raw.write(`${lines}\r\n${host()}\r\n\r\n`);
    raw.write(body);
    isProblem(await raw.answer(), 411);
    assert.equal((await raw.end()).length, 0);
    raw.destroy();
  }
});

test("400: lengths that are no number, and bodies where none belongs", async () => {
  for (const lines of [
    "POST /api/echo HTTP/1.1\r\nContent-Length: abc", "POST /api/echo HTTP/1.1\r\nContent-Length: -1",
    "POST /api/echo HTTP/1.1\r\nContent-Length: 3\r\nContent-Length: 4", "POST /api/echo HTTP/1.1\r\nContent-Length: 99999999999999999999999",
    "GET /api/echo HTTP/1.1\r\nContent-Length: 3", "GET /api/echo;x HTTP/1.1",
  ])
    isProblem(await request(port, lines, "abc"), 400);
});

test("413: the whole answer arrives although the body is still being sent", async () => {
  for (const size of [100001, 3_000_000, 10_000_000_000]) {
    const raw = await Raw.open(port);
    raw.write(`POST /api/echo HTTP/1.1\r\n${host()}\r\nContent-Length: ${size}\r\n\r\n`);
    raw.write(Buffer.alloc(Math.min(size, 1_000_000), 120));
    isProblem(await raw.answer(), 413);
    assert.equal((await raw.end()).length, 0);
    assert.equal(raw.error, undefined);
    raw.destroy();
  }
});

test("Expect: 100-continue is answered before the body, and not when it is refused", async () => {
  const raw = await Raw.open(port);
  raw.write(`POST /api/echo HTTP/1.1\r\n${host()}\r\nContent-Length: 5\r\nExpect: 100-continue\r\n\r\n`);
  assert.equal((await raw.head()).status, 100);
  raw.write("hello");
  assert.ok((await raw.answer()).body.endsWith("hello"));
  raw.destroy();
  isProblem(await request(port, "POST /api/echo HTTP/1.1\r\nContent-Length: 5000000\r\nExpect: 100-continue"), 413);
});

test("a POST from another site's page is refused", async () => {
  isProblem(await request(port, "POST /api/echo HTTP/1.1\r\nContent-Length: 3\r\nOrigin: http://elsewhere", "abc"), 403);
  isProblem(await request(port, "POST /api/echo HTTP/1.1\r\nContent-Length: 3\r\nOrigin: null", "abc"), 403);
  const own = await request(port, `POST /api/echo HTTP/1.1\r\nContent-Length: 3\r\nOrigin: http://127.0.0.1:${port}`, "abc");
  assert.equal(own.status, 200);
});

test("half a request ends after a while: nothing, half a head, half a body, a drop at a time", async () => {
  const silent = await Raw.open(port);
  const head = await Raw.open(port);
  head.write(`GET /api/echo HTTP/1.1\r\nHost: x`);
  const body = await Raw.open(port);
  body.write(`POST /api/echo HTTP/1.1\r\n${host()}\r\nContent-Length: 1000\r\n\r\nabc`);
  const drops = await Raw.open(port);
  drops.write(`POST /api/echo HTTP/1.1\r\n${host()}\r\nContent-Length: 1000\r\n\r\n`);
  const headDrops = await Raw.open(port);
  headDrops.write("GET /api/echo HTTP/1.1\r\nX-Long: ");
  const dropping = setInterval(() => {
    drops.write("x");
    headDrops.write("x");
  }, 100);
  try {
    for (const raw of [silent, head, body, drops, headDrops]) assert.equal((await raw.end()).length, 0);
  } finally {
    clearInterval(dropping);
  }
  for (const raw of [silent, head, body, drops, headDrops]) raw.destroy();
});

test("a head that is too long ends the connection, and nothing else", async () => {
  const raw = await Raw.open(port);
  raw.write(`GET /api/echo HTTP/1.1\r\nX-Long: ${"x".repeat(20000)}\r\n\r\n`);
  await raw.end();
  assert.equal((await request(port, "GET /healthz HTTP/1.1")).status, 200);
});

test("a client that leaves while its request waits does no harm", async () => {
  const before = await server.counts();
  for (let i = 0; i < 10; i++) {
    const raw = await Raw.open(port);
    raw.write(`GET /api/later?ms=100 HTTP/1.1\r\n${host()}\r\n\r\n`);
    await until(async () => (await server.counts()).requests > before.requests + i, "the request");
    raw.destroy();
  }
  assert.equal((await request(port, "GET /api/later?ms=200 HTTP/1.1")).body, "later");
});

test("a client that doesn't take its answer is let go, and costs nothing while it stalls", async () => {
  const own = await startServer({ "give-up": 2 });
  const raw = await Raw.open(own.port);
  raw.socket.pause();
  raw.write(`GET /api/size?n=50000000 HTTP/1.1\r\nHost: 127.0.0.1:${own.port}\r\n\r\n`);
  await until(async () => (await own.counts()).requests >= 1, "the request");
  const sockets = async () => (await import("node:fs/promises")).readdir(`/proc/${own.child.pid}/fd`);
  const many = (await sockets()).length;
  await until(async () => (await sockets()).length < many, "the connection to be closed");
  raw.destroy();
  assert.equal((await own.stop()).code, 0);
});
