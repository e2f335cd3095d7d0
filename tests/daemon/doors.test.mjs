// Side doors: every address there is, asked by everybody who may ask it, on a day with a minor who
// hasn't consented, notes for the booth alone, and delays. No word that the asker may not be told
// may be in any answer, file or line of the daemon's own log.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call, clock, make, newId, note, score, voided } from "../support/bouts.mjs";
import { bearer, Daemon, daemonFor, makeKey, PUBLIC_MINORS } from "../support/daemon.mjs";
import { Line, Reading } from "../support/listeners.mjs";
import { root, temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

const entry = (athlete, more) => ({ id: newId("entry"), type: "entry", athlete, ...more });
const slot = (name, more) => ({ id: newId("slot"), type: "slot", slot: name, ...more });

const DELAY_MS = 60000; // the delay: nothing of it falls due while a test runs
const BOUTS = ["young", "semi", "unsaid", "open"];
const MATS = ["A", "B", "C"];
const OUTPUTS = ["main", "wall"];
const RULES = "/api/v1/rules"; // they name injuries and disqualifications, and nobody

/** Every address, by what routes.c knows it by: what may follow it. */
const ADDRESSES = {
  "/healthz": [""],
  "/readyz": [""],
  "/metrics": [""],
  "/api/v1/rules": [""],
  "/api/v1/results.atom": [""],
  "/api/v1/results.csv": [""],
  "/api/v1/scores.csv": [""],
  "/api/v1/outputs": [""],
  "/api/v1/flat/": OUTPUTS.flatMap((name) => [name, `${name}?format=csv`]),
  "/api/v1/day/events": [""],
  "/api/v1/topics/": [
    ...MATS.flatMap((mat) => ["table", "booth", "follow"].map((who) => `mat/${mat}/${who}`)),
    ...OUTPUTS.map((name) => `out/${name}`),
    ...["day/follow", "day/booth", "gallery"],
  ],
  "/api/v1/athletes": [""],
  "/api/v1/athletes/": ["zq-key", "semi-r?against=semi-b", "nobody"],
  "/api/v1/bouts/": BOUTS.flatMap((bout) => [bout, `${bout}/events`, `${bout}/recap`, `${bout}/sport`]),
  "/sse/": [],
  "/text/": MATS.flatMap((mat) => [`${mat}?since=0`, mat]),
};
ADDRESSES["/sse/"] = ADDRESSES["/api/v1/topics/"];

test("no address that the daemon knows is left out here, and none of the documented ones", () => {
  const code = readFileSync(join(root, "daemon/service/routes.c"), "utf8");
  const routed = code.slice(code.indexOf("static void get_route"));
  const known = [...routed.matchAll(/"(\/[^"]+)"/g)].map(([, path]) => path);
  const posted = ["/api/v1/events", "/api/v1/outputs/", "/api/v1/talk"];
  assert.deepEqual(
    known.filter((path) => !posted.includes(path)).sort(),
    Object.keys(ADDRESSES).sort(),
  );
  const access = readFileSync(join(root, "daemon/access/access.c"), "utf8");
  const topics = [...access.matchAll(/\{"(\/?[a-z/]+)", ACTION_READ/g)].map(([, topic]) => topic);
  assert.ok(topics.length >= 6, "topics and ends of topics");
  for (const topic of topics)
    assert.ok(ADDRESSES["/sse/"].some((known) => known.endsWith(topic)), topic);
  const page = readFileSync(join(root, "docs/wire.md"), "utf8");
  const table = page.slice(page.indexOf("| address | what |")).split("\n\n")[0];
  for (const [, path] of table.matchAll(/`(?:GET )?(\/[^`\s]*[a-z][^`\s]*)`/g))
    if (!/^\/(ws|screen|booth|table|gallery|follow|sheet)(\/|$)/.test(path))
      assert.ok(
        Object.keys(ADDRESSES).some((known) => path.startsWith(known)),
        path,
      );
});

/** All that an address answers; of one that goes on, what it begins with. */
async function answered(daemon, path, headers) {
  if (!path.startsWith("/sse/") && !/^\/text\/[^?]*$/.test(path))
    return (await daemon.ask(path, { headers })).body;
  const reading = await Reading.open(daemon, path, headers);
  if (reading.status === 200 && path.startsWith("/sse/"))
    await reading.until((text) => /^data: .*\n\n/m.test(text), path);
  if (reading.status === 200 && path.startsWith("/text/")) {
    const whole = await daemon.ask(`${path}?since=0`, { headers });
    const last = whole.body.split("\n").at(-2) ?? "";
    await reading.until((text) => text.includes(last), path);
  }
  reading.close();
  return reading.text;
}

/** Each address with each role: {role, path, text}. */
async function everything(daemon, keys) {
  const all = [];
  const paths = Object.entries(ADDRESSES).flatMap(([path, ends]) => ends.map((end) => path + end));
  for (const [role, key] of Object.entries(keys))
    for (const path of paths)
      all.push({ role, path, text: await answered(daemon, path, bearer(key)) });
  return all;
}

const files = (folder) =>
  OUTPUTS.flatMap((name) =>
    readdirSync(join(folder, name)).map((file) => ({
      role: "nobody",
      path: `${name}/${file}`,
      text: readFileSync(join(folder, name, file), "utf8"),
    })),
  );

function assertSilent(answers, roles, words) {
  for (const { role, path, text } of answers)
    for (const word of roles.includes(role) && path !== RULES ? words : []) {
      const at = typeof word === "string" ? text.indexOf(word) : text.search(word);
      assert.equal(at, -1, `${role}, ${path}: ${word} in …${text.slice(Math.max(0, at - 150), at + 150)}…`);
    }
}

/** The words are there for somebody: else nothing was tried. */
function assertSays(answers, role, words) {
  const text = answers.filter((one) => one.role === role).map((one) => one.text).join("\n");
  for (const word of words) assert.ok(text.match(word), `${role} is told ${word}`);
}

async function hall(t) {
  const folder = temporaryFolder();
  const store = join(folder, "day.sqlite");
  const values = join(folder, "values");
  const keys = { nobody: undefined };
  for (const role of ["follow", "booth", "table", "gallery"])
    keys[role] = (await makeKey(store, role)).key;
  const words = [...PUBLIC_MINORS.words, "--write-files", values];
  const daemon = await daemonFor(t, { store, words });
  const send = async (path, body, key, type = "application/json") => {
    const headers = { "Content-Type": type, ...bearer(key) };
    const answer = await daemon.ask(path, { method: "POST", headers, body });
    assert.equal(answer.status, 200, `${body.slice(0, 300)}: ${answer.body}`);
  };
  const key = (...events) =>
    send("/api/v1/events", events.map((one) => `${JSON.stringify(one)}\n`).join(""), keys.table,
      "application/x-ndjson");
  const say = (text) =>
    send("/api/v1/talk", JSON.stringify({ say: { to: "booth", mat: "A", text } }), keys.gallery);
  const act = (name, action) => send(`/api/v1/outputs/${name}`, JSON.stringify(action), keys.gallery);
  return { daemon, keys, key, act, say, values };
}

const PRIVATE = [
  ...["Quillamor", "Zephyrine", "zq-key", "quiltown", "43.7", "Zepp-say"], // the minor
  ...["shoulderblade", "injury", "treatment", "blood"], // what befell them
  ...["boothword", "amendedword", "voidedword"], // notes to the booth
  "intercomword",
];

const EARLY = [
  ...["open-early", "Sturmhardt", "earlyword", "fireman", "disqualif", "DSQ", "Disqualif"],
  // The score, as JSON, as a value or in words; not a time or an event's number.
  /"(red|blue|own|other|red_score|points_scored)":71\b|(?<![\w":.-])71(?![\w":.-])/,
];

/** What everybody may have seen before the delays. */
async function before({ key, act, say }) {
  const drawn = { style: "women", age_group: "seniors", weight: "43.7" };
  await key(
    entry("zq-key", {
      ...{ name: "Zephyrine Quillamor", family: "Quillamor", given: "Zephyrine", say: "Zepp-say" },
      ...{ team: "Harbour", noc: "ZQQ", weight: "43.7", minor: true, facts: ["from quiltown"] },
    }),
    entry("grown", { name: "Greta Grown", team: "Mills" }),
    entry("semi-r", { name: "Rika Semi", team: "Mills" }),
    entry("semi-b", { name: "Bera Semi", team: "Harbour" }),
    slot("w-43.7-quarter", { ...drawn, mat: "A", order: 1, red: { athlete: "zq-key" }, blue: { athlete: "grown" } }),
    slot("semi-slot", { weight: "70", mat: "B", order: 2, red: { athlete: "semi-r" }, blue: { athlete: "semi-b" } }),
    slot("final-slot", { weight: "70", mat: "B", order: 3, number: "77", red: { winner_of: "semi-slot" } }),
    call("young", {
      red: { name: "Zephyrine Quillamor", family: "Quillamor", given: "Zephyrine", athlete: "zq-key", team: "Harbour", noc: "ZQQ", say: "Zepp-say" },
      blue: { name: "Greta Grown", athlete: "grown", team: "Mills" },
      ...{ weight: "43.7", slot: "w-43.7-quarter", style: "women", mat: "A" },
    }),
    clock("young", "start"),
    make("stoppage", "young", { kind: "injury", side: "red", do: "start" }),
    { ...note("young", "boothword: her shoulderblade again", "booth"), id: "booth-note" },
    note("young", "Quillamor goes on, says Zephyrine QUILLAMOR's corner"),
    make("amend", "young", { ref: "booth-note", set: { text: "amendedword" } }),
    { ...note("young", "voidedword", "booth"), id: "booth-slip" },
    voided("young", "booth-slip"),
    make("stoppage", "young", { kind: "injury", side: "red", do: "stop" }),
    score("young", "blue", 1, { action: "injury_stop" }),
    clock("young", "stop"),
    make("close", "young", { how: "points", winner: "blue" }),
    call("semi", {
      ...{ mat: "B", slot: "semi-slot", weight: "70", number: "76" },
      red: { name: "Rika Semi", athlete: "semi-r" },
      blue: { name: "Bera Semi", athlete: "semi-b" },
    }),
    clock("semi", "start"),
  );
  await say("intercomword, then Quillamor");
  await act("wall", { mat: "B" });
  await act("wall", { take: { panel: "order" } });
  await act("main", { take: { panel: "text", text: "Well done Zephyrine Quillamor" } });
}

/** What nobody behind a delay may have heard of. */
async function early({ key }) {
  const attack = { ...make("attack", "semi", { side: "red", techniques: ["firemans_carry"], outcome: "open" }), id: "early-attack" };
  await key(
    attack,
    score("semi", "red", 5, { attack: "early-attack", action: "throw" }),
    ...Array.from({ length: 13 }, () => score("semi", "red", 5)),
    score("semi", "red", 1),
    note("semi", "earlyword"),
    note("semi", "earlyword for the booth", "booth"),
    clock("semi", "stop"),
    make("close", "semi", { how: "disqualification", winner: "red" }),
    make("confirm", "semi"),
    call("open", { mat: "B", red: { name: "Sturmhardt One" }, blue: { name: "Sturmhardt Two" } }),
    { ...clock("open", "start"), id: "open-early" },
  );
}

test("nobody is told what isn't theirs, nor anything before their delay, at any address", async (t) => {
  const { daemon, keys, key, act, say, values } = await hall(t);
  await before({ key, act, say });
  for (const mat of MATS) {
    await act("main", { delay: { ms: DELAY_MS, of: `mat/${mat}/follow` } });
    await act("main", { delay: { ms: DELAY_MS, of: `mat/${mat}/booth` } });
  }
  for (const name of OUTPUTS) await act(name, { delay: { ms: DELAY_MS } });
  const topics = [...MATS.map((mat) => `mat/${mat}/follow`), "day/follow", ...OUTPUTS.map((name) => `out/${name}`)];
  const line = await Line.open(daemon, ...topics);
  const ids = new Map(
    await Promise.all(topics.map(async (topic) => {
      const { epoch, seq } = await daemon.topic(topic);
      return [topic, `${epoch}-${seq}`];
    })),
  );
  await early({ key });
  await until(async () => (await daemon.ask("/api/v1/bouts/open", { headers: bearer(keys.table) })).status === 200, "the bout");
  await line.clock();
  const answers = await everything(daemon, keys);
  // Who comes back with what they last saw, or with the version before.
  for (const [topic, id] of ids)
    for (const last of [id, id.replace(/\d+$/, (seq) => Number(seq) - 1)])
      answers.push({ role: "nobody", path: `${topic} from ${last}`,
        text: await answered(daemon, `/sse/${topic}`, { "Last-Event-ID": last }) });
  answers.push({ role: "nobody", path: "/ws", text: JSON.stringify(line.heard.items) });
  await line.close();
  answers.push(...files(values));
  const viewers = ["nobody", "follow"];
  assertSays(answers, "table", [/Quillamor/, /boothword/, /Sturmhardt/, /disqualification/, /earlyword/, EARLY.at(-1)]);
  assertSays(answers, "gallery", [/Quillamor/, /shoulderblade/, /Sturmhardt/, /43\.7/]);
  assertSays(answers, "booth", [/Quillamor/, /amendedword/, /intercomword/, /43\.7/]);
  assertSays(answers, "nobody", [/ZQ/, /Rika Semi/]);
  assertSilent(answers, viewers, PRIVATE);
  assertSilent(answers, [...viewers, "booth"], EARLY);
  // What the daemon says of itself has neither names nor notes.
  assertSilent([{ role: "log", path: "", text: daemon.errors + daemon.out }], ["log"],
    ["Quillamor", "Zephyrine", "shoulderblade", "word", "Sturmhardt", ...Object.values(keys).filter(Boolean)]);
});

/** All that the public can have of it now, and by coming back with what they had. */
async function publicAnswers(daemon, ids = new Map()) {
  const answers = await everything(daemon, { nobody: undefined });
  for (const [topic, id] of ids)
    answers.push({
      role: "nobody",
      path: `${topic} from ${id}`,
      text: await answered(daemon, `/sse/${topic}`, { "Last-Event-ID": id }),
    });
  return answers;
}

async function idsOf(daemon, topics) {
  const ids = new Map();
  for (const topic of topics) {
    const { epoch, seq } = await daemon.topic(topic);
    ids.set(topic, `${epoch}-${seq}`);
  }
  return ids;
}

const NAMED = ["Quillamor", "Zephyrine", "QUILLAMOR"];
const NAMING_TOPICS = ["mat/A/follow", "mat/B/follow", "out/main", "out/wall", "day/follow"];

test("a name that was written before anybody knew it for a minor's is told no more", async (t) => {
  for (const turnsOut of [
    entry("zq-key", { name: "Zephyrine Quillamor", minor: true }),
    call("young", { mat: "A", age_group: "u15", red: { name: "Zephyrine Quillamor" } }),
  ])
    for (const called of [true, false]) {
      const { daemon, key, act, values } = await hall(t);
      await act("wall", { take: { line: true } });
      const ids = await idsOf(daemon, NAMING_TOPICS);
      if (called) await key(call("open", { mat: "B" }), note("open", "Next comes Zephyrine Quillamor"));
      await act("main", { take: { panel: "text", text: "Hello Zephyrine Quillamor" } });
      await act("wall", { take: { panel: "back", text: "Then Quillamor", at: "2030-05-08T10:00:00.000Z" } });
      const before = await publicAnswers(daemon);
      assertSays(before, "nobody", [/Hello Zephyrine Quillamor/]);
      const later = await idsOf(daemon, NAMING_TOPICS);
      await key(turnsOut);
      assertSilent(await publicAnswers(daemon, ids), ["nobody"], NAMED);
      assertSilent(await publicAnswers(daemon, later), ["nobody"], NAMED);
      await until(
        () => !files(values).some(({ text }) => text.includes("Quillamor")),
        "the files without the name",
      );
      await daemon.kill();
      const again = await Daemon.start({ store: daemon.store, words: PUBLIC_MINORS.words });
      assertSilent(await publicAnswers(again), ["nobody"], NAMED);
      await again.stop();
    }
});

test("a bout that moves between mats, or is on none, is exported as the day's results have it", async (t) => {
  const { daemon, key, act } = await hall(t);
  await key(
    call("open", { mat: "A" }),
    make("close", "open", { how: "fall", winner: "red" }),
    call("semi", { mat: undefined }),
    make("close", "semi", { how: "fall", winner: "blue" }),
  );
  const assertSame = async (...bouts) => {
    const { results } = (await daemon.topic("day/follow")).state;
    assert.deepEqual(Object.values(results).map(({ bout }) => bout).sort(), bouts);
    const rows = (await daemon.get("/api/v1/results.csv")).split("\r\n").slice(1, -1);
    assert.equal(rows.length, bouts.length, rows.join("\n"));
    for (const bout of bouts) assert.ok(rows.some((row) => row.includes(bout)), bout);
  };
  await assertSame("open", "semi");
  await act("main", { delay: { ms: DELAY_MS, of: "mat/A/follow" } });
  await key(call("open", { mat: "B" })); // A's followers have it on A still
  await assertSame("open", "semi");
  await act("main", { delay: { ms: DELAY_MS, of: "mat/B/follow" } });
  await key(call("open", { mat: "C" }));
  await act("main", { delay: { ms: DELAY_MS, of: "mat/C/follow" } });
  await key(call("open", { mat: "A" })); // on C in the eyes of C's followers, on B of B's
  await assertSame("open", "semi");
});
