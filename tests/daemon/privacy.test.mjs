// Minors: what the public gets of them, whatever the address; that hiding an athlete hides what was
// said before, too; and that a day with minors isn't public until somebody has said so.
import assert from "node:assert/strict";
import { test } from "node:test";
import { call, clock, make, newId, note, score } from "../support/bouts.mjs";
import { assertProblem, Daemon, daemonFor, PUBLIC_MINORS } from "../support/daemon.mjs";
import { Heard, Line, Reading, Stream } from "../support/listeners.mjs";
import { demoEvents, temporaryFolder } from "../support/program.mjs";

const live = ({ at, seq, by, ...event }) => event;
const entry = (athlete, more) => ({ id: newId("entry"), type: "entry", athlete, ...more });

/** Everything that the public can have of a mat, for as long as it is open: by WebSocket, event
 *  stream and text while it happens, and by every plain address at the end. As text. */
class Public {
  static async open(t, daemon, mat, bout) {
    const open = new Public();
    open.topics = [`mat/${mat}/follow`, "day/follow", "out/main"];
    Object.assign(open, { daemon, mat, bout });
    open.line = await Line.open(daemon, ...open.topics);
    open.streams = await Promise.all(open.topics.map((topic) => Stream.open(daemon.url(), topic)));
    open.reading = await Reading.open(daemon, `/text/${mat}`);
    t.after(() => {
      open.line.close();
      open.reading.close();
      for (const stream of open.streams) stream.close();
    });
    return open;
  }

  /** Waits until all of it has heard the newest. */
  async settle() {
    for (const [i, topic] of this.topics.entries()) {
      const { seq } = await this.daemon.topic(topic);
      await this.line.state(topic, seq);
      await this.streams[i].state(seq);
    }
    const text = await this.daemon.get(`/text/${this.mat}?since=0`);
    const last = `${text.split("\n").at(-2)}\n`;
    await this.reading.until((heard) => heard.endsWith(last), last);
  }

  /** What was sent while it happened. */
  get heard() {
    return [
      ...this.line.heard.items.map((message) => JSON.stringify(message)),
      ...this.streams.flatMap(({ heard }) => heard.items.map((item) => JSON.stringify(item))),
      this.reading.text,
    ].join("\n");
  }

  /** What is answered to who asks now. */
  async answered() {
    const paths = [
      ...this.topics.map((topic) => `/api/v1/topics/${topic}`),
      `/text/${this.mat}?since=0`,
      "/api/v1/results.atom",
      "/api/v1/results.csv",
      "/api/v1/scores.csv",
    ];
    return (await Promise.all(paths.map((path) => this.daemon.get(path)))).join("\n");
  }
}

const assertSays = (text, ...words) => {
  for (const word of words) assert.ok(text.includes(word), `${word} in ${text.slice(0, 2000)}`);
};
const assertSilent = (text, ...words) => {
  for (const word of words) {
    const at = text.toLowerCase().indexOf(word.toLowerCase());
    assert.equal(at, -1, `${word} in …${text.slice(at - 200, at + 200)}…`);
  }
};

test("the u17 bout of the demo day: initials but for consent, no weight, in every public byte", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const events = demoEvents().map(live);
  await daemon.postAll(events.filter(({ type }) => type === "entry"));
  const own = events.filter(({ bout }) => bout === "b4");
  assert.equal(own[0].age_group, "u17");
  const open = await Public.open(t, daemon, "B", "b4");
  for (const event of own) await daemon.post(event);
  await open.settle();
  const { state } = await daemon.topic("mat/B/follow");
  assert.equal(state.bout.phase, "closed");
  const all = open.heard + (await open.answered());
  // Iriarteche's entry has no consent, Aldershaw's has.
  assertSays(all, "PI (Alto Mirasal)", "Signe Aldershaw", '"name":"PI"');
  assertSilent(all, "Iriarteche", "Paloma", '"weight"', "53 kg", '"slot"');
  // The table and the booth must know whom they speak of.
  const booth = JSON.stringify((await daemon.topic("mat/B/booth")).state);
  assertSays(booth, "Paloma Iriarteche", '"weight":"53"');
  assertSays(JSON.stringify((await daemon.topic("mat/B/table")).state), "Paloma Iriarteche");
  assertSays(JSON.stringify((await daemon.topic("day/booth")).state), "Paloma Iriarteche");
});

test("the whole demo day: nobody but the two of the u17 bout is anything but as before", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  await daemon.postAll(demoEvents().map(live));
  const day = (await daemon.topic("day/follow")).state;
  const booth = (await daemon.topic("day/booth")).state;
  for (const [seq, result] of Object.entries(booth.results)) {
    const shown = day.results[seq];
    if (result.bout === "b4")
      assert.deepEqual(shown, { ...result, red: "Signe Aldershaw", blue: "PI" });
    else assert.deepEqual(shown, result);
  }
  const told = await daemon.get("/text/B?since=0");
  assertSilent(told, "Iriarteche", "53 kg");
  assertSays(told, "Women 57 kg", "Women, final.");
});

test("injuries of minors are stoppages, and public notes don't tell their names", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const open = await Public.open(t, daemon, "A", "y");
  for (const event of [
    entry("y1", { name: "Ada Brandt", minor: true }),
    call("y", { age_group: "u15", red: { name: "Ada Brandt", athlete: "y1" }, weight: "42" }),
    clock("y", "start"),
    make("stoppage", "y", { kind: "injury", side: "red", do: "start" }),
    note("y", "Brandt holds her shoulder", "booth"),
    note("y", "Play goes on, Noor HADDAD leads Ada Brandt"),
    make("stoppage", "y", { kind: "injury", side: "red", do: "stop" }),
    score("y", "blue", 1, { action: "injury_stop" }),
    // Another bout's note may tell the names of this one no more than its own.
    call("z", { mat: "B" }),
    note("z", "On mat A, Brandt is down"),
  ])
    await daemon.post(event);
  await open.settle();
  const all = open.heard + (await open.answered()) + (await daemon.get("/text/B?since=0"));
  assertSays(all, "Play goes on, NH leads AB", "On mat A, AB is down");
  assertSays(all, '"kind":"other"', "bout_stop");
  assertSilent(all, "Ada", "injury", "treatment", "shoulder", '"42"', "42 kg");
  assertSays(JSON.stringify((await daemon.topic("mat/A/booth")).state), "injury", "shoulder");
});

test("one entry hides an athlete in everything, what was said before included", async (t) => {
  const store = `${temporaryFolder()}/day.sqlite`;
  const daemon = await daemonFor(t, { store, ...PUBLIC_MINORS });
  const red = { name: "Ilse Brandt", team: "Harbour", athlete: "a1" };
  await daemon.postAll([
    entry("a1", { name: "Ilse Brandt" }),
    call("x", { red }),
    clock("x", "start"),
    score("x", "red", 2),
    note("x", "Brandt from the first second"),
  ]);
  const before = new Map();
  for (const topic of ["mat/A/follow", "out/main", "day/follow"])
    before.set(topic, await daemon.topic(topic));
  assertSays(JSON.stringify([...before.values()]), "Ilse Brandt");
  const open = await Public.open(t, daemon, "A", "x");
  const hiding = entry("a1", { minor: true, consent: false });
  const from = open.line.heard.items.length;
  await daemon.post(hiding);
  await open.line.state("mat/A/follow", ({ bout }) => bout.details.red.name === "IB");
  await open.line.state("out/main", ({ bout }) => bout.details.red.name === "IB");
  await open.line.state("day/follow", ({ mats }) => mats.A.red.name === "IB");
  await daemon.post(make("close", "x", { how: "fall", winner: "red" }));
  await open.settle();
  const after = open.line.heard.items.slice(from).map((message) => JSON.stringify(message));
  for (const text of [after.join("\n"), await open.answered()]) {
    assertSilent(text, "Brandt", "Ilse");
    assertSays(text, "IB");
  }
  const told = await daemon.get("/text/A?since=0");
  assertSays(told, "IB takes down Noor Haddad", "IB from the first second");
  // Who comes back from before isn't given the versions that told it.
  const late = await Line.open(daemon);
  t.after(() => late.close());
  late.resume(...[...before].map(([topic, had]) => Object.assign(new Heard(topic), had)));
  for (const topic of before.keys()) await late.find((message) => message.topic === topic, topic);
  assertSilent(late.heard.items.map((message) => JSON.stringify(message)).join("\n"), "Brandt");
  // The same after a restart, line for line.
  const lines = (await daemon.topic("mat/A/follow")).state.lines;
  await daemon.stop();
  const again = await daemonFor(t, { store, ...PUBLIC_MINORS });
  assert.deepEqual((await again.topic("mat/A/follow")).state.lines, lines);
  // And the name comes back with the consent.
  await again.post(entry("a1", { consent: true }));
  assertSays(await again.get("/text/A?since=0"), "Ilse Brandt takes down Noor Haddad");
});

test("a bout that turns out to be one of minors is told anew", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const open = await Public.open(t, daemon, "A", "x");
  const called = call("x", { style: "freestyle" });
  await daemon.postAll([called, clock("x", "start"), score("x", "red", 2)]);
  const { id, ...details } = called;
  await daemon.post({ ...details, id: `${id}-again`, age_group: "u17" });
  await open.line.state("mat/A/follow", ({ bout }) => bout.details.red.name === "IB");
  assertSilent(await open.answered(), "Brandt", "Haddad", "57 kg", '"weight"');
  assert.deepEqual((await daemon.bout("x")).score, { red: 2, blue: 0 });
});

test("a day with minors is not public until it is made so by name", async (t) => {
  const store = `${temporaryFolder()}/day.sqlite`;
  const daemon = await daemonFor(t, { store });
  await daemon.postAll([call("x"), score("x", "red", 2)]);
  const line = await Line.open(daemon, "mat/A/follow", "day/follow", "out/main", "mat/A/booth");
  const reading = await Reading.open(daemon, "/text/A");
  t.after(() => (line.close(), reading.close()));
  await reading.until((text) => text.includes("Brandt"), "the day while it has no minors");
  const had = Object.assign(new Heard("mat/A/follow"), line.topics.get("mat/A/follow"));
  await daemon.post(call("y", { mat: "B", age_group: "u17" }));
  const off = (state) => state.withheld === "minors";
  assert.deepEqual(await line.state("mat/A/follow", off), { mat: "A", withheld: "minors" });
  assert.deepEqual(await line.state("day/follow", off), { mats: {}, withheld: "minors" });
  const out = await line.state("out/main", off);
  assert.ok(!("bout" in out), "nor is anything on the screen");
  assert.match(daemon.errors, /level=warning .*public feed is off until --public-minors/);
  // Those who work go on.
  const event = score("x", "blue", 4, { technique: "arm_throw" });
  const at = await daemon.post(event);
  await line.state("mat/A/booth", ({ events }) => events[at]);
  assert.ok(!reading.text.includes("4"));
  assertProblem(await daemon.ask("/text/A"), { status: 403, type: "public-off" });
  assertProblem(await daemon.ask("/text/A?since=0"), { status: 403, type: "public-off" });
  const late = await Line.open(daemon);
  t.after(() => late.close());
  late.resume(had);
  await late.state("mat/A/follow", off);
  assertSilent(late.heard.items.map((message) => JSON.stringify(message)).join("\n"), "Brandt");
  await daemon.stop();
  const on = await Daemon.start({ store, ...PUBLIC_MINORS });
  t.after(() => on.stop());
  assertSays(await on.get("/text/A?since=0"), "Brandt", "4");
  assertSays(await on.get("/api/v1/topics/mat/B/follow"), '"name":"IB"');
});

test("by the environment too; and a roster alone makes it a day with minors", async (t) => {
  const on = await daemonFor(t, { env: { BOUTWIRE_PUBLIC_MINORS: "yes" } });
  const off = await daemonFor(t, { env: { BOUTWIRE_PUBLIC_MINORS: "no" } });
  for (const daemon of [on, off])
    await daemon.postAll([call("x"), entry("a9", { name: "Eva Holm", age_group: "u15" })]);
  assert.ok((await on.topic("mat/A/follow")).state.bout);
  assert.equal((await off.topic("mat/A/follow")).state.withheld, "minors");
  // A slip: the roster is corrected, and the day is as public as before.
  await off.post(entry("a9", { minor: false }));
  assert.equal((await off.topic("mat/A/follow")).state.withheld, undefined);
  assert.ok((await off.topic("mat/A/follow")).state.bout);
});

test("nothing that is answered may be kept by a search engine", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("x"));
  const topic = "/api/v1/topics/mat/A/follow";
  for (const path of [topic, "/api/v1/bouts/x", "/text/A?since=0", "/api/v1/none", "/", "/healthz"])
    assert.match((await daemon.ask(path)).headers["x-robots-tag"], /noindex/, path);
});
