// Live: what is keyed reaches everyone who listens, as a snapshot and then as patches; who comes
// back gets what was missed; and nobody gets what is another audience's.
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { makeLog } from "../reading/maker.mjs";
import { call, clock, make, note, score, voided } from "../support/bouts.mjs";
import { daemonFor, PUBLIC_MINORS, startDaemon } from "../support/daemon.mjs";
import { Heard, Line, Reading, Stream, topicsOf } from "../support/listeners.mjs";
import { CuttableProxy } from "../support/proxy.mjs";
import { demoEvents, fold, movedSince, ndjson, root, rows } from "../support/program.mjs";

const TOPICS = topicsOf("A", "B");
const PUBLIC = ["mat/A/follow", "mat/B/follow", "out/main", "day/follow"];

let daemon;
let patient; // follows from the file's start, for the beat that comes every 15 s
before(async () => {
  daemon = await startDaemon();
  patient = await Stream.open(daemon.url(), "mat/Q/follow");
});
after(async () => {
  patient.close();
  await daemon.stop();
});

/** An event as the daemon takes it live. */
const live = ({ at, seq, by, ...event }) => event;

/** What is heard is what a GET answers. */
async function assertAsAnswered(line, topics, from = daemon) {
  for (const topic of topics) {
    const answered = await from.topic(topic);
    await line.state(topic, answered.seq);
    const heard = line.topics.get(topic);
    if (heard.seq !== answered.seq) continue; // time has made a newer one meanwhile
    assert.deepEqual(heard.state, answered.state, topic);
    assert.equal(heard.epoch, answered.epoch);
  }
}

/** Whether the bout's state is what `fold` makes of its log at the daemon's now. That now isn't in
 *  the answer; it is read from what moves with it, and must lie between two looks at the clock. */
async function assertFolded(line, bout, from = daemon) {
  const before_ms = (await line.clock()).t1_ms;
  const [state, log] = [await from.bout(bout), await from.log(bout)];
  const after_ms = (await line.clock()).t2_ms;
  const events = rows(log);
  assert.equal(state.seq, events.at(-1).seq);
  state.seq = events.length; // `fold` counts the events of its file
  const at = (ms) => new Date(ms).toISOString();
  const early = (await fold(log, "--now", at(before_ms))).get(bout);
  const moved_ms = movedSince(early, state);
  assert.ok(moved_ms >= 0 && moved_ms <= after_ms - before_ms, `${bout}: ${moved_ms}`);
  const want =
    moved_ms === 0 ? early : (await fold(log, "--now", at(before_ms + moved_ms))).get(bout);
  assert.deepEqual(state, want, bout);
}

test("an event reaches a WebSocket, an event stream and a reader of plain text", async (t) => {
  await daemon.post(call("w", { mat: "W" }));
  const line = await Line.open(daemon, "mat/W/table", "mat/W/follow", "mat/W/booth");
  const stream = await Stream.open(daemon.url(), "mat/W/table");
  const reading = await Reading.open(daemon, "/text/W");
  t.after(() => (line.close(), stream.close(), reading.close()));
  assert.match(reading.headers["content-type"], /^text\/plain/);
  const event = score("w", "red", 2);
  const seq = await daemon.post(event);
  const has = (state) => state.events?.[seq]?.id === event.id;
  const table = await line.state("mat/W/table", has);
  assert.deepEqual(await stream.state(has), table);
  assert.deepEqual(table.bout.score, { red: 2, blue: 0 });
  const follow = await line.state("mat/W/follow", (state) =>
    Object.values(state.lines).some((told) => told.event === event.id),
  );
  const told = Object.values(follow.lines).find((one) => one.event === event.id);
  await reading.until((text) => text.includes(`${told.text}\n`), told.text);
  const said = note("w", "Verbatim: „Ünïcode“, 'quotes' & <marks> 🤼");
  await daemon.post(said);
  await reading.until((text) => text.endsWith(`${said.text}\n`), said.text);
  const newest = await line.state(
    "mat/W/follow",
    (state) => Object.values(state.lines).at(-1).event === said.id,
  );
  assert.equal(Object.values(newest.lines).at(-1).text, said.text);
  assert.equal(Object.values(newest.lines).at(-1).kind, "note");
});

test("text since a line answers and ends, and its numbers are those of the lines", async () => {
  const { lines } = (await daemon.topic("mat/W/follow")).state;
  const numbers = Object.keys(lines).map(Number);
  assert.deepEqual(
    numbers,
    numbers.map((_, i) => i + 1),
  );
  const texts = Object.values(lines).map(({ text }) => text);
  for (let since = 0; since <= texts.length + 1; since++) {
    const { status, body } = await daemon.ask(`/text/W?since=${since}`);
    assert.equal(status, 200);
    assert.deepEqual(body.split("\n").slice(0, -1), texts.slice(since));
  }
});

test("a beat comes each second to those who work with it, and the clock answers", async (t) => {
  const line = await Line.open(daemon, "mat/W/table");
  const stream = await Stream.open(daemon.url(), "out/main");
  t.after(() => (line.close(), stream.close()));
  const { beat } = await line.find((message) => "beat" in message, "a beat");
  assert.match(beat.now, /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/);
  await line.find((message) => message.beat?.now > beat.now, "a later beat");
  await stream.heard.find(({ kind }) => kind === "beat", "a beat of the screen's");
  const sent_ms = Date.now();
  const { t0_ms, t1_ms, t2_ms } = await line.clock(sent_ms);
  const heard_ms = Date.now();
  assert.equal(t0_ms, sent_ms);
  assert.ok(
    t1_ms <= t2_ms && sent_ms - 1000 <= t1_ms && t2_ms <= heard_ms + 1000,
    `${sent_ms} ${t1_ms} ${t2_ms} ${heard_ms}`,
  );
});

test("nothing is sent because a second has passed: a running clock is an anchor", async (t) => {
  await daemon.postAll([call("run", { mat: "R" }), clock("run", "start")]);
  const topics = ["mat/R/table", "mat/R/follow", "mat/R/booth", "out/main", "day/follow"];
  const line = await Line.open(daemon, ...topics);
  t.after(() => line.close());
  const place = () => topics.map((topic) => line.topics.get(topic).seq);
  const was = place();
  const anchor = line.topics.get("mat/R/table").state.bout.clock.t_ms;
  const early = (await daemon.bout("run")).clock.t_ms;
  for (let beats = 0, from = 0; beats < 2; beats++)
    from = (await line.heard.find((message) => "beat" in message, "a beat", from)).place + 1;
  assert.deepEqual(place(), was);
  assert.ok((await daemon.bout("run")).clock.t_ms > early);
  assert.equal(line.topics.get("mat/R/table").state.bout.clock.t_ms, anchor);
  await assertFolded(line, "run");
  await daemon.post(clock("run", "stop"));
});

test("time alone is news when a period runs out", async (t) => {
  const length = { periods: 2, period_ms: 1000, break_ms: 1000 };
  await daemon.postAll([call("short", { mat: "S", length }), clock("short", "start")]);
  const line = await Line.open(daemon, "mat/S/table", "mat/S/follow");
  t.after(() => line.close());
  const table = await line.state("mat/S/table", ({ bout }) => bout.phase === "break");
  assert.equal(table.bout.clock.running, false);
  assert.equal(table.bout.clock.t_ms, 1000);
  assert.ok(Date.parse(table.bout.break.ends_at) > Date.parse(table.bout.clock.at));
  await line.state("mat/S/follow", ({ lines }) =>
    Object.values(lines).some(({ kind, event }) => kind === "clock" && !event),
  );
  await daemon.post(clock("short", "start", { period: 2 }));
  await line.state("mat/S/table", ({ bout }) => bout.phase === "over" && bout.due === "time");
});

test("the demo day, one by one: what is heard is what is answered, and what fold makes", async (t) => {
  const own = await daemonFor(t, PUBLIC_MINORS);
  const line = await Line.open(own, ...TOPICS);
  const streams = await Promise.all(
    ["mat/A/table", "mat/B/follow"].map((topic) => Stream.open(own.url(), topic)),
  );
  const reading = await Reading.open(own, "/text/A");
  t.after(() => (line.close(), reading.close(), streams.forEach((stream) => stream.close())));
  const events = demoEvents();
  for (const [i, event] of events.entries()) {
    assert.equal(await own.post(live(event)), i + 1);
    if (i % 11 === 0 || i > events.length - 30) await assertAsAnswered(line, TOPICS, own);
    if (i % 47 === 0 && event.bout) await assertFolded(line, event.bout, own);
  }
  await assertAsAnswered(line, TOPICS, own);
  for (const bout of new Set(events.map(({ bout }) => bout).filter(Boolean)))
    await assertFolded(line, bout, own);
  for (const topic of TOPICS) {
    const heard = line.topics.get(topic);
    assert.equal(heard.states, 1, `${topic}: one snapshot, then patches`);
    assert.ok(heard.patches > 10, topic);
  }
  for (const stream of streams) {
    const { seq, state } = await own.topic(stream.topic.topic);
    assert.deepEqual(await stream.state(seq), state);
    assert.equal(stream.topic.states, 1);
  }
  const told = (await own.get("/text/A?since=0")).split("\n").slice(0, -1);
  await reading.until(() => reading.lines.length >= told.length, "all lines");
  assert.deepEqual(reading.lines, told);
  assertNoSecrets(line, events, told.join("\n"));
});

/** No word that is for the booth alone in anything that the public heard. */
function assertNoSecrets(line, events, text) {
  const secrets = events
    .filter(({ type, to }) => type === "note" && to === "booth")
    .map((event) => event.text);
  const facts = events.flatMap(({ facts }) => facts ?? []);
  assert.ok(secrets.length > 5 && facts.length > 5);
  const published = line.heard.items.filter(({ topic }) => PUBLIC.includes(topic));
  const words = [text, ...published.map((message) => JSON.stringify(message))].join("\n");
  for (const secret of [...secrets, ...facts])
    assert.ok(!words.includes(JSON.stringify(secret).slice(1, -1)), secret);
  for (const { state, patch } of published)
    for (const name of ["events", "notes", "cards"]) assert.ok(!(name in (state ?? patch)), name);
  const heard = line.heard.items.filter(({ topic }) => topic?.endsWith("/booth"));
  assert.ok(
    secrets.some((secret) => JSON.stringify(heard).includes(JSON.stringify(secret).slice(1, -1))),
  );
}

test("the demo day, all at once: the same states as one by one", async (t) => {
  const own = await daemonFor(t, PUBLIC_MINORS);
  const line = await Line.open(own, ...TOPICS);
  t.after(() => line.close());
  // Keyed when it was keyed, the whole day so long ago that its last event is of now.
  const events = demoEvents();
  const { t2_ms } = await line.clock();
  const back_ms = t2_ms - Date.parse(events.at(-1).at);
  const keyed = events.map((event) => ({
    ...live(event),
    keyed_at: new Date(Date.parse(event.keyed_at ?? event.at) + back_ms).toISOString(),
  }));
  await own.postAll(keyed);
  await assertAsAnswered(line, TOPICS, own);
  const want = await fold(ndjson(events));
  for (const [bout, state] of want) {
    const got = await own.bout(bout);
    assert.deepEqual(got, state, bout);
    await assertFolded(line, bout, own);
  }
});

const editionFolder = join(root, "daemon/rules/editions");
const editions = Object.fromEntries(
  readdirSync(editionFolder)
    .map((name) => JSON.parse(readFileSync(join(editionFolder, name), "utf8")))
    .map((edition) => [edition.name, edition]),
);

for (const seed of [1, 2, 3, 4]) {
  test(`a random log, with what must be refused: live as from a file (seed ${seed})`, async (t) => {
    const own = await daemonFor(t);
    const line = await Line.open(own, "day/booth", "out/main");
    t.after(() => line.close());
    const { lines, bad } = makeLog(seed, { editions, events: 150, mode: "hostile" });
    const bouts = new Set();
    for (const [i, row] of lines.entries()) {
      if (bad.has(i + 1) || Buffer.isBuffer(row) || !row.trim()) {
        await own.postText(row); // refused, or not: it is only `at` that a file wants and we don't
        continue;
      }
      const event = JSON.parse(row);
      const { status, body } = await own.postText(JSON.stringify(live(event)));
      if (event.do === "lost") assert.equal(status, 422);
      if (status === 200 && event.bout) bouts.add(event.bout);
      if (status !== 200) JSON.parse(body);
    }
    assert.ok(bouts.size > 0);
    for (const bout of bouts) await assertFolded(line, bout, own);
    const mats = Object.keys(line.topics.get("day/booth").state.mats);
    await line.follow(...mats.map((mat) => `mat/${mat}/table`));
    await assertAsAnswered(
      line,
      [...mats.map((mat) => `mat/${mat}/table`), "day/booth", "out/main"],
      own,
    );
  });
}

test("who comes back gets exactly what was missed, and can tell", async (t) => {
  await daemon.postAll([call("back", { mat: "K" }), score("back", "red", 1)]);
  const first = await Line.open(daemon, "mat/K/table", "mat/K/follow");
  const heard = ["mat/K/table", "mat/K/follow"].map((topic) => first.topics.get(topic));
  first.break();
  await first.closed;
  for (let i = 0; i < 10; i++) await daemon.post(score("back", "blue", 1));
  const again = await Line.open(daemon);
  t.after(() => again.close());
  again.resume(...heard);
  await assertAsAnswered(again, ["mat/K/table", "mat/K/follow"]);
  for (const { topic, seq } of heard) {
    const now = again.topics.get(topic);
    assert.deepEqual([now.states, now.patches], [0, 10], topic);
    assert.equal(again.heard.items.find((message) => message.topic === topic).from, seq);
  }
  // Nothing missed: an empty patch says so.
  const same = await Line.open(daemon);
  t.after(() => same.close());
  same.resume(again.topics.get("mat/K/table"));
  const message = await same.find(({ topic }) => topic === "mat/K/table", "an answer");
  assert.deepEqual(message.patch, {});
  assert.equal(message.from, message.seq);
});

test("who can't be told what was missed gets a snapshot", async (t) => {
  const { epoch, seq, state } = await daemon.topic("mat/K/table");
  const line = await Line.open(daemon);
  t.after(() => line.close());
  for (const place of [
    { epoch: "0123456789abcdef.00", seq },
    { epoch, seq: seq + 1 },
    { epoch: "", seq: 1 },
    { seq },
    { epoch },
    { epoch, seq: 0 },
    { epoch, seq: "1" },
  ]) {
    const from = line.heard.items.length;
    line.say({ subscribe: [{ topic: "mat/K/table", ...place }] });
    const message = await line.find(
      ({ topic }) => topic === "mat/K/table",
      JSON.stringify(place),
      from,
    );
    assert.deepEqual(message.state, state, JSON.stringify(place));
  }
});

test("an unsubscribed topic is silent", async (t) => {
  const line = await Line.open(daemon, "mat/K/table", "mat/K/follow");
  t.after(() => line.close());
  line.say({ unsubscribe: ["mat/K/table"] });
  await line.clock();
  const from = line.heard.items.length;
  await daemon.post(score("back", "red", 1));
  await line.find(({ topic }) => topic === "mat/K/follow", "the other topic", from);
  await line.clock();
  assert.ok(!line.heard.items.slice(from).some(({ topic }) => topic === "mat/K/table"));
});

test("an event stream resumes by Last-Event-ID, with what was missed or a snapshot", async (t) => {
  const { epoch, seq } = await daemon.topic("mat/K/table");
  await daemon.post(score("back", "red", 1));
  await daemon.post(score("back", "red", 1));
  const resumed = await Reading.open(daemon, "/sse/mat/K/table", {
    "Last-Event-ID": `${epoch}-${seq}`,
  });
  const fresh = await Reading.open(daemon, "/sse/mat/K/table", {
    "Last-Event-ID": `${epoch}x-${seq}`,
  });
  t.after(() => (resumed.close(), fresh.close()));
  assert.match(resumed.headers["content-type"], /^text\/event-stream/);
  assert.match(resumed.headers["cache-control"], /no-(store|cache)/);
  await resumed.until((text) => text.includes(`id: ${epoch}-${seq + 2}\n`), "two patches");
  assert.ok(!resumed.text.includes("event: state"));
  await fresh.until((text) => text.includes("event: state"), "a snapshot");
});

test("a browser's event stream that is cut comes back by itself and misses nothing", async (t) => {
  const proxy = await CuttableProxy.open(daemon);
  const stream = await Stream.open(proxy.url(), "mat/K/table");
  t.after(() => (stream.close(), proxy.close()));
  proxy.cut();
  const event = score("back", "blue", 2);
  const seq = await daemon.post(event);
  await stream.state(({ events }) => events[seq]?.id === event.id);
  assert.equal(stream.topic.states, 1, "resumed, not begun anew");
  assert.deepEqual(stream.topic.state, (await daemon.topic("mat/K/table")).state);
});

test("a topic of long ago is a snapshot: the patches kept are bounded", async (t) => {
  const { epoch, seq } = await daemon.topic("mat/K/follow");
  const notes = Array.from({ length: 300 }, (_, i) => note("back", `Line ${i}`));
  for (let i = 0; i < notes.length; i += 50)
    await Promise.all(notes.slice(i, i + 50).map((event) => daemon.post(event)));
  const line = await Line.open(daemon);
  t.after(() => line.close());
  line.say({ subscribe: [{ topic: "mat/K/follow", epoch, seq }] });
  const message = await line.find(({ topic }) => topic === "mat/K/follow", "an answer");
  // Notes that were committed together are one version; either way nothing is missing.
  const versions = (await daemon.topic("mat/K/follow")).seq - seq;
  if (versions > 256) assert.ok(message.state, "a snapshot");
  const lines = Object.values(message.state?.lines ?? message.patch.lines);
  if (message.state) assert.equal(lines.filter(({ kind }) => kind === "note").length, 300);
  else
    await line.state(
      "mat/K/follow",
      (state) => lines.at(-1).text && Object.keys(state.lines).length >= 300,
    );
});

test("a mat shows the bout last called to it that is not off", async (t) => {
  const line = await Line.open(daemon, "mat/M/table", "mat/N/table", "day/follow");
  t.after(() => line.close());
  const shows = (mat, bout) => line.state(`mat/${mat}/table`, (state) => state.bout?.bout === bout);
  const one = call("m1", { mat: "M" });
  await daemon.post(one);
  await shows("M", "m1");
  await daemon.post(call("m2", { mat: "M" }));
  await shows("M", "m2");
  await daemon.post(score("m1", "red", 4));
  await daemon.post(call("m1", { mat: "M" })); // details only: it isn't called again
  assert.equal((await daemon.topic("mat/M/table")).state.bout.bout, "m2");
  await daemon.post(call("m2", { mat: "M", off: true }));
  await shows("M", "m1");
  await daemon.post(call("m2", { mat: "M", call: true }));
  await shows("M", "m2");
  await daemon.post(call("m2", { mat: "N" }));
  await shows("M", "m1");
  await shows("N", "m2");
  await daemon.post(call("m2", { mat: "N", off: true }));
  await shows("N", undefined);
  assert.deepEqual(line.topics.get("mat/N/table").state, { mat: "N" });
  await line.state("day/follow", ({ mats }) => !("N" in mats) && mats.M.bout === "m1");
});

test("a result stands in the day's list, until it is taken back", async (t) => {
  const line = await Line.open(daemon, "day/follow", "day/booth");
  t.after(() => line.close());
  await daemon.postAll([call("res", { mat: "P", number: "12" }), score("res", "red", 4)]);
  const close = make("close", "res", { how: "points", winner: "red" });
  const seq = await daemon.post(close);
  const listed = await line.state("day/follow", ({ results }) => seq in results);
  assert.deepEqual(listed.results[seq], {
    bout: "res",
    mat: "P",
    number: "12",
    red: "Ilse Brandt",
    blue: "Noor Haddad",
    score: { red: 4, blue: 0 },
    how: "points",
    code: "VPO",
    winner: "red",
    time_ms: 0,
  });
  await daemon.post(voided("res", close.id, { why: "officials" }));
  await line.state("day/follow", ({ results }) => !(seq in (results ?? {})));
});

test("a slow listener holds up nobody, and gets the newest state when it wakes", async (t) => {
  const proxy = await CuttableProxy.open(daemon);
  const slow = await Line.open({ host: proxy.host, port: proxy.port }, "mat/L/table");
  const quick = await Line.open(daemon, "mat/L/table");
  t.after(() => (slow.break(), quick.close(), proxy.close()));
  proxy.stall();
  await daemon.post(call("slow", { mat: "L" }));
  let last;
  for (let i = 0; i < 30; i++) {
    const many = Array.from({ length: 100 }, (_, n) =>
      note("slow", `${i} ${n} ${"x".repeat(240)}`, "booth"),
    );
    last = (await daemon.postAll(many)).at(-1);
    await quick.state("mat/L/table", ({ events }) => last in events);
  }
  proxy.resume();
  // Let go with a reason, or brought up to date: never a gap.
  const woken = slow
    .state("mat/L/table", ({ events }) => last in (events ?? {}))
    .then(() => "up to date");
  const ended = slow.closed.then(() => "let go");
  const how = await Promise.race([woken.catch(() => ended), ended]);
  assert.ok(["up to date", "let go"].includes(how));
});

test("a follower hears a beat within its longer time", () =>
  patient.heard.find(({ kind }) => kind === "beat", "a follower's beat"));

test("what is heard of a topic is the same from any start", () => {
  const heard = new Heard("x");
  heard.take({ topic: "x", epoch: "e", seq: 4, state: { a: 1, b: { c: 2 } } });
  heard.take({ topic: "x", epoch: "e", from: 4, seq: 5, patch: { a: null, b: { d: 3 } } });
  assert.deepEqual(heard.state, { b: { c: 2, d: 3 } });
  assert.throws(() => heard.take({ topic: "x", epoch: "e", from: 4, seq: 5, patch: {} }));
});
