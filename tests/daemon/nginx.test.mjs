// The daemon behind a real nginx, set up as docs/operating.md prints it: TLS at nginx, plain behind,
// everything below /hall/. Pages in a browser: tests/pages/nginx.test.mjs.
import assert from "node:assert/strict";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { call, note, score } from "../support/bouts.mjs";
import { bearer, Daemon, makeKey } from "../support/daemon.mjs";
import { Nginx } from "../support/nginx.mjs";
import { ndjson, rows, temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

let front;
let daemon;
let table;
let gallery;
let booth;

before(async () => {
  const store = join(temporaryFolder(), "day.sqlite");
  table = (await makeKey(store, "table", "--name", "ann")).key;
  gallery = (await makeKey(store, "gallery", "--name", "gil")).key;
  booth = (await makeKey(store, "booth", "--name", "ben")).key;
  front = await Nginx.reserve();
  // 127.0.0.1 is nginx; 127.0.0.2 stands for a proxy further out.
  const words = ["--public-url", front.url(), "--trusted-proxy", "127.0.0.1", "--trusted-proxy", "127.0.0.2", "--connections-per-address", "8"];
  daemon = await Daemon.start({ store, words });
  await front.start(daemon.port);
  assert.equal((await post(call("x"))).status, 200);
});
after(async () => {
  await front.stop();
  await daemon.stop();
});

const post = (event, more = {}) =>
  front.ask("/hall/api/v1/events", {
    method: "POST",
    body: JSON.stringify(event),
    ...more,
    headers: { "Content-Type": "application/json", Origin: front.origin, ...bearer(table), ...more.headers },
  });

test("events by POST: from the public address's pages and from programs, not from another site's", async () => {
  assert.equal((await post(score("x", "red", 2))).status, 200);
  for (const origin of ["https://elsewhere.example", `http://127.0.0.1:${daemon.port}`, "null"]) {
    const refused = await post(score("x", "red", 2), { headers: { Origin: origin } });
    assert.equal(refused.status, 403, `${origin} ${refused.body}`);
  }
  const lines = Array.from({ length: 1000 }, (_, i) => note("x", `${i} ${"words ".repeat(20)}`, "booth"));
  const { status, body } = await front.ask("/hall/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/x-ndjson", ...bearer(table) },
    body: ndjson(lines), // more than nginx keeps in memory
  });
  assert.equal(status, 200, body);
  assert.equal(rows(body).length, 1000);
});

test("pages, topics and problems below the path; every answer as strict as without nginx", async () => {
  for (const [path, status, type] of [
    ["/hall/", 200, /^text\/html/],
    ["/hall/table/", 200, /^text\/html/],
    ["/hall/lib/connection.js", 200, /^text\/javascript/],
    ["/hall/robots.txt", 200, /^text\/plain/],
    ["/hall/api/v1/topics/mat/A/follow", 200, /^application\/json/],
    ["/hall/api/v1/topics/mat/A/booth", 401, /^application\/problem\+json/],
    ["/hall/healthz", 200, /^text\/plain/],
    ["/hall/none", 404, /^application\/problem\+json/],
  ]) {
    const answer = await front.ask(path);
    assert.equal(answer.status, status, `${path} ${answer.body}`);
    assert.match(answer.headers["content-type"], type, path);
    assert.match(answer.headers["content-security-policy"], /^default-src 'none'/, path);
    assert.equal(answer.headers["x-robots-tag"], "noindex, nofollow", path);
  }
  const folder = await front.ask("/hall/table");
  assert.equal(folder.status, 301);
  assert.equal(new URL(folder.headers.location, front.url("/hall/table")).href, front.url("/hall/table/"));
  const page = await front.ask("/hall/");
  const again = await front.ask("/hall/", { headers: { "If-None-Match": page.headers.etag } });
  assert.equal(again.status, 304);
});

test("a WebSocket: hello, following, an event and its answer; refused from another site's page", async () => {
  const { socket, heard, say } = await front.socket();
  assert.equal(socket.protocol, "boutwire.v1");
  say({ hello: { key: table } });
  say({ subscribe: [{ topic: "mat/A/follow" }] });
  await heard.find((message) => message.hello?.role === "table", "hello");
  await heard.find((message) => message.state, "the state");
  const event = score("x", "blue", 1);
  say({ event });
  await heard.find((message) => message.ack?.id === event.id, "the answer");
  await heard.find((message) => message.patch, "the patch");
  socket.close(1000);
  await assert.rejects(heard.find(() => false, "the end"), /closed 1000/);
  for (const origin of ["https://elsewhere.example", `http://127.0.0.1:${daemon.port}`])
    assert.deepEqual(await front.socket({ origin }), { status: 403 }, origin);
});

test("event streams and text come as they happen, not when a buffer is full", async () => {
  const events = await front.ask("/hall/sse/mat/A/follow", { open: true });
  assert.equal(events.headers["content-type"], "text/event-stream");
  assert.equal(events.headers["x-robots-tag"], "noindex, nofollow");
  await events.pieces.find((text) => text.includes("event: state\n"), "the state");
  const text = await front.ask("/hall/text/A", { open: true });
  await text.pieces.find((lines) => lines.includes("On mat A: Ilse Brandt"), "the first line");
  for (const words of ["Red's coach stands up.", "Blue's coach stands up."]) {
    assert.equal((await post(note("x", words))).status, 200);
    await events.pieces.find((all) => all.includes(words), `${words} in the stream`);
    await text.pieces.find((lines) => lines.includes(words), `${words} as text`);
  }
  events.close();
  text.close();
});

/** Where the gallery sees somebody who comes so; it is told once a second. */
async function placeOf({ from, headers }) {
  const { socket, heard, say } = await front.socket({ from, headers });
  say({ hello: { key: booth } });
  await heard.find((message) => message.hello, "hello");
  const [number, one] = await until(async () => {
    const topic = await daemon.ask("/api/v1/topics/gallery", { headers: bearer(gallery) });
    const all = Object.entries(JSON.parse(topic.body).state.connected ?? {});
    return all.find(([name, { name: who }]) => who === "ben" && !seen.has(name));
  }, "ben in the gallery");
  seen.add(number);
  socket.terminate();
  return one.address;
}
const seen = new Set();

test("where somebody is: the word of proxies that are trusted, not what a client claims", async () => {
  const claim = { "X-Forwarded-For": "203.0.113.9" };
  assert.equal(await placeOf({ from: "127.0.0.3" }), "this_machine");
  assert.equal(await placeOf({ from: "127.0.0.3", headers: claim }), "this_machine", "only claimed");
  assert.equal(await placeOf({ from: "127.0.0.2", headers: claim }), "internet", "a trusted proxy's");
  const both = { ...claim, Forwarded: "for=10.0.0.7" }; // nginx takes the second away
  assert.equal(await placeOf({ from: "127.0.0.2", headers: both }), "internet");
});

test("limits go by the forwarded address", async () => {
  const of = (client) => ({ from: "127.0.0.2", headers: { "X-Forwarded-For": client } });
  const all = [];
  for (let i = 0; i < 8; i++) all.push(await front.socket(of("203.0.113.5")));
  assert.ok(all.every(({ socket }) => socket));
  assert.deepEqual(await front.socket(of("203.0.113.5")), { status: 429 });
  assert.deepEqual(await front.socket(of("198.51.100.7, 203.0.113.5")), { status: 429 }, "only claimed");
  const answer = await front.ask("/hall/api/v1/topics/mat/A/follow", of("203.0.113.5"));
  assert.equal(answer.status, 429);
  assert.match(answer.headers["retry-after"], /^\d+$/);
  const other = await front.ask("/hall/api/v1/topics/mat/A/follow", of("203.0.113.6"));
  assert.equal(other.status, 200);
  for (const { socket } of all) socket.terminate();
  await until(async () => {
    const next = await front.socket(of("203.0.113.5"));
    next.socket?.terminate();
    return next.socket;
  }, "room for that address");
});

test("without nginx: the daemon's own address still works, and nobody's claim counts", async () => {
  assert.equal((await daemon.ask("/api/v1/topics/mat/A/follow")).status, 200);
  const event = score("x", "red", 1);
  const own = await daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/json", Origin: daemon.url("").replace(/\/$/, ""), ...bearer(table) },
    body: JSON.stringify(event),
  });
  assert.equal(own.status, 200, own.body);
});
