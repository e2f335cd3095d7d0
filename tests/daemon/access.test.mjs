// Who may do what: every role against every action over real sockets, keys that open, end and are
// taken back, and where a daemon listens at all.
import assert from "node:assert/strict";
import { appendFileSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call, newId, note, score } from "../support/bouts.mjs";
import {
  assertProblem,
  bearer,
  checkProblem,
  Daemon,
  daemonFor,
  makeKey,
} from "../support/daemon.mjs";
import { Line, Reading } from "../support/listeners.mjs";
import { demoDay, root, rows, run, temporaryFolder } from "../support/program.mjs";
import { until, within } from "../support/wait.mjs";

const newStore = () => join(temporaryFolder(), "day.sqlite");
const entry = (athlete, more) => ({ id: newId("entry"), type: "entry", athlete, ...more });

/* Everybody who may come, and the key each is made with. */
const ROLES = {
  nobody: undefined,
  follow: ["follow"],
  booth: ["booth"],
  "booth on A": ["booth", "--mat", "A"],
  table: ["table"],
  "table on A": ["table", "--mat", "A"],
  gallery: ["gallery"],
};

/* Who may: by name, "all" or "nobody" besides. Whoever isn't named gets 403, and 401 without a key.
 * Bout `a` is on mat A, `b` on B, `none` on no mat. */
const BOOTHS = ["booth", "table", "gallery"];
const BOOTHS_A = [...BOOTHS, "booth on A", "table on A"];
const TABLES_A = ["table", "table on A"];
const EVERYBODY = Object.keys(ROLES);
const WORKING = [...BOOTHS_A];

/** Reading: an address, and who gets 200. */
const READS = [
  ["/api/v1/topics/mat/A/follow", EVERYBODY],
  ["/api/v1/topics/day/follow", EVERYBODY],
  ["/api/v1/topics/out/main", EVERYBODY],
  ["/api/v1/rules", EVERYBODY],
  ["/text/A?since=0", EVERYBODY],
  ["/api/v1/bouts/a", EVERYBODY],
  ["/api/v1/topics/day/booth", WORKING],
  ["/api/v1/day/events", WORKING],
  ["/api/v1/athletes", WORKING],
  ["/api/v1/athletes/ilse?against=noor", WORKING],
  ["/api/v1/bouts/a/recap", EVERYBODY],
  ["/api/v1/topics/mat/A/booth", BOOTHS_A],
  ["/api/v1/topics/mat/B/booth", BOOTHS],
  ["/api/v1/topics/mat/A/table", [...TABLES_A, "gallery"]],
  ["/api/v1/topics/mat/B/table", ["table", "gallery"]],
  ["/api/v1/topics/gallery", ["gallery"]],
  ["/api/v1/outputs", ["gallery"]],
  ["/metrics", ["gallery"]],
  ["/api/v1/bouts/a/events", BOOTHS_A],
  ["/api/v1/bouts/b/events", BOOTHS],
  ["/api/v1/bouts/none/events", BOOTHS],
];

/** Keying: what, and who may. */
const KEYS = [
  ["a score on mat A", () => score("a", "red", 2), TABLES_A],
  ["a score on mat B", () => score("b", "red", 2), ["table"]],
  ["a score on no mat", () => score("none", "red", 2), ["table"]],
  ["a public note on mat A", () => note("a", "Hello"), TABLES_A],
  ["a note to the booth of mat A", () => note("a", "Hello", "booth"), BOOTHS_A],
  ["a note to the booth of mat B", () => note("b", "Hello", "booth"), BOOTHS],
  ["a bout called to mat A", () => call(newId("called"), { mat: "A" }), TABLES_A],
  ["a bout called to mat B", () => call(newId("called"), { mat: "B" }), ["table"]],
  ["a bout called to no mat", () => call(newId("called"), { mat: undefined }), ["table"]],
  ["a bout moved from B to A", () => call("b-moves", { mat: "A" }), ["table"]],
  ["an entry", () => entry("x"), ["table", "gallery"]],
  ["a slot", () => ({ id: newId("slot"), type: "slot", slot: "f" }), ["table", "gallery"]],
];

/** Producing: what, and who may. */
const PRODUCES = [
  ["an output's action", "main", { prepare: { panel: "who" } }, ["gallery"]],
  ["a new output", "wall", { mat: "A" }, ["gallery"]],
  ["the delay of what a booth is shown", "main", { delay: { ms: 0, of: "mat/A/booth" } }, ["gallery"]],
]; // prettier-ignore

/** Talk between booth and gallery: what, and who may. The line that was said is what is
 *  acknowledged. */
const TALKS = [
  ["a line to the booth of mat A", { to: "booth", mat: "A", text: "Hi" }, ["gallery"]],
  ["a line to the gallery for mat A", { to: "gallery", mat: "A", text: "Hi" }, [...TABLES_A, "booth", "booth on A"]],
  ["a line to the gallery for mat B", { to: "gallery", mat: "B", text: "Hi" }, ["table", "booth"]],
]; // prettier-ignore

/* The table in docs/access.md, by its rows' first words, and what stands above for each: on mat A, and
 * on B where there is one. */
const DOCUMENTED = {
  "what is public": ["/api/v1/topics/mat/A/follow"],
  "`day/booth`": ["/api/v1/topics/day/booth"],
  "the day's events": ["/api/v1/day/events", "/api/v1/athletes/ilse?against=noor"],
  "`mat/MAT/booth`": ["/api/v1/topics/mat/A/booth", "/api/v1/topics/mat/B/booth"],
  "`mat/MAT/table`": ["/api/v1/topics/mat/A/table", "/api/v1/topics/mat/B/table"],
  "a bout's log": ["/api/v1/bouts/a/events", "/api/v1/bouts/b/events"],
  "`gallery`": ["/api/v1/topics/gallery", "/metrics"],
  "key events of a bout": ["a score on mat A", "a score on mat B"],
  "key a note to the booth": ["a note to the booth of mat A", "a note to the booth of mat B"],
  "key entries": ["an entry"],
  produce: ["an output's action"],
  "say a line to a booth": ["a line to the booth of mat A"],
  "say a line to the gallery": ["a line to the gallery for mat A", "a line to the gallery for mat B"],
  "cut somebody off": [],
};

test("the table in docs/access.md is the one that is tested here", () => {
  const page = readFileSync(join(root, "docs/access.md"), "utf8");
  const table = page.slice(page.indexOf("| | no key |")).split("\n\n")[0].split("\n");
  const cells = (row) => row.split("|").slice(1, -1).map((cell) => cell.trim());
  const [, ...roles] = cells(table[0]).map((role) => role.replaceAll("`", ""));
  const rules = table.slice(2).map(cells);
  assert.deepEqual(roles, ["no key", "follow", "booth", "table", "gallery"]);
  assert.equal(rules.length, Object.keys(DOCUMENTED).length);
  const known = new Map([
    ...READS,
    ...KEYS.map(([what, , who]) => [what, who]),
    ...PRODUCES.map(([what, , , who]) => [what, who]),
    ...TALKS.map(([what, , who]) => [what, who]),
  ]);
  for (const [first, probes] of Object.entries(DOCUMENTED)) {
    const [row] = rules.filter(([label]) => label.startsWith(first));
    assert.ok(row, first);
    const who = probes.map((probe) => known.get(probe));
    const cell = (role) => {
      if (probes.length === 0) return role === "gallery" ? "yes" : "no"; // tested by itself, below
      const name = role === "no key" ? "nobody" : role;
      if (!who[0].includes(name)) return "no";
      const bound = `${name} on A`;
      return bound in ROLES && !who.at(-1).includes(bound) ? "its mat" : "yes";
    };
    assert.deepEqual(row.slice(1), roles.map(cell), first);
  }
});

async function hall(t, words = []) {
  const store = newStore();
  const keys = {};
  for (const [role, made] of Object.entries(ROLES))
    keys[role] = made && (await makeKey(store, ...made)).key;
  const daemon = await daemonFor(t, { store, words });
  const { status, body } = await postAs(daemon, keys.table, [
    entry("ilse", { name: "Ilse Brandt", facts: ["a fact"] }),
    call("a", { mat: "A" }),
    call("b", { mat: "B" }),
    call("b-moves", { mat: "B" }),
    call("none", { mat: undefined }),
  ]);
  assert.equal(status, 200, body);
  return { daemon, keys, store };
}

const postAs = (daemon, key, events) =>
  daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/x-ndjson", ...bearer(key) },
    body: events.map((event) => `${JSON.stringify(event)}\n`).join(""),
  });

const askAs = (daemon, key, path) => daemon.ask(path, { headers: bearer(key) });

/** A key that was made while the daemon runs opens a moment later. */
const untilOpens = (daemon, key, path) =>
  until(async () => (await askAs(daemon, key, path)).status === 200, "the new key to open");

function assertRefused(answer, role) {
  if (role !== "nobody") return assertProblem(answer, { status: 403, type: "forbidden" });
  assertProblem(answer, { status: 401, type: "key-needed" });
  assert.equal(answer.headers["www-authenticate"], 'Bearer realm="boutwire"'); // RFC 6750 3
}

test("every role against every address", async (t) => {
  const { daemon, keys } = await hall(t);
  for (const role of EVERYBODY)
    for (const [path, who] of READS) {
      const answer = await daemon.ask(path, { headers: bearer(keys[role]) });
      if (who.includes(role)) assert.equal(answer.status, 200, `${role}: ${path}: ${answer.body}`);
      else assertRefused(answer, role);
    }
});

test("every role against every topic, by event stream and by WebSocket", async (t) => {
  const { daemon, keys } = await hall(t);
  const topics = READS.filter(([path]) => path.includes("/topics/")).map(([path, who]) => [
    path.replace("/api/v1/topics/", ""),
    who,
  ]);
  for (const role of EVERYBODY)
    for (const [topic, who] of topics) {
      const stream = await Reading.open(daemon, `/sse/${topic}`, bearer(keys[role]));
      if (who.includes(role)) await stream.until((text) => text.includes("event: state"), topic);
      else assert.equal(stream.status, role === "nobody" ? 401 : 403, `${role}: ${topic}`);
      stream.close();
      const line = await Line.greet(daemon, { hello: { key: keys[role] } });
      line.say({ subscribe: [{ topic }] });
      const heard = await line.find(
        ({ problem, topic: of }) => problem || of === topic,
        `${role}: ${topic}`,
      );
      if (who.includes(role)) assert.equal(heard.topic, topic, role);
      else if (role !== "nobody")
        checkProblem(heard.problem, { status: 403, type: "forbidden", pointer: "/subscribe" });
      else {
        checkProblem(heard.problem, { status: 401, type: "key-needed", pointer: "/subscribe" });
        assert.equal((await within(line.closed, "the end")).code, 1008);
      }
      await line.close();
    }
});

test("every role against every event, by HTTP and WebSocket, and events are signed", async (t) => {
  const { daemon, keys } = await hall(t);
  for (const role of EVERYBODY)
    for (const [what, event, who] of KEYS) {
      const answer = await postAs(daemon, keys[role], [event()]);
      if (who.includes(role)) assert.equal(answer.status, 200, `${role}: ${what}: ${answer.body}`);
      else assertRefused(answer, role);
      const line = await Line.greet(daemon, { hello: { key: keys[role] } });
      const second = event();
      if (what === "a bout moved from B to A") second.mat = "B"; // where it came from
      line.say({ event: second });
      const { ack, problem } = await line.answer(second.id);
      const may = who.includes(role) && !(what.includes("moved") && role !== "table");
      assert.equal(Boolean(ack), may, `${role}: ${what}: ${JSON.stringify(problem)}`);
      if (!may)
        checkProblem(problem, {
          status: role === "nobody" ? 401 : 403,
          type: role === "nobody" ? "key-needed" : "forbidden",
        });
      await line.close();
    }
  const { body } = await askAs(daemon, keys.gallery, "/api/v1/bouts/a/events");
  const log = rows(body);
  assert.deepEqual(
    [...new Set(log.filter(({ type }) => type === "score").map(({ by }) => by))],
    ["table", "table-A"],
  );
  assert.ok(log.some(({ by, type }) => by === "booth-A" && type === "note"));
});

test("every role against every producing action, by HTTP and WebSocket", async (t) => {
  const { daemon, keys } = await hall(t);
  for (const role of EVERYBODY)
    for (const [what, name, act, who] of PRODUCES) {
      const answer = await daemon.ask(`/api/v1/outputs/${name}`, {
        method: "POST",
        headers: { "Content-Type": "application/json", ...bearer(keys[role]) },
        body: JSON.stringify(act),
      });
      if (who.includes(role)) assert.equal(answer.status, 200, `${role}: ${what}: ${answer.body}`);
      else assertRefused(answer, role);
      const line = await Line.greet(daemon, { hello: { key: keys[role] } });
      line.say({ output: name, do: act, id: "x" });
      const { done, problem } = await line.find(
        (message) => message.done || message.problem,
        `${role}: ${what}`,
      );
      assert.equal(Boolean(done), who.includes(role), `${role}: ${what}`);
      if (!done)
        checkProblem(problem, {
          status: role === "nobody" ? 401 : 403,
          type: role === "nobody" ? "key-needed" : "forbidden",
          pointer: "/output",
          id: "x",
        });
      await line.close();
    }
  // Who did it stands beside it; refused, nothing has changed.
  const { body } = await askAs(daemon, keys.gallery, "/api/v1/outputs");
  const { outputs } = JSON.parse(body);
  assert.equal(outputs.main.prepared.by, "gallery");
  assert.deepEqual(Object.keys(outputs), ["main", "wall"]);
});

test("every role against what is said between booth and gallery, by HTTP and WebSocket", async (t) => {
  const { daemon, keys } = await hall(t);
  const post = (role, body) =>
    daemon.ask("/api/v1/talk", {
      method: "POST",
      headers: { "Content-Type": "application/json", ...bearer(keys[role]) },
      body: JSON.stringify(body),
    });
  const other = { booth: "booth", gallery: "gallery" };
  for (const role of EVERYBODY)
    for (const [what, say, who] of TALKS) {
      const answer = await post(role, { say });
      if (who.includes(role)) assert.equal(answer.status, 200, `${role}: ${what}: ${answer.body}`);
      else assertRefused(answer, role);
      // Who may say it to them is who acknowledges what comes from them.
      const from = say.to === "booth" ? "gallery" : "booth";
      const back = await post(other[say.to], { say: { ...say, to: from } });
      const number = JSON.parse(back.body).said.talk;
      const line = await Line.greet(daemon, { hello: { key: keys[role] } });
      line.say({ seen: number, id: "x" });
      const { seen, problem } = await line.find(
        (message) => message.seen || message.problem,
        `${role}: ${what}`,
      );
      const may = who.includes(role) && say.to === "gallery" ? true : role === "gallery" && say.to === "booth";
      assert.equal(Boolean(seen), may, `${role}: seen: ${what}: ${JSON.stringify(problem)}`);
      if (!seen)
        checkProblem(problem, {
          status: role === "nobody" ? 401 : 403,
          type: role === "nobody" ? "key-needed" : "forbidden",
          pointer: "/seen",
          id: "x",
        });
      await line.close();
    }
});

test("a batch with one event that may not be keyed is not taken at all", async (t) => {
  const { daemon, keys } = await hall(t);
  const batch = [score("a", "red", 2), score("b", "red", 2)];
  const answer = await postAs(daemon, keys["table on A"], batch);
  assertProblem(answer, { status: 403, type: "forbidden", line: 2 });
  const { detail } = JSON.parse(answer.body);
  assert.match(detail, /role table for one mat may not key events of this bout/);
  assert.deepEqual((await daemon.bout("a")).score, { red: 0, blue: 0 });
});

test("only the gallery sees who is connected, and cuts off", async (t) => {
  const { daemon, keys, store } = await hall(t);
  const { key } = await makeKey(store, "table", "--name", "ann", "--mat", "A");
  await untilOpens(daemon, key, "/api/v1/topics/mat/A/table");
  const gallery = await Line.openWith(daemon, keys.gallery, "gallery");
  const one = await Line.openWith(daemon, key, "mat/A/table");
  const other = await Reading.open(daemon, "/sse/mat/A/booth", bearer(key));
  const viewer = await Line.open(daemon, "mat/A/follow");
  const screen = await Line.open(daemon, "out/main");
  const text = await Reading.open(daemon, "/text/A");
  t.after(() => (gallery.close(), viewer.close(), screen.close(), text.close()));
  const state = await gallery.state(
    "gallery",
    ({ connected, viewers }) =>
      Object.values(connected).filter(({ name }) => name === "ann").length === 2 &&
      viewers.follow === 1 &&
      viewers.screen === 1 &&
      viewers.text === 1,
  );
  const [number, ann] = Object.entries(state.connected).find(([, { name }]) => name === "ann");
  assert.deepEqual(
    { ...ann, since: undefined },
    { name: "ann", role: "table", mat: "A", address: "this_machine", since: undefined },
  );
  assert.ok(Date.now() - Date.parse(ann.since) < 60000);
  assert.ok(Object.values(state.connected).some(({ role, name }) => role === "gallery" && name));
  assert.ok(!JSON.stringify(state).includes("127.0.0.1"), "no whole addresses");
  // Nobody else cuts.
  for (const role of ["table", "booth", "follow"]) {
    const line = await Line.openWith(daemon, keys[role]);
    line.say({ cut: { connected: number } });
    const { problem } = await line.find((message) => "problem" in message, role);
    checkProblem(problem, { status: 403, type: "forbidden", pointer: "/cut" });
    await line.close();
  }
  viewer.say({ cut: { connected: number } });
  checkProblem((await viewer.find(({ problem }) => problem, "a refusal")).problem, {
    status: 401,
    type: "key-needed",
  });
  gallery.say({ cut: { connected: "999999" } });
  const none = (await gallery.find(({ problem }) => problem, "a refusal")).problem;
  checkProblem(none, { status: 404, type: "not-found", pointer: "/cut/connected" });
  gallery.say({ cut: { connected: number } });
  await gallery.find(({ cut }) => cut?.connected === number, "the cut");
  // Both connections of that key end, and it opens nothing any more, here or after a restart.
  const { code, reason } = await within(one.closed, "the end of what was cut off");
  assert.equal(code, 1008);
  assert.match(reason, /cut off by the gallery|this key has ended/);
  await other.grown.find(() => false, "more").catch(() => {});
  const again = await askAs(daemon, key, "/api/v1/topics/mat/A/table");
  assertProblem(again, { status: 401, type: "key-ended" });
  await gallery.state("gallery", ({ connected }) =>
    Object.values(connected).every(({ name }) => name !== "ann"),
  );
  await until(() => readFileSync(`${store}.keys`, "utf8").includes('"ended":"ann"'), "it on disk");
});

test("a key that is revoked ends its connections at once, whatever they are", async (t) => {
  const { daemon, keys, store } = await hall(t);
  const line = await Line.openWith(daemon, keys["booth on A"], "mat/A/booth");
  const stream = await Reading.open(daemon, "/sse/mat/A/booth", bearer(keys["booth on A"]));
  const others = await Line.openWith(daemon, keys.booth, "mat/A/booth");
  t.after(() => others.close());
  assert.deepEqual(await run(["key", "revoke", "booth-A", "--store", store]), {
    code: 0,
    out: "",
    errors: "",
  });
  assert.deepEqual(await within(line.closed, "the end"), {
    code: 1008,
    reason: "this key has ended",
  });
  await stream.grown
    .find(() => false, "more")
    .catch((error) => assert.match(error.message, /ended/));
  assert.ok(await others.clock(), "nobody else's");
  const late = await Line.openWith(daemon, keys["booth on A"]);
  const { problem } = await late.find((message) => "problem" in message, "a refusal");
  checkProblem(problem, { status: 401, type: "key-ended", pointer: "/hello/key" });
  assert.equal((await within(late.closed, "the end")).code, 1008);
  const answer = await askAs(daemon, keys["booth on A"], "/api/v1/topics/day/booth");
  assertProblem(answer, { status: 401, type: "key-ended" });
  assert.match(answer.headers["www-authenticate"], /error="invalid_token"/); // RFC 6750 3.1
  const { code, errors } = await run(["key", "revoke", "booth-A", "--store", store]);
  assert.equal(code, 1);
  assert.match(errors, /booth-A/);
});

test("a key ends by itself, and its connections with it", async (t) => {
  const { daemon, store } = await hall(t);
  // On a machine that has much else to do, the first may be over before anybody has used it.
  let line, hello, until_ms;
  for (let ms = 3000; !hello; ms *= 2) {
    until_ms = Date.now() + ms;
    const ends = ["--name", `short-${ms}`, "--until", new Date(until_ms).toISOString()];
    const { key } = await makeKey(store, "booth", ...ends);
    do {
      line = await Line.openWith(daemon, key);
      ({ hello } = await line.find(({ hello, problem }) => hello ?? problem, "a greeting"));
    } while (!hello && Date.now() < until_ms);
  }
  assert.equal(Date.parse(hello.until), until_ms);
  const ended = await within(line.closed, "the key's end");
  assert.deepEqual(ended, { code: 1008, reason: "this key has ended" });
  assert.ok(Date.now() >= until_ms - 1);
});

test("a key comes with the first message, and is answered with what it opens", async (t) => {
  const { daemon, keys } = await hall(t);
  const greeted = async (key) => {
    const line = await Line.greet(daemon, { hello: key ? { key } : {} });
    const { hello } = await line.find((message) => "hello" in message, "a greeting");
    await line.close();
    return { ...hello, until: hello.until && "a time" };
  };
  assert.deepEqual(await greeted(), { role: "public", until: undefined });
  assert.deepEqual(await greeted(keys["table on A"]), {
    role: "table",
    mat: "A",
    name: "table-A",
    until: "a time",
  });
  const refused = async (first, ...more) => {
    const line = await Line.greet(daemon, first);
    for (const message of more) line.say(message);
    const { problem } = await line.find((message) => "problem" in message, "a refusal");
    return { type: problem.type, ...(await within(line.closed, "the end")) };
  };
  const unknown = { type: "/problem/key-unknown", code: 1008, reason: "no such key has been made" };
  assert.deepEqual(await refused({ hello: { key: "" } }), unknown);
  assert.deepEqual(await refused({ hello: { key: `${keys.table}x` } }), unknown);
  assert.deepEqual(await refused({ hello: { key: keys.table.slice(0, -1) } }), unknown);
  assert.deepEqual(await refused({ hello: {} }, { hello: { key: keys.table } }), {
    type: "/problem/message",
    code: 1008,
    reason: "a key comes with the first message",
  });
  assert.deepEqual(await refused({ subscribe: [{ topic: "mat/A/booth" }] }), {
    type: "/problem/key-needed",
    code: 1008,
    reason: "this needs a key",
  });
  // Nothing that was asked for together with it is answered after that.
  const line = await Line.greet(daemon, undefined);
  line.say({ subscribe: ["mat/A/booth", "mat/A/follow"].map((topic) => ({ topic })) });
  await within(line.closed, "the end");
  assert.ok(line.heard.items.every((message) => !("topic" in message)));
});

test("who says nothing is let go, and not before ten seconds", async (t) => {
  const daemon = await daemonFor(t);
  const begun_ms = Date.now();
  const silent = await Line.greet(daemon, undefined);
  const heard = await Line.open(daemon);
  assert.deepEqual(await within(silent.closed, "the end"), {
    code: 1008,
    reason: "nothing was said",
  });
  assert.ok(Date.now() - begun_ms >= 9900);
  assert.ok(await heard.clock());
  await heard.close();
});

test("a key in an address opens nothing", async (t) => {
  const { daemon, keys } = await hall(t);
  for (const name of ["key", "access_token", "token", "authorization"])
    assertProblem(await daemon.ask(`/api/v1/topics/mat/A/booth?${name}=${keys.table}`), {
      status: 401,
      type: "key-needed",
    });
  // RFC 9110 11.1: the scheme's name is compared without regard to case; others are a proxy's.
  const topic = "/api/v1/topics/mat/A/booth";
  const ask = async (Authorization) =>
    (await daemon.ask(topic, { headers: { Authorization } })).status;
  assert.equal(await ask(`bearer ${keys.table}`), 200);
  assert.equal(await ask(`BEARER   ${keys.table}`), 200);
  assert.equal(await ask(`Basic ${keys.table}`), 401);
  assert.equal(await ask(keys.table), 401);
  assert.equal(await ask("Bearer "), 401);
  // Whoever shows a key that isn't one hears so, even where none is needed.
  const answer = await daemon.ask("/text/A?since=0", { headers: bearer("nonsense") });
  assertProblem(answer, { status: 401, type: "key-unknown" });
});

test("private: what is public needs a key, too", async (t) => {
  const { daemon, keys } = await hall(t, ["--private"]);
  for (const [path, who] of READS.filter(([, named]) => named === EVERYBODY)) {
    if (path === "/api/v1/rules") continue; // the rules of a sport are nobody's secret
    for (const role of who) {
      const answer = await daemon.ask(path, { headers: bearer(keys[role]) });
      if (role === "nobody") assertRefused(answer, role);
      else assert.equal(answer.status, 200, `${role}: ${path}: ${answer.body}`);
    }
  }
  const line = await Line.open(daemon);
  line.say({ subscribe: [{ topic: "out/main" }] });
  assert.equal((await within(line.closed, "the end")).code, 1008);
});

test("without keys all is open on this machine; from the first one on, keys are needed", async (t) => {
  const store = newStore();
  const daemon = await daemonFor(t, { store });
  await daemon.post(call("x"));
  const staff = await Line.open(daemon, "mat/A/table", "gallery");
  const { hello } = await staff.find((message) => "hello" in message, "a greeting");
  assert.deepEqual(hello, { role: "anyone" });
  assert.equal(rows(await daemon.log("x"))[0].by, "table");
  const mine = await staff.state("gallery", ({ connected }) => Object.keys(connected).length > 0);
  assert.deepEqual(
    Object.values(mine.connected).map(({ role, name }) => [role, name]),
    [["anyone", undefined]],
  );
  const viewer = await Line.open(daemon, "mat/A/follow");
  t.after(() => viewer.close());
  const { key } = await makeKey(store, "table");
  assert.deepEqual(await within(staff.closed, "the end"), {
    code: 1008,
    reason: "a key is needed now",
  });
  assert.ok(await viewer.clock(), "who only follows stays");
  assertRefused(await daemon.ask("/api/v1/topics/mat/A/table"), "nobody");
  const line = await Line.openWith(daemon, key, "mat/A/table");
  // The file taken away opens nothing, and takes the key away.
  rmSync(`${store}.keys`);
  assert.equal((await within(line.closed, "the end")).code, 1008);
  assertRefused(await daemon.ask("/api/v1/topics/mat/A/table"), "nobody");
});

test("a file of keys that can't be read: no start with it, and no change by it", async (t) => {
  const store = newStore();
  const { key } = await makeKey(store, "table", "--keep");
  const daemon = await daemonFor(t, { store });
  const good = readFileSync(`${store}.keys`);
  appendFileSync(`${store}.keys`, "{\n");
  await until(() => /keys can't be read, they stay as they were/.test(daemon.errors), "a word");
  const topic = "/api/v1/topics/mat/A/table";
  assert.equal((await daemon.ask(topic, { headers: bearer(key) })).status, 200);
  await daemon.stop();
  const { code, errors } = await Daemon.startInVain({ store });
  assert.equal(code, 2);
  assert.match(errors, /keys can't be read.*line 2/);
  writeFileSync(`${store}.keys`, good);
  const again = await daemonFor(t, { store });
  assert.equal((await again.ask(topic, { headers: bearer(key) })).status, 200);
});

test("where others reach it, it listens with keys alone, and in plain text only by name", async (t) => {
  const host = "0.0.0.0";
  const store = newStore();
  const inVain = async (...words) => {
    const { code, errors } = await Daemon.startInVain({ store, host, words });
    assert.equal(code, 2, errors);
    return errors;
  };
  assert.match(await inVain(), /can't listen.*no key opens.*boutwire key add/);
  assert.match(await inVain("--plain-text-network"), /no key opens/);
  const where = ["--mat", "A", "--listen", `${host}:7612`];
  const { key, addresses } = await makeKey(store, "table", ...where);
  assert.match(addresses[0], /^http:\/\/[^/]+:7612\/table\/\?mat=A#key=/);
  assert.ok(!addresses[0].includes("0.0.0.0"), addresses[0]);
  assert.match(await inVain(), /can't listen.*without TLS.*--plain-text-network/);
  const daemon = await daemonFor(t, { store, host, words: ["--plain-text-network"] });
  daemon.host = "127.0.0.1";
  assertProblem(await daemon.postText("{}"), { status: 401, type: "key-needed" });
  const { status } = await postAs(daemon, key, [call("x")]);
  assert.equal(status, 200);
  // A key that is over is none.
  await daemon.stop();
  await run(["key", "revoke", "table-A", "--store", store]);
  assert.match(await inVain("--plain-text-network"), /no key opens/);
});

test("boutwire key: add, list, revoke", async () => {
  const store = newStore();
  const key = (...words) => run(["key", ...words, "--store", store]);
  const before_ms = Date.now();
  const named = ["--name", "Ann.B", "--url", "https://hall.example/w"];
  const { key: text, addresses } = await makeKey(store, "booth", ...named);
  assert.match(text, /^[0-9a-hjkmnp-tv-z]{26}$/);
  assert.deepEqual(addresses, [`https://hall.example/w/booth/#key=${text}`]);
  await makeKey(store, "table", "--mat", "Halle 1/ä", "--keep");
  const file = readFileSync(`${store}.keys`, "utf8");
  assert.ok(!file.includes(text), "only its hash is kept");
  assert.equal(statSync(`${store}.keys`).mode & 0o777, 0o600);
  const listed = (await key("list")).out
    .split("\n")
    .filter(Boolean)
    .map((row) => row.split("\t"));
  assert.deepEqual(
    listed.map(([name, role, mat, , , state]) => [name, role, mat, state]),
    [
      ["Ann.B", "booth", "-", "opens"],
      ["table", "table", "Halle 1/ä", "opens"],
    ],
  );
  const day_ms = Date.parse(listed[0][4]) - Date.parse(listed[0][3]);
  assert.equal(day_ms, 24 * 3600 * 1000, "a key ends with the day");
  assert.ok(Date.parse(listed[0][3]) >= before_ms - 1);
  assert.equal(listed[1][4], "-");
  const taken = await key("add", "table", "--name", "Ann.B");
  assert.equal(taken.code, 1);
  assert.match(taken.errors, /Ann\.B has a key already/);
  assert.equal((await key("revoke", "Ann.B")).code, 0);
  assert.match((await key("list")).out, /^Ann\.B\t.*\trevoked$/m);
  assert.equal((await key("revoke", "nobody")).code, 1);
  // A mat that no event could name.
  const unsaid = await run(["key", "add", "table", "--mat", "x".repeat(101), "--store", store]);
  assert.equal(unsaid.code, 1);
  assert.match(unsaid.errors, /mat/);
  const wrong = [
    [],
    ["add"],
    ["add", "public"],
    ["add", "anyone"],
    ["add", "table", "more"],
    ["add", "gallery", "--mat", "A"],
    ["add", "table", "--name", "Ann B"],
    ["add", "table", "--until", "noon"],
    ["add", "table", "--until", "2020-01-01T00:00:00.000Z"],
    ["add", "table", "--keep", "--until", "2099-01-01T00:00:00.000Z"],
    ["list", "all"],
    ["revoke"],
  ];
  for (const words of wrong) {
    const { code, out } = await key(...words);
    assert.deepEqual([code, out], [2, ""], words.join(" "));
  }
  const lines = readFileSync(`${store}.keys`, "utf8").split("\n");
  assert.equal(lines.length, 4, "nothing more was written");
});

test("a rehearsal and the demo where keys are needed", async (t) => {
  const { daemon, keys } = await hall(t);
  const path = "fixtures/published/s08.ndjson";
  const words = ["rehearse", "--quiet", "--exact", "--to", `127.0.0.1:${daemon.port}`, path];
  const refused = await run(words);
  assert.equal(refused.code, 1, refused.errors);
  const { code, errors } = await run(words, { env: { BOUTWIRE_KEY: keys.table } });
  assert.equal(code, 0, errors);
  const store = newStore();
  const { key } = await makeKey(store, "gallery");
  const played = { command: "demo", store, words: ["--speed", "60", "--log", demoDay] };
  const demo = await daemonFor(t, played);
  await until(async () => {
    const { body } = await askAs(demo, key, "/api/v1/topics/day/booth");
    return JSON.parse(body).state.mats.A;
  }, "the demo to play");
  // The player holds a key of its own, and can be cut off like anybody else.
  const gallery = await Line.openWith(demo, key, "gallery");
  t.after(() => gallery.close());
  const isPlayer = ([, { name }]) => name === "rehearsal";
  const { connected } = await gallery.state("gallery", (state) =>
    Object.entries(state.connected).some(isPlayer),
  );
  const [number] = Object.entries(connected).find(isPlayer);
  gallery.say({ cut: { connected: number } });
  await until(() => /this key has ended/.test(demo.errors), "the player to say why it stops");
});

test("nothing of a key stands in what the daemon says about itself", async (t) => {
  const { daemon, keys } = await hall(t, ["--log-level", "debug"]);
  const line = await Line.openWith(daemon, keys.gallery, "gallery");
  await daemon.ask("/text/A?since=0", { headers: bearer(keys.table) });
  await line.close();
  await makeKey(daemon.store, "booth", "--name", "late");
  await until(() => /keys are read.*keys=7/.test(daemon.errors), "the keys to be read");
  for (const key of Object.values(keys).filter(Boolean))
    assert.ok(!(daemon.errors + daemon.out).includes(key));
});
