// Everything at once, at random: tables that key by all four ways, producers, readers of every kind
// that come and vanish, delays that change, people who are hidden; and a daemon that is asked to end,
// or killed, in the middle of it. What was acknowledged is there, once, in the order of the answers of
// each line; nobody's end upsets the daemon (with sanitizers, that is what is looked for).
import assert from "node:assert/strict";
import { connect } from "node:net";
import { dirname, join } from "node:path";
import { call, clock, make, newId, note, score, voided } from "../support/bouts.mjs";
import { Daemon } from "../support/daemon.mjs";
import { Line, Reading } from "../support/listeners.mjs";
import { ndjson, rows, run, temporaryFolder } from "../support/program.mjs";
import { until, within } from "../support/wait.mjs";

const MATS = ["A", "B", "C"];
const OUTPUTS = ["main", "wall", "hall"];
const NAMES = ["Ilse Brandt", "Noor Haddad", "Zephyrine Quillamor", "Rika Sturmhardt"];
const PANELS = ["who", "attacks", "why", "needs", "result", "mats", "order", "results"];
const RULES = ["names_at_call", "why_in_break", "attacks_in_break", "result_when_sure", "round_between"];
const TOPICS = [
  ...MATS.flatMap((mat) => ["table", "booth", "follow"].map((who) => `mat/${mat}/${who}`)),
  ...["out/main", "out/wall", "out/gone", "day/follow", "day/booth", "gallery", "mat/Never/follow"],
];
const READS = [
  ...TOPICS.flatMap((topic) => [`/api/v1/topics/${topic}`, `/sse/${topic}`]),
  ...MATS.flatMap((mat) => [`/text/${mat}`, `/text/${mat}?since=0`]),
  ...["results.atom", "results.csv", "scores.csv", "outputs", "day/events", "rules"].map((name) => `/api/v1/${name}`),
  ...OUTPUTS.flatMap((name) => [`/api/v1/flat/${name}`, `/api/v1/flat/${name}?format=csv`]),
  ...["/metrics", "/readyz", "/api/v1/athletes"],
  ...NAMES.flatMap((name) => [`/api/v1/athletes/${name.split(" ")[1]}`, `/api/v1/athletes/${name.split(" ")[1]}?against=Brandt`]),
];

export const newTangle = () => {
  const store = join(temporaryFolder(), "day.sqlite");
  return { store, acknowledged: new Map(), bouts: [], known: new Map() };
};

/* ---- what is keyed ---- */

const oneOf = (random, list) => list[Math.floor(random() * list.length)];

const person = (name) => ({ name, athlete: name.split(" ")[1] });

function callAny(tangle, random) {
  const anew = tangle.bouts.length < 3 || random() < 0.3;
  const bout = anew ? newId("bout") : oneOf(random, tangle.bouts);
  if (anew) tangle.bouts.push(bout);
  const [red, blue] = [oneOf(random, NAMES), oneOf(random, NAMES)];
  const age = random() < 0.2 ? { age_group: "u15" } : {};
  const mat = random() < 0.1 ? undefined : oneOf(random, MATS);
  return call(bout, { mat, red: person(red), blue: person(blue), ...age });
}

function correction(tangle, random, bout) {
  const ids = tangle.known.get(bout) ?? [];
  if (ids.length === 0) return note(bout, "nothing to correct");
  const ref = oneOf(random, ids);
  const why = random() < 0.3 ? { why: "officials" } : {};
  if (random() < 0.5) return voided(bout, ref, why);
  return make("amend", bout, { ref, set: oneOf(random, [{ points: 1 }, { side: "blue" }, { text: "else" }]), ...why });
}

/** Any event; some of them are refused. */
function anyEvent(tangle, random) {
  if (tangle.bouts.length === 0 || random() < 0.05) return callAny(tangle, random);
  const bout = oneOf(random, tangle.bouts);
  const side = oneOf(random, ["red", "blue"]);
  const name = oneOf(random, NAMES);
  return oneOf(random, [
    () => score(bout, side, oneOf(random, [1, 2, 4]), random() < 0.4 ? { unconfirmed: true } : {}),
    () => score(bout, side, 2),
    () => clock(bout, oneOf(random, ["start", "stop"])),
    () => make("attack", bout, { side, techniques: ["single_leg"], outcome: "stopped" }),
    () => make("confirm", bout),
    () => note(bout, `Well done, ${name}`, oneOf(random, ["public", "booth"]), { side }),
    () => correction(tangle, random, bout),
    () => correction(tangle, random, bout),
    () => make("close", bout, { how: "points", winner: side, unconfirmed: random() < 0.5 }),
    () => ({ id: newId("entry"), type: "entry", athlete: name.split(" ")[1], name, minor: random() < 0.5 }),
    () => ({ id: newId("slot"), type: "slot", slot: `slot-${Math.floor(random() * 9)}`, mat: oneOf(random, MATS), red: { athlete: name.split(" ")[1] } }),
    () => ({ id: newId("x"), type: "nonsense", bout }),
  ])();
}

function acknowledge(tangle, event, seq) {
  tangle.acknowledged.set(event.id, seq);
  if (event.type !== "score" && event.type !== "note") return;
  tangle.known.set(event.bout, [...(tangle.known.get(event.bout) ?? []).slice(-20), event.id]);
}

/* ---- the four ways ---- */

async function keyByHttp(place, tangle, random) {
  while (place.goesOn()) {
    const count = random() < 0.3 ? 1 + Math.floor(random() * 8) : 1;
    const events = Array.from({ length: count }, () => anyEvent(tangle, random));
    const answer = await place.daemon.postText(ndjson(events), "application/x-ndjson").catch(() => undefined);
    if (answer?.status !== 200) continue;
    for (const [i, { id, seq }] of rows(answer.body).entries()) {
      assert.equal(id, events[i].id);
      acknowledge(tangle, events[i], seq);
    }
  }
}

async function keyByWebSocket(place, tangle, random) {
  while (place.goesOn()) {
    const line = await Line.open(place.daemon).catch(() => undefined);
    if (!line) continue;
    const events = Array.from({ length: 1 + Math.floor(random() * 12) }, () => anyEvent(tangle, random));
    for (const event of events) line.say({ event });
    if (random() < 0.3) {
      line.break(); // it may be on disk or not; nobody was told
      continue;
    }
    for (const event of events) {
      const answer = await line.answer(event.id).catch(() => undefined);
      if (answer?.ack) acknowledge(tangle, event, answer.ack.seq);
    }
    await line.close().catch(() => {});
  }
}

/** Every line is answered by a line, in their order. */
async function keyByLines(place, where, tangle, random) {
  while (place.goesOn()) {
    const socket = connect(where);
    const closed = new Promise((resolve) => socket.on("close", resolve));
    const events = Array.from({ length: 1 + Math.floor(random() * 30) }, () => anyEvent(tangle, random));
    let text = "";
    socket.on("error", () => {});
    socket.setEncoding("utf8").on("data", (piece) => (text += piece));
    socket.write(ndjson(events));
    if (random() < 0.3) setTimeout(() => socket.destroy(), random() * 10);
    else socket.end();
    await within(closed, "the end of a connection");
    let last = 0;
    for (const [i, line] of text.split("\n").slice(0, -1).entries()) {
      const { seq, id, problem } = JSON.parse(line);
      if (problem) {
        assert.ok(problem.line === i + 1 || problem.line === undefined, line);
        continue;
      }
      assert.equal(id, events[i].id, "answers come in the order of the lines");
      assert.ok(seq > last, "and were committed in it");
      last = seq;
      acknowledge(tangle, events[i], seq);
    }
  }
}

/* ---- the others ---- */

function anyAction(random) {
  const panel = oneOf(random, PANELS);
  const of = oneOf(random, [undefined, "mat/A/follow", "mat/B/follow", "mat/A/booth", "mat/Never/follow"]);
  return oneOf(random, [
    { prepare: { panel } },
    { take: { panel } },
    { take: { panel: "text", text: `Hello ${oneOf(random, NAMES)}` } },
    { take: { line: true } },
    { clear: {} },
    { hold: oneOf(random, ["freeze", "hide", "off"]) },
    { mat: oneOf(random, [...MATS, "", "Never"]) },
    { delay: { ms: Math.floor(random() * 400), ...(of && { of }) } },
    { delay: { ms: 0, ...(of && { of }) } },
    { arm: { rule: oneOf(random, RULES), on: random() < 0.7 } },
    { look: { theme: "light" } },
    { remove: {} },
    { nonsense: {} },
  ]);
}

async function produce(place, random) {
  while (place.goesOn()) {
    const name = oneOf(random, OUTPUTS);
    const line = random() < 0.5 ? await Line.open(place.daemon).catch(() => undefined) : undefined;
    for (let i = 0; line && i < 5; i++) line.say({ output: name, do: anyAction(random), id: `${i}` });
    if (line && random() < 0.5) line.break();
    else await line?.close().catch(() => {});
    if (random() < 0.3) await vanish(place, random, name);
    const body = JSON.stringify(anyAction(random));
    const headers = { "Content-Type": "application/json" };
    await place.daemon.ask(`/api/v1/outputs/${name}`, { method: "POST", headers, body }).catch(() => {});
  }
}

/** Sends a request, and is gone before its answer. */
async function vanish(place, random, name) {
  const { host, port } = place.daemon;
  const socket = connect({ host, port });
  const closed = new Promise((resolve) => socket.on("close", resolve));
  socket.on("error", () => {});
  const [path, body] = oneOf(random, [
    [`/api/v1/outputs/${name}`, JSON.stringify(anyAction(random))],
    ["/api/v1/talk", JSON.stringify({ say: { to: "booth", mat: oneOf(random, MATS), text: "gone" } })],
    ["/api/v1/events", JSON.stringify(note("nobody", "gone"))],
  ]);
  if (random() < 0.3) socket.write(`GET /api/v1/athletes/Brandt HTTP/1.1\r\nHost: ${host}:${port}\r\n\r\n`);
  else socket.write(
    `POST ${path} HTTP/1.1\r\nHost: ${host}:${port}\r\nContent-Type: application/json\r\n` +
      `Content-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`,
  );
  setTimeout(() => socket.destroy(), random() * 4);
  await closed;
}

async function read(place, random) {
  while (place.goesOn()) {
    const reading = await Reading.open(place.daemon, oneOf(random, READS)).catch(() => undefined);
    await new Promise((resume) => setTimeout(resume, random() * 60));
    reading?.close();
  }
}

async function follow(place, random) {
  let heard = [];
  while (place.goesOn()) {
    const line = await Line.greet(place.daemon, random() < 0.8 ? { hello: {} } : undefined).catch(() => undefined);
    if (!line) continue;
    if (heard.length > 0 && random() < 0.5) line.resume(...heard);
    else line.say({ subscribe: Array.from({ length: 4 }, () => ({ topic: oneOf(random, TOPICS) })) });
    if (random() < 0.2) line.say({ cut: { connected: `${Math.floor(random() * 60)}` } });
    await new Promise((resume) => setTimeout(resume, random() * 120));
    if (random() < 0.3) line.say({ unsubscribe: [oneOf(random, TOPICS)] });
    heard = [...line.topics.values()].filter(({ epoch }) => epoch);
    if (random() < 0.6) line.break();
    else await line.close().catch(() => {});
  }
}

/* ---- one life ---- */

async function assertAllThere({ store, acknowledged }) {
  const { code, out, errors } = await run(["export", "--store", store]);
  assert.equal(code, 0, errors);
  const found = rows(out);
  assert.deepEqual(found.map(({ seq }) => seq), found.map((_, i) => i + 1), "no gap");
  const kept = new Map(found.map(({ id, seq }) => [id, seq]));
  assert.equal(kept.size, found.length, "none twice");
  for (const [id, seq] of acknowledged) assert.equal(kept.get(id), seq, id);
  return found.length;
}

/** Asked twice, it ends at once; when it is all but gone by then, by the signal itself. */
async function stopTwice(daemon, random) {
  daemon.child.kill("SIGTERM");
  await new Promise((resume) => setTimeout(resume, random() * 80));
  daemon.child.kill("SIGTERM");
  const { code, signal } = await within(daemon.ended, () => `its end: ${daemon.errors.slice(-3000)}`);
  assert.ok(code === 0 || signal === "SIGTERM", `${code} ${daemon.errors.slice(-3000)}`);
}

function end(daemon, random) {
  const how = random();
  if (how < 0.4) return daemon.kill();
  return how < 0.7 ? stopTwice(daemon, random) : daemon.stop();
}

/** Started, everybody at it for as long, ended in one way or another. Answers in words how much
 *  there was. */
export async function assertTangle(tangle, random, ms = 1500) {
  const path = join(dirname(tangle.store), "lines");
  const values = join(dirname(tangle.store), "values");
  const lines = ["tcp:127.0.0.1:0", `unix:${path}`].flatMap((one) => ["--lines", one]);
  const words = [...lines, "--write-files", values, ...(random() < 0.8 ? ["--public-minors"] : [])];
  const daemon = await Daemon.start({ store: tangle.store, words });
  const place = { daemon, ended: false, goesOn: () => !place.ended && daemon.isAlive() };
  await until(() => daemon.out.includes("unix:"), "all addresses");
  const port = Number(/^tcp:127\.0\.0\.1:(\d+) /m.exec(daemon.out)[1]);
  const before = await assertAllThere(tangle);
  const busy = Promise.all([
    keyByHttp(place, tangle, random),
    keyByWebSocket(place, tangle, random),
    keyByLines(place, { host: "127.0.0.1", port }, tangle, random),
    keyByLines(place, { path }, tangle, random),
    produce(place, random),
    produce(place, random),
    ...Array.from({ length: 4 }, () => read(place, random)),
    ...Array.from({ length: 3 }, () => follow(place, random)),
  ]);
  busy.catch(() => {});
  try {
    if (random() < 0.3) daemon.child.kill("SIGHUP");
    await Promise.race([busy, new Promise((resume) => setTimeout(resume, ms * (0.3 + random())))]);
    assert.ok(daemon.isAlive(), `it ended by itself: ${daemon.errors.slice(-3000)}`);
    await end(daemon, random);
  } finally {
    place.ended = true;
    daemon.child.kill("SIGKILL");
  }
  await busy;
  const { code, errors } = await run(["check", tangle.store]);
  assert.equal(code, 0, errors);
  const after = await assertAllThere(tangle);
  return `${after - before} events more, ${tangle.acknowledged.size} acknowledged, ${tangle.bouts.length} bouts`;
}
