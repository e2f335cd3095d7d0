// Proxies in front: whose a request is, whose page may act, which hosts are ours, a public path.
// The rules by themselves, row by row: tests/unit/test_front.c, test_forwarded.c, test_origin.c.
// A real proxy: tests/daemon/nginx.test.mjs.
import assert from "node:assert/strict";
import { networkInterfaces } from "node:os";
import { test } from "node:test";
import { Raw, RawWebSocket, handshake, startServer, until } from "./raw.mjs";

/** Starts net_echo with these words, and stops it after `use`. */
async function withServer(options, use) {
  const server = await startServer(options);
  try {
    await use(server);
  } finally {
    const { code, errors } = await server.stop();
    assert.equal(code, 0, errors);
  }
}

/** One request with exactly these headers, from this address. */
async function ask(port, first, headers, { from = "127.0.0.1", body = "" } = {}) {
  const raw = await Raw.open(port, { localAddress: from });
  raw.write([`${first} HTTP/1.1`, ...headers, `Content-Length: ${body.length}`, "", body].join("\r\n"));
  const answer = await raw.answer();
  raw.destroy();
  return answer;
}
const addressIn = (answer) => /^address (.*)$/m.exec(answer.body)[1];
const HOST = "Host: 127.0.0.1";

test("the client's address: by a trusted proxy's word, and by nobody else's", async () => {
  await withServer({ "trusted-proxy": "127.0.0.1" }, async ({ port }) => {
    for (const [headers, wanted, from] of [
      [[], "127.0.0.1"],
      [["Forwarded: for=192.0.2.1"], "192.0.2.1"],
      [['Forwarded: for="[2001:db8::7]:4711"'], "2001:db8::7"],
      [["X-Forwarded-For: 6.6.6.6, 192.0.2.1"], "192.0.2.1"],
      [["X-Forwarded-For: 6.6.6.6", "X-Forwarded-For: 192.0.2.1"], "192.0.2.1"], // lines are one list
      [["Forwarded: for=6.6.6.6", "X-Forwarded-For: 192.0.2.1"], "127.0.0.1"], // of two minds
      [["X-Forwarded-For: 192.0.2.1"], "127.0.0.2", "127.0.0.2"], // not trusted
      [["Forwarded: for=192.0.2.1"], "127.0.0.2", "127.0.0.2"],
      [[`X-Forwarded-For: ${"6.6.6.6, ".repeat(600)}192.0.2.1`], "192.0.2.1"],
    ]) {
      const answer = await ask(port, "GET /api/echo", [HOST, ...headers], { from });
      assert.equal(addressIn(answer), wanted, JSON.stringify(headers));
    }
    const socket = await RawWebSocket.open(port, { "X-Forwarded-For": "192.0.2.9" });
    assert.equal(await socket.ask("address"), "192.0.2.9");
    socket.destroy();
  });
});

test("a page may act from the public address, from an allowed origin, and from the host itself", async () => {
  const options = { "public-url": "https://hall.example/hall/", "trusted-proxy": "127.0.0.1", "allow-origin": "https://score.example" };
  await withServer(options, async ({ port }) => {
    const proxied = ["X-Forwarded-For: 192.0.2.1"];
    for (const [origin, headers, status] of [
      ["https://hall.example", proxied, 200],
      ["https://score.example", proxied, 200],
      ["http://hall.example", proxied, 403],
      ["https://score.example:8443", proxied, 403],
      ["https://elsewhere.example", proxied, 403],
      ["null", proxied, 403],
      [`http://127.0.0.1:${port}`, proxied, 403], // by way of the proxy nobody comes to that address
      [`http://127.0.0.1:${port}`, [], 200],
      ["https://elsewhere.example", ["X-Forwarded-Host: elsewhere.example"], 403],
    ]) {
      const host = `Host: 127.0.0.1:${port}`;
      const post = await ask(port, "POST /api/echo", [host, `Origin: ${origin}`, ...headers], { body: "x" });
      assert.equal(post.status, status, `POST ${origin} ${headers}`);
      const raw = await Raw.open(port);
      const more = Object.fromEntries(headers.map((line) => line.split(": ")));
      raw.write(handshake(port, { Origin: origin, ...more }));
      assert.equal((await raw.head()).status, status === 200 ? 101 : 403, `WebSocket ${origin} ${headers}`);
      raw.destroy();
      const get = await ask(port, "GET /api/echo", [host, `Origin: ${origin}`, ...headers]);
      assert.equal(get.status, 200, `GET ${origin}`); // reading isn't acting
    }
  });
});

test("where no key is needed, a host that isn't ours is misdirected (RFC 9110 15.5.20)", async () => {
  await withServer({ open: 1, "public-url": "https://hall.example/" }, async ({ port }) => {
    for (const [host, status] of [
      [`127.0.0.1:${port}`, 200], ["localhost", 200], ["[::1]:7600", 200], ["hall.example", 200], ["mat.localhost", 200],
      [`rebind.example:${port}`, 421], ["127.0.0.1.rebind.example", 421], ["192.0.2.1", 421],
    ]) {
      for (const first of ["GET /api/echo", "GET /healthz", "POST /api/echo"])
        assert.equal((await ask(port, first, [`Host: ${host}`])).status, status, `${first} ${host}`);
      const raw = await Raw.open(port);
      raw.write(handshake(port, { Host: host }));
      assert.equal((await raw.head()).status, status === 200 ? 101 : 421, host);
      raw.destroy();
    }
  });
  await withServer({}, async ({ port }) => {
    assert.equal((await ask(port, "GET /api/echo", ["Host: rebind.example"])).status, 200); // keys keep it
  });
});

test("400: no Host, two, or one that is none (RFC 9112 3.2)", async () => {
  await withServer({}, async ({ port }) => {
    for (const lines of [[], ["Host: a", "Host: b"], ["Host: a b"], ["Host: user@a"]])
      assert.equal((await ask(port, "GET /api/echo", lines)).status, 400, lines.join());
  });
});

test("a public path: whether the proxy takes it off or not", async () => {
  await withServer({ "public-url": "https://hall.example/hall/" }, async ({ port }) => {
    for (const [path, wanted] of [["/hall/api/echo", "/api/echo"], ["/api/echo", "/api/echo"], ["/hall/sse/x", null], ["/sse/x", null]]) {
      const raw = await Raw.open(port);
      raw.write(`GET ${path}?q=1 HTTP/1.1\r\n${HOST}\r\n\r\n`);
      const head = await raw.head();
      assert.equal(head.status, 200, path);
      if (wanted) await raw.text(`path ${wanted}\nq 1\n`);
      else await raw.text("data: hello -\n\n");
      raw.destroy();
    }
    for (const path of ["/hall/ws", "/ws"]) {
      const raw = await Raw.open(port);
      raw.write(handshake(port, {}, path));
      assert.equal((await raw.head()).status, 101, path);
      raw.destroy();
    }
    const bare = await ask(port, "GET /hall", [HOST]);
    assert.deepEqual([bare.status, bare.headers.location], [301, "hall/"]);
    assert.equal((await ask(port, "GET /hallway", [HOST])).status, 404);
    const wrong = await Raw.open(port);
    wrong.write(handshake(port, {}, "/hall/hall/ws"));
    assert.equal((await wrong.head()).status, 404);
    wrong.destroy();
  });
});

/** A connection from there that stays: "open", or how it was turned away. */
async function stay(port, from, headers) {
  const raw = await Raw.open(port, { localAddress: from });
  raw.write(handshake(port, headers));
  const head = await raw.head().catch(() => null);
  return { raw, became: head === null ? "closed" : head.status === 101 ? "open" : head.status };
}
const becomes = async (...words) => (await stay(...words)).became;

test("no more connections of an address than it may have; this machine's own aren't counted", async () => {
  await withServer({ "per-address": 3, "trusted-proxy": "127.0.0.1" }, async ({ port, counts }) => {
    const by = (client) => ({ "X-Forwarded-For": client });
    const first = [];
    for (let i = 0; i < 3; i++) first.push(await stay(port, "127.0.0.1", by("192.0.2.1")));
    assert.deepEqual(first.map(({ became }) => became), ["open", "open", "open"]);
    assert.equal(await becomes(port, "127.0.0.1", by("192.0.2.1")), 429);
    assert.equal(await becomes(port, "127.0.0.1", by("6.6.6.6, 192.0.2.1")), 429, "a client's claim");
    assert.equal(await becomes(port, "127.0.0.1", by("192.0.2.2")), "open", "another client of the proxy");
    for (let i = 0; i < 5; i++) assert.equal(await becomes(port, "127.0.0.1"), "open", "nobody's by name");
    for (let i = 0; i < 5; i++) assert.equal(await becomes(port, "127.0.0.9", by("192.0.2.1")), "open", "this machine's");
    const torn = { "X-Forwarded-For": "192.0.2.3", Forwarded: "for=6.6.6.6" }; // of two minds: one bound for all of these
    for (const became of ["open", "open", "open", 429]) assert.equal((await stay(port, "127.0.0.1", torn)).became, became);
    const answer = await ask(port, "GET /api/echo", [HOST, "X-Forwarded-For: 192.0.2.1"]);
    assert.deepEqual([answer.status, answer.headers["retry-after"]], [429, "10"]);
    first[0].raw.destroy();
    await until(async () => (await becomes(port, "127.0.0.1", by("192.0.2.1"))) === "open", "room for one more");
    assert.ok((await counts()).closed >= 1);
  });
});

const outside = Object.values(networkInterfaces()).flat().find(({ family, internal }) => family === "IPv4" && !internal)?.address;
test("an address that nobody speaks for is closed beyond its number", { skip: !outside && "this machine is in no network" }, async () => {
  await withServer({ host: "0.0.0.0", "per-address": 2 }, async ({ port }) => {
    const come = async () => {
      const raw = await Raw.open(port, { host: outside, localAddress: outside });
      raw.write(handshake(port));
      const head = await raw.head().catch(() => null);
      return { raw, became: head?.status ?? "closed" };
    };
    const [one, two, three] = [await come(), await come(), await come()];
    assert.deepEqual([one.became, two.became, three.became], [101, 101, "closed"]);
    one.raw.destroy();
    await until(async () => (await come()).became === 101, "room for one more");
  });
});

test("no more connections than there may be: the next is closed, and let in when one has gone", async () => {
  await withServer({ clients: 4 }, async ({ port }) => {
    const all = [];
    for (let i = 0; i < 4; i++) all.push(await stay(port, "127.0.0.1"));
    assert.deepEqual(all.map(({ became }) => became), Array(4).fill("open"));
    assert.equal(await becomes(port, "127.0.0.1"), "closed");
    all[2].raw.destroy();
    await until(async () => (await becomes(port, "127.0.0.1")) === "open", "room for one more");
  });
});
