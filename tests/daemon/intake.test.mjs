// Intake: what is taken, what is refused and in which words, over HTTP and over the WebSocket; and
// that what is refused changes nothing.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { call, clock, make, newId, note, score, voided } from "../support/bouts.mjs";
import { assertProblem, checkProblem, daemonFor, startDaemon } from "../support/daemon.mjs";
import { Line, topicsOf } from "../support/listeners.mjs";
import { fold, ndjson, root, rows } from "../support/program.mjs";

const TOPICS = topicsOf("A");
const log = [
  call("b"),
  call("g", { rules: "greco-2026", style: "greco_roman", mat: "B" }),
  clock("b", "set", { period: 1, t_ms: 61000 }),
  make("attack", "b", { id: "b-attack", side: "red", techniques: ["double_leg"], outcome: "open" }),
  score("b", "red", 2, { id: "b-score", attack: "b-attack", technique: "double_leg" }),
  note("b", "Watch the left knee", "booth", { id: "b-note" }),
  voided("b", "b-note", { id: "b-void" }),
  note("g", "Begins shortly", "public", { id: "g-note" }),
];

let daemon;
let line;
before(async () => {
  daemon = await startDaemon();
  await daemon.postAll(log);
  line = await Line.open(daemon);
});
after(async () => {
  await line.close();
  await daemon.stop();
});

/** All that can be seen of the bouts, as text. */
async function seen() {
  const parts = await Promise.all([
    ...TOPICS.map((topic) => daemon.get(`/api/v1/topics/${topic}`)),
    ...["b", "g"].flatMap((bout) => [daemon.get(`/api/v1/bouts/${bout}`), daemon.log(bout)]),
  ]);
  return parts.join("\n");
}

/** Does something that must change nothing. */
async function changingNothing(act) {
  const was = await seen();
  await act();
  assert.equal(await seen(), was);
  assert.ok(daemon.isAlive());
}

const without = (event, name) =>
  Object.fromEntries(Object.entries(event).filter(([member]) => member !== name));
const long = (count) => "ü".repeat(count);
const caution = (more) =>
  make("caution", "b", { side: "red", reason: "fleeing_mat", points: 1, ...more });
const passivity = (bout, more) => make("passivity", bout, { side: "red", ...more });
const challenge = (more) => make("challenge", "b", { side: "red", ...more });
const close = (more) => make("close", "b", more);
const amend = (ref, more) => make("amend", "b", { ref, ...more });
const entry = (more) => ({ id: newId("day"), type: "entry", athlete: "x1", ...more });
const attack = (more) =>
  make("attack", "b", { side: "red", techniques: ["sweep"], outcome: "stopped", ...more });

// Each with the kind of problem and the place it must name. Sources: docs/events.md, "What is
// refused" and the tables of each type; RFC 6901 for the pointers.
const UNPROCESSABLE = [
  ["an unknown type", make("goal", "b"), "type", "/type"],
  ["a member that the type doesn't have", caution({ leg: "lead" }), "member-unknown", "/leg"],
  ["a member of another JSON type", score("b", "red", 2, { points: "2" }), "member-type", "/points"],
  ["null", score("b", "red", 2, { leg: null }), "member-type", "/leg"],
  ["a fraction", score("b", "red", 2, { points: 1.5 }), "member-type", "/points"],
  ["a flag that is false", score("b", "red", 2, { unconfirmed: false }), "member-type", "/unconfirmed"],
  ["a required member missing", without(caution(), "points"), "member-missing", "/points"],
  ["no id", without(score("b", "red", 2), "id"), "member-missing", "/id"],
  ["no type", without(score("b", "red", 2), "type"), "member-missing", "/type"],
  ["no bout", without(score("b", "red", 2), "bout"), "member-missing", "/bout"],
  ["an id of other characters", score("b", "red", 2, { id: "a b" }), "member-value", "/id"],
  ["an id of 65 characters", score("b", "red", 2, { id: "x".repeat(65) }), "member-value", "/id"],
  ["a text of 101 characters", call("n", { number: long(101) }), "member-value", "/number"],
  ["an empty text", call("n", { weight: "" }), "member-value", "/weight"],
  ["a name within a person", call("n", { red: { name: "" } }), "member-value", "/red/name"],
  ["a person without a name", call("n", { blue: { family: "Haddad" } }), "member-missing", "/blue/name"],
  ["a person with a member too many", call("n", { blue: { name: "N", age: 30 } }), "member-unknown", "/blue/age"],
  ["a length out of its range", call("n", { length: { periods: 10 } }), "member-value", "/length/periods"],
  ["a note of 281 characters", note("b", long(281)), "member-value", "/text"],
  ["nine techniques", attack({ techniques: Array(9).fill("sweep") }), "member-value", "/techniques"],
  ["a name with a capital", attack({ techniques: ["sweep", "Sweep"] }), "member-value", "/techniques"],
  ["an unknown word", attack({ outcome: "won" }), "member-value", "/outcome"],
  ["a side that is none", score("b", "green", 2), "member-value", "/side"],
  ["a time of day of another form", score("b", "red", 2, { keyed_at: "2027-05-08T10:00:00Z" }), "member-value", "/keyed_at"],
  ["a day that doesn't exist", score("b", "red", 2, { keyed_at: "2027-02-29T10:00:00.000Z" }), "member-value", "/keyed_at"],
  ["an unknown bout", score("nobody", "red", 2), "bout", "/bout"],
  ["an unknown edition", call("n", { rules: "freestyle-1999" }), "edition", "/rules"],
  ["an unknown reference", voided("b", "nothing"), "ref", "/ref"],
  ["a reference into another bout", voided("b", "g-note"), "ref", "/ref"],
  ["itself", voided("b", "me", { id: "me" }), "ref", "/ref"],
  ["an attack that is none", score("b", "red", 2, { attack: "b-score" }), "ref-type", "/attack"],
  ["a style that the edition doesn't have", call("n", { style: "greco_roman" }), "member-value", "/style"],
  ["an age group that it doesn't have", call("n", { age_group: "u9" }), "member-value", "/age_group"],
  ["points that the edition doesn't have", score("b", "red", 2, { points: 3 }), "points", "/points"],
  ["an action not of that value", score("b", "red", 4, { action: "takedown" }), "points", "/action"],
  ["an activity time where there is none", passivity("g", { stage: "activity" }), "member-value", "/stage"],
  ["a warning with points", passivity("b", { stage: "warning", points: 1 }), "member-unknown", "/points"],
  ["a penalty without", passivity("b", { stage: "penalty" }), "member-missing", "/points"],
  ["a rejected challenge without points", challenge({ outcome: "rejected" }), "member-missing", "/points"],
  ["an asked one with", challenge({ outcome: "asked", points: 1 }), "member-unknown", "/points"],
  ["a period beyond the bout's", score("b", "red", 2, { period: 3, t_ms: 0 }), "bout-time", "/period"],
  ["a time beyond the period's", score("b", "red", 2, { period: 1, t_ms: 180001 }), "bout-time", "/t_ms"],
  ["a period without a time", score("b", "red", 2, { period: 1 }), "member-missing", "/t_ms"],
  ["a stop with a time", clock("b", "stop", { period: 1, t_ms: 1 }), "member-unknown", "/period"],
  ["a set without a time", clock("b", "set", { period: 1 }), "member-missing", "/t_ms"],
  ["an ending that is none", close({ how: "boredom" }), "member-value", "/how"],
  ["a fall without a winner", close({ how: "fall" }), "winner", "/winner"],
  ["a winner where there is none", close({ how: "both_disqualified", winner: "red" }), "winner", "/winner"],
  ["a void of a bout", voided("b", log[0].id), "ref-type", "/ref"],
  ["an amend of a void", amend("b-void", { set: { why: "officials" } }), "ref-type", "/ref"],
  ["an amend of what can't be amended", amend("b-score", { set: { id: "z" } }), undefined, "/set/id"],
  ["an amend after which the event isn't valid", amend("b-score", { set: { points: 4 } }), "points", "/set"],
  ["an amend that takes a required member", amend("b-score", { unset: ["side"] }), undefined, undefined],
  ["an amend without either", amend("b-score", {}), "member-missing", undefined],
  ["a name in set and unset", amend("b-score", { set: { leg: "lead" }, unset: ["leg"] }), undefined, undefined],
  ["a bout in a type of the day", entry({ bout: "b" }), "member-unknown", "/bout"],
  ["a bout time in a type of the day", entry({ period: 1, t_ms: 0 }), "member-unknown", undefined],
  ["twenty-one facts", entry({ facts: Array(21).fill("a fact") }), "member-value", "/facts"],
  ["a lost clock from somebody else", clock("b", "lost"), "lost", "/do"],
];

// No JSON object, or none that can be read. Source: docs/events.md, "What is refused"; RFC 8259.
const text = (bytes) => Buffer.concat(bytes.map((part) => Buffer.from(part)));
const NOT_READABLE = [
  ["nothing", ""], ["spaces", " \t "], ["an array", "[]"], ["a string", '"score"'], ["null", "null"],
  ["a line cut off", '{"id":"cut","type":"sco'],
  ["a member twice", '{"id":"twice","type":"score","bout":"b","side":"red","side":"blue","points":2,"action":"takedown"}'],
  ["a member twice, once escaped", '{"id":"twice","type":"note","bout":"b","text":"x","to":"booth","t\\u006f":"public"}'],
  ["something after it", `${JSON.stringify(score("b", "red", 2))} x`],
  ["a trailing comma", '{"id":"comma","type":"note",}'],
  ["a bare word", "{id:1}"],
  ["30,000 brackets", "[".repeat(30000)],
  ["nested 40 deep", `{"id":"deep","type":"note","bout":"b","text":${"[".repeat(40)}${"]".repeat(40)}}`],
  ["a number beyond 64 bits", '{"id":"huge","type":"score","bout":"b","side":"red","points":99999999999999999999,"action":"takedown"}'],
  ["a number beyond a double", '{"id":"huge","type":"score","bout":"b","side":"red","points":1e999,"action":"takedown"}'],
  ["U+0000", '{"id":"nul","type":"note","bout":"b","text":"a\\u0000b","to":"booth"}'],
  ["half a surrogate pair", '{"id":"half","type":"note","bout":"b","text":"\\ud83e","to":"booth"}'],
];
const NOT_UTF8 = [
  ["a byte that no UTF-8 has", [0xff]], ["an overlong slash", [0xc0, 0xaf]],
  ["a surrogate in UTF-8", [0xed, 0xa0, 0x80]], ["half a letter", [0xc3]], ["beyond U+10FFFF", [0xf4, 0x90, 0x80, 0x80]],
].map(([name, bytes]) => [name, text(['{"id":"bytes","type":"note","bout":"b","to":"booth","text":"', Buffer.from(bytes), '"}'])]);

for (const [name, event, type, pointer] of UNPROCESSABLE) {
  test(`refused: ${name}`, () =>
    changingNothing(async () => {
      const want = { status: 422, ...(type ? { type } : {}), ...(pointer ? { pointer } : {}) };
      const answer = await daemon.postText(JSON.stringify(event));
      assert.equal(answer.status, 422, answer.body);
      const problem = JSON.parse(answer.body);
      assertProblem(answer, {
        type: problem.type.slice("/problem/".length),
        ...want,
        id: event.id,
      });
      line.say({ event });
      const heard = (
        await line.find((message) => "problem" in message, name, line.heard.items.length)
      ).problem;
      assert.deepEqual(heard, problem, "the WebSocket says the same");
    }));
}

for (const [name, body] of [...NOT_READABLE, ...NOT_UTF8]) {
  test(`refused: ${name}`, () =>
    changingNothing(async () => {
      for (const type of ["application/json", "application/x-ndjson"]) {
        const nothing = type === "application/x-ndjson" && String(body).trim() === "";
        if (nothing) continue; // many may be none
        const answer = await daemon.postText(body, type);
        assertProblem(answer, {
          status: 400,
          type: "not-json",
          line: type === "application/x-ndjson" ? 1 : undefined,
        });
      }
      if (Buffer.isBuffer(body)) return; // the line would end: net's own tests look at that
      for (const message of [body, `{"event":${body}}`]) {
        const from = line.heard.items.length;
        line.sayText(message);
        const { problem } = await line.find((one) => "problem" in one, name, from);
        checkProblem(problem, { status: 400, type: "not-json" });
      }
    }));
}

test("the daemon's own members are the daemon's: at, seq and by are overwritten, never believed", async () => {
  const event = score("g", "red", 1, { at: "2001-01-01T00:00:00.000Z", seq: 7, by: "somebody" });
  const seq = await daemon.post(event);
  const kept = rows(await daemon.log("g")).find(({ id }) => id === event.id);
  assert.equal(kept.seq, seq);
  assert.equal(kept.by, "table");
  assert.ok(kept.at > "2020");
});

test("many: the third of five is wrong, so none is taken", () =>
  changingNothing(async () => {
    const good = [
      score("b", "red", 1),
      score("b", "blue", 1),
      score("b", "red", 4),
      note("b", "x"),
    ];
    const bad = score("b", "red", 2, { points: 3 });
    const five = [...good.slice(0, 2), bad, ...good.slice(2)];
    const answer = await daemon.postText(ndjson(five), "application/x-ndjson");
    assertProblem(answer, { status: 422, type: "points", pointer: "/points", line: 3, id: bad.id });
    // Blank lines count as lines and are skipped, as in a file.
    const spaced = `\n \t\n${JSON.stringify(five[0])}\r\n\n${JSON.stringify(bad)}\n`;
    assertProblem(await daemon.postText(spaced, "application/x-ndjson"), {
      status: 422,
      type: "points",
      line: 5,
      id: bad.id,
    });
    // A batch may not name what comes later in it, nor what was refused with it.
    const forward = [voided("b", five[1].id), five[1]];
    assertProblem(await daemon.postText(ndjson(forward), "application/x-ndjson"), {
      status: 422,
      type: "ref",
      line: 1,
      pointer: "/ref",
    });
  }));

test("many: an event may name an earlier one of its batch; the numbers have no gap", async () => {
  const opened = attack({ outcome: "open" });
  const finished = score("b", "red", 2, { attack: opened.id });
  const seqs = await daemon.postAll([
    opened,
    finished,
    voided("b", finished.id),
    call("c", { mat: "C" }),
    score("c", "red", 1),
  ]);
  assert.deepEqual(
    seqs,
    seqs.map((_, i) => seqs[0] + i),
  );
});

test("many may be none, one, or end without a line's end", async () => {
  for (const body of ["", "\n\n", " \r\n"]) {
    const { status, body: answer } = await daemon.postText(body, "application/x-ndjson");
    assert.deepEqual([status, answer], [200, ""]);
  }
  const event = note("g", "no end of line");
  const { status, body } = await daemon.postText(
    JSON.stringify(event),
    "application/x-ndjson; charset=utf-8",
  );
  assert.equal(status, 200, body);
  assert.equal(JSON.parse(body).id, event.id);
});

test("the same event again is acknowledged with the first number and changes nothing", async () => {
  const event = caution({ keyed_at: "2027-05-08T10:00:00.000Z" });
  const seq = await daemon.post(event);
  await changingNothing(async () => {
    assert.equal(await daemon.post(event), seq);
    const shuffled = Object.fromEntries(Object.entries(event).reverse());
    assert.equal(
      await daemon.post({ ...shuffled, at: "2001-01-01T00:00:00.000Z", seq: 99, by: "x" }),
      seq,
    );
    // Numbers are compared by value, and strings by what they spell.
    const spelled = JSON.stringify(event)
      .replace('"points":1', '"points":1.0e0')
      .replace("fleeing", "fl\\u0065eing");
    const { status, body } = await daemon.postText(spelled);
    assert.equal(status, 200, body);
    assert.deepEqual(JSON.parse(body), { id: event.id, seq });
    line.say({ event });
    assert.deepEqual((await line.answer(event.id, line.heard.items.length)).ack, {
      id: event.id,
      seq,
    });
    assert.deepEqual(await daemon.postAll([event, event]), [seq, seq]);
  });
});

test("the same id with other content is refused, whatever differs", () =>
  changingNothing(async () => {
    const taken = log[4];
    for (const other of [
      { ...taken, points: 4, action: "throw" },
      without(taken, "technique"),
      { ...taken, leg: "lead" },
      { ...taken, bout: "g" },
      { ...taken, keyed_at: "2027-05-08T10:00:00.000Z" },
      note("b", "x", "public", { id: taken.id }),
    ]) {
      assertProblem(await daemon.postText(JSON.stringify(other)), {
        status: 409,
        type: "id-reused",
        pointer: "/id",
        id: taken.id,
      });
      line.say({ event: other });
      const { problem } = await line.answer(taken.id, line.heard.items.length);
      checkProblem(problem, { status: 409, type: "id-reused", pointer: "/id" });
    }
    // In one batch, too: the second says something else than the first.
    const first = score("b", "red", 1);
    assertProblem(
      await daemon.postText(ndjson([first, { ...first, side: "blue" }]), "application/x-ndjson"),
      { status: 409, type: "id-reused", line: 2, id: first.id },
    );
  }));

test("sent again while the first still waits for the disk: one number, one event", async () => {
  const events = Array.from({ length: 20 }, () => score("g", "blue", 1));
  const from = line.heard.items.length;
  for (const event of events) for (let i = 0; i < 3; i++) line.say({ event });
  const posted = await Promise.all(events.map((event) => daemon.post(event)));
  await line.clock();
  const acks = line.heard.items
    .slice(from)
    .filter(({ ack }) => ack)
    .map(({ ack }) => ack);
  for (const [i, { id }] of events.entries()) {
    const seqs = acks.filter((ack) => ack.id === id).map(({ seq }) => seq);
    assert.deepEqual(seqs, Array(3).fill(posted[i]), id);
  }
  const kept = rows(await daemon.log("g")).map(({ id }) => id);
  for (const { id } of events) assert.equal(kept.filter((one) => one === id).length, 1, id);
});

test("an answer comes after the commit: what it names is in the bout's log and state", async () => {
  for (let i = 0; i < 10; i++) {
    const event = score("g", "red", 2);
    const seq = await daemon.post(event);
    assert.equal((await daemon.bout("g")).seq, seq);
    assert.ok((await daemon.log("g")).includes(`"${event.id}"`));
  }
});

test("answers to one sender come in the order of its events", async () => {
  const events = Array.from({ length: 200 }, (_, i) => note("g", `Line ${i}`, "booth"));
  const from = line.heard.items.length;
  for (const event of events) line.say({ event });
  await line.answer(events.at(-1).id, from);
  const acks = line.heard.items
    .slice(from)
    .filter(({ ack }) => ack)
    .map(({ ack }) => ack);
  assert.deepEqual(
    acks.map(({ id }) => id),
    events.map(({ id }) => id),
  );
  assert.deepEqual(
    acks.map(({ seq }) => seq),
    acks.map((_, i) => acks[0].seq + i),
  );
});

test("a body of 10 MB is 413, and an address that knows only GET is 405", () =>
  changingNothing(async () => {
    const wide = JSON.stringify(note("b", "x".repeat(10_000_000)));
    const answer = await daemon.postText(wide).catch((error) => error);
    if (answer.status !== undefined)
      assert.equal(answer.status, 413); // else: closed while we still sent
    else assert.match(answer.code, /EPIPE|ECONNRESET/);
    assertProblem(await daemon.ask("/api/v1/events"), { status: 405, type: "method" });
    for (const method of ["PUT", "DELETE", "PATCH"]) {
      const { status } = await daemon.ask("/api/v1/events", { method, body: "{}" });
      assert.equal(status, 405, method);
    }
    assertProblem(await daemon.ask("/api/v1/bouts/b", { method: "POST", body: "{}" }), {
      status: 405,
      type: "method",
    });
  }));

test("a body of another type is 415", () =>
  changingNothing(async () => {
    const body = JSON.stringify(score("b", "red", 2));
    for (const type of ["text/plain", "application/x-www-form-urlencoded", "application/jsonp", ""])
      assertProblem(await daemon.postText(body, type), { status: 415, type: "media-type" });
  }));

test("media types are read as RFC 9110 says: in any case, with parameters", async () => {
  for (const type of [
    "application/json; charset=utf-8",
    "application/json;charset=UTF-8",
    "Application/JSON",
  ]) {
    const event = note("g", type);
    const { status, body } = await daemon.postText(JSON.stringify(event), type);
    assert.equal(status, 200, `${type}: ${body}`);
  }
});

test("what isn't there is 404, in words", async () => {
  for (const path of [
    "/api/v1/bouts/nobody",
    "/api/v1/bouts/nobody/events",
    "/api/v1/bouts/b/other",
    "/api/v1/nothing",
  ])
    assertProblem(await daemon.ask(path), { status: 404, type: "not-found" });
  for (const path of ["/api/v1/topics/nothing", "/sse/mat/A/secret", "/api/v1/topics/mat//table"])
    assertProblem(await daemon.ask(path), { status: 404, type: "topic" });
  assert.deepEqual((await daemon.topic("mat/Z/table")).state, { mat: "Z" });
});

test("a message that is none is answered, and the line lives on", () =>
  changingNothing(async () => {
    for (const message of [
      {},
      { shout: 1 },
      { subscribe: "mat/A/table" },
      { subscribe: [{}] },
      { subscribe: [7] },
      { subscribe: [{ topic: "nothing" }] },
      { clock: {} },
      { clock: { t0_ms: "1" } },
      { event: 7 },
      { subscribe: Array(65).fill({ topic: "mat/A/table" }) },
    ]) {
      const from = line.heard.items.length;
      line.say(message);
      const { problem } = await line.find((one) => "problem" in one, JSON.stringify(message), from);
      assert.ok(problem.status >= 400 && problem.status < 500, JSON.stringify(problem));
    }
    await line.clock();
  }));

test("more than 10,000 events in one batch are refused", () =>
  changingNothing(async () => {
    const many = Array.from({ length: 10001 }, (_, i) => ({
      id: `m${i}`,
      type: "session",
      session: "s",
      name: "n",
      do: "stop",
    }));
    const answer = await daemon.postText(ndjson(many), "application/x-ndjson");
    assertProblem(answer, { status: 422, type: "too-many", line: 10001 });
  }));

/** The events among a page's examples: what stands in its blocks of JSON with an id and a type. */
function examplesOf(page) {
  const text = readFileSync(join(root, "docs", page), "utf8");
  const blocks = [...text.matchAll(/```(?:nd)?json\n([^]*?)```/g)].map(([, block]) => block);
  return blocks
    .flatMap((block) => block.split("\n"))
    .filter((row) => /^\{.*"type"/.test(row) && /"id"/.test(row));
}

test("the events that the docs print are taken as printed, and fold to the same", async (t) => {
  const fresh = await daemonFor(t);
  const examples = [...examplesOf("events.md"), ...examplesOf("wire.md")];
  assert.ok(examples.length >= 20);
  const taken = new Set();
  for (const row of examples) {
    const { status, body } = await fresh.postText(row);
    assert.equal(status, 200, `${row}: ${body}`);
    taken.add(JSON.parse(body).seq);
  }
  assert.equal(Math.max(...taken), taken.size);
  const state = await fresh.bout("a07");
  const folded = await fold(await fresh.log("a07"), "--now", "2099-01-01T00:00:00.000Z");
  assert.deepEqual(folded.get("a07").score, state.score);
});

test("a mat may be called anything: its topics are there under that name", async (t) => {
  const own = await daemonFor(t);
  for (const mat of ["1", "Halle Süd / 2", "a/table", "100%", "🤼", "x".repeat(100)]) {
    const bout = newId("mat");
    await own.post(call(bout, { mat }));
    const listening = await Line.open(own, `mat/${mat}/table`);
    assert.equal(listening.topics.get(`mat/${mat}/table`).state.bout.bout, bout);
    listening.break();
    const asked = await own.topic(`mat/${encodeURIComponent(mat)}/follow`);
    assert.equal(asked.state.bout.details.mat, mat);
    assert.match(await own.get(`/text/${encodeURIComponent(mat)}?since=0`), /Brandt/);
  }
  await own.post(call("nowhere", { mat: undefined }));
  assert.equal((await own.bout("nowhere")).phase, "called");
});

test("mats that are only asked for are bounded, and leave room for those that have bouts", async (t) => {
  const own = await daemonFor(t);
  const statuses = [];
  for (let i = 0; i < 100; i++)
    statuses.push((await own.ask(`/api/v1/topics/mat/ask${i}/table`)).status);
  assert.ok(statuses.includes(200) && statuses.at(-1) === 404, `${statuses}`);
  await own.post(call("real", { mat: "real" }));
  assert.equal((await own.topic("mat/real/table")).state.bout.bout, "real");
});

test("everything that was taken is in the log, once, without a gap", async () => {
  const stored = await Promise.all(["b", "g", "c"].map((bout) => daemon.log(bout)));
  const seqs = stored
    .flatMap(rows)
    .map(({ seq }) => seq)
    .sort((one, other) => one - other);
  assert.deepEqual(
    seqs,
    seqs.map((_, i) => i + 1),
  );
});
