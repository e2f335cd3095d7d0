// The archive: every question it answers is answered here once more, from the second reading of the
// contract (tests/reading) by plain loops over random logs; and what it does with files that are no
// archive, are damaged or of another format; and the daemon that fills it.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { editionsFrom } from "../reading/compare.mjs";
import { fileOf, makeLog } from "../reading/maker.mjs";
import { Log, story } from "../reading/reading.mjs";
import { call, clock, make, score } from "../support/bouts.mjs";
import { daemonFor } from "../support/daemon.mjs";
import { demoDay, root, rows, run, temporaryFolder } from "../support/program.mjs";
import { sql } from "../support/store.mjs";
import { FaultyDisk } from "./shims/faulty-disk.mjs";
import { until } from "../support/wait.mjs";

const SIDES = ["red", "blue"];
const other = (side) => (side === "red" ? "blue" : "red");
const sum = (numbers) => numbers.reduce((total, number) => total + number, 0);
const FILES = ["june-2013", "league"].map((name) => join(root, `fixtures/editions/${name}.json`));
const EDITIONS = editionsFrom(join(root, "daemon/rules/editions"), FILES);
const RULES = FILES.flatMap((file) => ["--rules", file]);
const newArchive = () => join(temporaryFolder(), "all.archive");
const temporaryLog = (text) => {
  const path = join(temporaryFolder(), "log.ndjson");
  writeFileSync(path, text);
  return path;
};

/** Runs `boutwire archive` and answers what it printed. */
async function archive(path, what, ...words) {
  const { code, out, errors } = await run(["archive", what, "--archive", path, ...words]);
  assert.equal(code, 0, errors);
  return out;
}

const ask = async (...words) => rows(await archive(...words));
const add = (path, ...logs) => archive(path, "add", ...RULES, ...logs);

// ---------------------------------------------------------------------------------------------
// The same, computed here.

const attemptRow = () => ({ tried: 0, scored: 0, stopped: 0, countered: 0, points: 0 });

function attemptsOf({ events }, side) {
  const table = {};
  const count = (technique, leg, fate, points) => {
    const row = (table[`${technique} ${leg ?? ""}`] ??= attemptRow());
    row.tried++;
    if (fate in row) row[fate]++;
    row.points += points;
  };
  const scores = events.filter(({ type }) => type === "score");
  for (const event of events.filter((one) => one.side === side)) {
    if (event.type === "score" && event.technique && !event.attack)
      count(event.technique, event.leg, "scored", event.points);
    if (event.type !== "attack") continue;
    const own = scores.filter((one) => one.attack === event.id && one.side === side);
    const others = scores.filter((one) => one.attack === event.id && one.side !== side);
    let fate = { out: "stopped", stalemate: "stopped" }[event.outcome] ?? event.outcome;
    if (others.length > 0 && fate !== "scored") fate = "countered";
    if (own.length > 0) fate = "scored";
    if (fate !== "open") count(event.techniques[0], event.leg, fate, sum(own.map((one) => one.points)));
  }
  return table;
}

/** The minute of the bout, from 1; what comes as a period's time ends is in its last. */
function minuteOf({ times, events, details }, id) {
  const { t_ms } = events.find((event) => event.id === id).time;
  const atTheHorn = t_ms > 0 && t_ms === details.period_ms;
  return Math.floor((times.get(id) - (atTheHorn ? 1 : 0)) / 60000) + 1;
}

/** One bout as one side has it. */
function sideOf(told, state, side) {
  const { entries, events, details, latest } = told;
  const own = entries.filter((entry) => entry.side === side);
  let ahead = 0;
  let behind = 0;
  for (const entry of entries) {
    ahead += entry.side === side ? entry.value : -entry.value;
    behind = Math.max(behind, -ahead);
  }
  const { winner } = state.result ?? {};
  const periods = {};
  const minutes = {};
  for (const { id, side: giver, value } of entries) {
    const { period } = events.find((event) => event.id === id).time;
    for (const [table, key] of [[periods, period], [minutes, minuteOf(told, id)]]) {
      table[key] ??= [0, 0];
      table[key][giver === side ? 0 : 1] += value;
    }
  }
  return {
    athlete: latest[side].athlete, opponent: latest[other(side)].athlete, side,
    won: winner && winner === side,
    first: entries[0] && entries[0].side === side,
    points: [sum(own.map(({ value }) => value)), sum(entries.map(({ value }) => value)) - sum(own.map(({ value }) => value))],
    firstScore: own[0]?.bout_ms,
    late: events.filter((event) => event.type === "score" && event.side === side && event.points > 0 &&
      details.period_ms - event.time.t_ms <= 30000).length,
    behind, periods, minutes,
    attempts: attemptsOf(told, side),
  };
}

/** All bouts of some logs that there is something to say of. */
function boutsOf(texts) {
  const bouts = [];
  for (const text of texts) {
    const log = new Log(EDITIONS);
    for (const line of text.toString().split("\n").filter((one) => one.trim() !== "")) {
      const event = log.check(line);
      if (typeof event === "object") log.accept(event);
    }
    for (const [bout, records] of log.bouts) {
      const told = story(records, EDITIONS);
      const state = log.state(bout, 0);
      const begun = told.entries.length > 0 || told.events.some(({ type }) => type === "clock");
      const called_at = records[0].event.at;
      if (begun || state.result)
        bouts.push({ bout, called_at, told, state, begun, sides: SIDES.map((side) => sideOf(told, state, side)) });
    }
  }
  return bouts;
}

const byTime = (one, another) => (one.called_at < another.called_at ? -1 : 1);
const share = (sides) => ({ bouts: sides.length, won: sides.filter(({ won }) => won).length });
const decided = (sides) => sides.filter(({ won }) => won !== undefined);

function addTables(tables, make, addTo) {
  const total = {};
  for (const table of tables)
    for (const [key, value] of Object.entries(table)) addTo((total[key] ??= make()), value);
  return total;
}

const pointRows = (name, tables) =>
  Object.entries(addTables(tables, () => [0, 0], (row, [own, others]) => ((row[0] += own), (row[1] += others))))
    .map(([key, [points_for, points_against]]) => ({ [name]: Number(key), points_for, points_against }))
    .sort((one, another) => one[name] - another[name]);

function attemptRows(tables) {
  const total = addTables(tables, attemptRow, (row, value) => {
    for (const name of Object.keys(row)) row[name] += value[name];
  });
  return Object.entries(total).map(([key, row]) => {
    const [technique, leg] = key.split(" ");
    return { technique, ...(leg && { leg }), ...row };
  });
}

function showOf(bouts, athlete) {
  const mine = bouts.flatMap((bout) => bout.sides.map((side) => ({ ...side, bout })))
    .filter((side) => side.athlete === athlete);
  const begun = mine.filter(({ bout }) => bout.begun);
  const [points_for, points_against] = [0, 1].map((i) => sum(mine.map(({ points }) => points[i])));
  const scorers = mine.filter(({ firstScore }) => firstScore !== undefined);
  const firsts = (is) => share(decided(mine).filter(({ first }) => first === is));
  const worst = [...new Set(decided(mine).map(({ behind }) => behind))].filter((n) => n > 0);
  const hows = [...new Set(mine.map(({ bout }) => bout.state.result?.how))].filter(Boolean);
  return {
    athlete, bouts: mine.length, begun: begun.length, decided: share(decided(mine)),
    points_for, points_against, scored_first: firsts(true), scored_second: firsts(false),
    late_scores: { bouts: mine.filter(({ late }) => late > 0).length, scores: sum(mine.map(({ late }) => late)) },
    ...(begun.length > 0 && { average_margin: Math.round(((points_for - points_against) / begun.length) * 100) / 100 }),
    ...(scorers.length > 0 && { first_score: { bouts: scorers.length,
      average_ms: Math.floor(sum(scorers.map(({ firstScore }) => firstScore)) / scorers.length) } }),
    attempts: attemptRows(mine.map(({ attempts }) => attempts)),
    periods: pointRows("period", mine.map(({ periods }) => periods)),
    minutes: pointRows("minute", mine.map(({ minutes }) => minutes)),
    comebacks: worst.sort((one, another) => one - another)
      .map((behind) => ({ behind, ...share(decided(mine).filter((side) => side.behind === behind)) })),
    endings: hows.map((how) => {
      const ended = mine.filter(({ bout }) => bout.state.result?.how === how);
      const count = (is) => ended.filter(({ won }) => won === is).length;
      return { how, won: count(true), lost: count(false), undecided: count(undefined) };
    }),
  };
}

/** Half a hundredth is rounded away from 0 there and up here. */
const nearly = ({ average_margin, ...rest }) => ({ ...rest,
  average_margin: average_margin === undefined ? undefined : Math.round(average_margin * 10) / 10 });
const inOrder = (list) => [...list].map((item) => JSON.stringify(item, Object.keys(item).sort())).sort();
const sorted = (answer) => ({ ...nearly(answer), attempts: inOrder(answer.attempts), endings: inOrder(answer.endings) });

/** style, length, minutes gone and points behind → bouts and comebacks. */
function positionsOf(bouts) {
  const table = {};
  for (const { told, state } of bouts) {
    const { details, latest } = told;
    const style = latest.style ?? (details.edition.styles.length === 1 ? details.edition.styles[0] : undefined);
    if (!state.result?.winner || !style) continue;
    for (let minute = 1; minute * 60000 < state.result.time_ms; minute++) {
      const { score: { red, blue }, leader } = told.until(minute * 60000);
      if (!leader) continue;
      const key = [style, details.periods * details.period_ms, minute, Math.abs(red - blue)].join(" ");
      table[key] ??= { bouts: 0, won: 0 };
      table[key].bouts++;
      if (leader !== state.result.winner) table[key].won++;
    }
  }
  return table;
}

// ---------------------------------------------------------------------------------------------

/** A random log whose sides are now and then somebody's: the key hangs on the bout's id and side. */
function randomLog(seed) {
  const { lines } = makeLog(seed, { editions: EDITIONS, events: 240, mode: "valid" });
  const keys = ["k1", "k2", "k3", "k4", "k5", undefined];
  const named = lines.map((line) => {
    if (line.toString().trim() === "") return line;
    const event = JSON.parse(line);
    if (event.type !== "bout") return line;
    const place = Buffer.from(event.bout).reduce((total, byte) => total * 31 + byte, seed) % 5;
    const pair = { red: keys[place], blue: keys[(place + 1 + (seed % 4)) % 6] };
    for (const side of SIDES) event[side] = { name: event[side].name, ...(pair[side] && { athlete: pair[side] }) };
    return JSON.stringify(event);
  });
  return fileOf(named);
}

async function expectAnswers(path, bouts, what) {
  for (const athlete of ["k1", "k2", "k3", "k4", "k5", "nobody"]) {
    const [answer] = await ask(path, "show", athlete);
    assert.deepEqual(sorted(answer), sorted(showOf(bouts, athlete)), `${what}: ${athlete}`);
    assert.deepEqual(answer.attempts.map(({ tried }) => tried),
      answer.attempts.map(({ tried }) => tried).sort((one, another) => another - one), "the most tried first");
    await expectBouts(path, bouts, athlete, what);
  }
  await expectPositions(path, bouts, what);
}

const inBout = ({ bout, called_at }) => `${called_at} ${bout}`;

async function expectBouts(path, bouts, athlete, what) {
  const mine = bouts.filter(({ sides }) => sides.some((side) => side.athlete === athlete)).sort(byTime);
  const answer = await ask(path, "path", athlete);
  assert.deepEqual(answer.map(inBout).sort(), mine.map(inBout).sort(), `${what}: path of ${athlete}`);
  assert.deepEqual(answer.map(({ called_at }) => called_at), mine.map(({ called_at }) => called_at));
  for (const one of answer) {
    const { sides, state } = mine.find((bout) => inBout(bout) === inBout(one));
    const side = sides.find((it) => it.side === one.side);
    assert.deepEqual([one.self.athlete, one.other.athlete, one.self.points, one.other.points, one.winner, one.how, one.code],
      [side.athlete, side.opponent, ...side.points, state.result?.winner, state.result?.how, state.result?.code]);
    assert.equal(one.time_ms, state.result?.time_ms ?? state.clock.elapsed_ms, `${what}: ${inBout(one)}`);
  }
  for (const opponent of ["k1", "k3", "k5"]) {
    const met = mine.filter(({ sides }) => sides.some((side) => side.athlete === athlete && side.opponent === opponent));
    const meetings = await ask(path, "meetings", "--most", "3", athlete, opponent);
    const times = met.map(({ called_at }) => called_at).reverse().slice(0, 3);
    assert.deepEqual(meetings.map(({ called_at }) => called_at), times, `${what}: ${athlete}, ${opponent}`);
  }
}

async function expectPositions(path, bouts, what) {
  const wanted = positionsOf(bouts);
  const kept = Object.fromEntries(
    rows(sql(path, "SELECT json_object('key', style || ' ' || length_ms || ' ' || minutes || ' ' || behind," +
      " 'bouts', bouts, 'won', came_back) FROM positions WHERE bouts > 0"))
      .map(({ key, ...counts }) => [key, counts]));
  assert.deepEqual(kept, wanted, what);
  for (const [key, { bouts: count, won }] of Object.entries(wanted).slice(0, 6)) {
    const [style, length, minute, behind] = key.split(" ");
    if (Number(length) % 60000 > 0) continue; // asked for in minutes
    const words = ["--style", style, "--minute", minute, "--length", String(length / 60000)];
    const [asked] = await ask(path, "position", ...words, "--margin", `-${behind}`);
    assert.deepEqual([asked.bouts, asked.won], [count, won], `${what}: ${key}`);
    const [ahead] = await ask(path, "position", ...words, "--margin", behind);
    if (behind !== "0") assert.deepEqual([ahead.bouts, ahead.won], [count, count - won]);
  }
}

test("every question over random logs, against loops over the second reading", async () => {
  for (const seeds of [[1, 2, 3, 4, 5, 6], [11, 12, 13, 14, 15, 16, 17, 18]]) {
    const logs = seeds.map(randomLog);
    const path = newArchive();
    const files = logs.map(temporaryLog);
    const bouts = boutsOf(logs);
    assert.ok(bouts.length > 3 * seeds.length);
    assert.ok(Object.keys(positionsOf(bouts)).length > 10);
    await add(path, ...files);
    await expectAnswers(path, bouts, `seeds ${seeds}`);
    // Once more, in another order: each bout takes its own place.
    await add(path, ...files.reverse());
    await expectAnswers(path, bouts, `seeds ${seeds} again`);
  }
});

test("a log that goes on replaces what was known of its bouts, an older copy doesn't", async () => {
  const whole = randomLog(21).toString().split("\n");
  const half = whole.slice(0, whole.length / 2);
  const path = newArchive();
  await add(path, temporaryLog(half.join("\n")));
  await expectAnswers(path, boutsOf([half.join("\n")]), "half");
  await add(path, temporaryLog(whole.join("\n")));
  await expectAnswers(path, boutsOf([whole.join("\n")]), "whole");
  assert.match(await add(path, temporaryLog(half.join("\n"))), /: \d+ of \d+ bouts put into the archive\n/);
  await expectAnswers(path, boutsOf([whole.join("\n")]), "an older copy");
});

test("the demo day: a store, its export and its log are the same bouts", async (t) => {
  const path = newArchive();
  const folder = temporaryFolder();
  const store = join(folder, "day.sqlite");
  const text = readFileSync(demoDay);
  assert.equal((await run(["import", "--store", store, demoDay])).code, 0);
  assert.match(await add(path, store), /day\.sqlite: 14 of 14 bouts put into the archive/);
  await add(path, demoDay);
  const exported = await run(["export", "--store", store]);
  await add(path, temporaryLog(exported.out));
  assert.equal(sql(path, "SELECT count(*) FROM bouts"), "14");
  const bouts = boutsOf([text]);
  const athletes = new Set(bouts.flatMap(({ sides }) => sides.map(({ athlete }) => athlete)).filter(Boolean));
  assert.ok(athletes.size > 10);
  for (const athlete of athletes) {
    const [answer] = await ask(path, "show", athlete);
    assert.deepEqual(sorted(answer), sorted(showOf(bouts, athlete)), athlete);
  }
  await t.test("a time span", async () => {
    const [first, second] = await ask(path, "path", "macquillory");
    const before = await ask(path, "path", "--before", second.called_at, "macquillory");
    assert.deepEqual(before, [first]);
    assert.deepEqual(await ask(path, "path", "--from", second.called_at, "macquillory"), [second]);
    const [shown] = await ask(path, "show", "--before", second.called_at, "macquillory");
    assert.equal(shown.bouts, 1);
  });
});

test("nothing of the roster is in it: no facts, no birth dates, no names but the bouts'", async () => {
  const path = newArchive();
  await add(path, demoDay);
  const bytes = readFileSync(path).toString("latin1") + (existsSync(`${path}-wal`) ? readFileSync(`${path}-wal`).toString("latin1") : "");
  assert.ok(bytes.includes("macquillory"));
  for (const word of ["Harbour Cup", "HYUR-tur", "checked_by", "Works on the"]) assert.ok(!bytes.includes(word), word);
});

// ---------------------------------------------------------------------------------------------
// What is wrong.

test("a log with a bad line is refused with its place, and nothing of it is put in", async () => {
  const path = newArchive();
  const log = temporaryLog(`${readFileSync(demoDay)}{"id":"x"}\n`);
  const { code, out, errors } = await run(["archive", "add", "--archive", path, log]);
  assert.deepEqual([code, out], [1, ""]);
  assert.match(errors, /log\.ndjson:1092: /);
  assert.equal(sql(path, "SELECT count(*) FROM bouts"), "0");
});

test("no archive, another format and a damaged one are refused with words and left as they are", async () => {
  const path = newArchive();
  await add(path, demoDay);
  sql(path, "PRAGMA wal_checkpoint(TRUNCATE)");
  const good = readFileSync(path);
  const refused = async (bytes, words, code = 2) => {
    for (const suffix of ["", "-wal", "-shm"]) rmSync(path + suffix, { force: true });
    writeFileSync(path, bytes);
    const result = await run(["archive", "add", "--archive", path, demoDay]);
    assert.equal(result.code, code, result.errors);
    assert.match(result.errors, words);
    assert.deepEqual(readFileSync(path), bytes);
  };
  await refused(Buffer.from("a text that is no database at all, but long enough for a header. ".repeat(4)),
    /all\.archive is not an archive of boutwire/);
  const later = Buffer.from(good);
  later.writeUInt32BE(3, 60); // user_version, in the file's header
  await refused(later, /has format 3, and this program knows format 2 only; it can be made anew from the logs/);
  const foreign = Buffer.from(good);
  foreign.writeUInt32BE(0x626f7574, 68); // application_id: a store's
  await refused(foreign, /is not an archive of boutwire/);
  const torn = Buffer.from(good);
  for (let page = 2; page * 4096 < torn.length; page++) torn.fill(0xff, page * 4096, page * 4096 + 200);
  await refused(torn, /is damaged: .*; it can be made anew from the logs \(boutwire archive add\)/);
  await refused(good.subarray(0, good.length - 3 * 4096), /is damaged: /);
});

test("wrong use", async () => {
  const wrong = async (words, pattern) => {
    const { code, errors } = await run(["archive", ...words, "--archive", path]);
    assert.equal(code, 2, words.join(" "));
    assert.match(errors, pattern);
  };
  const path = newArchive();
  await wrong(["show", "x"], /can't be opened/);
  await add(path, demoDay);
  await wrong([], /add, show, path, meetings or position is wanted/);
  await wrong(["forget"], /add, show, path, meetings or position is wanted/);
  await wrong(["add"], /add wants a store or a log/);
  await wrong(["show"], /show wants 1 athlete/);
  await wrong(["meetings", "x"], /meetings wants 2 athletes/);
  await wrong(["position", "--style", "freestyle"], /--style, --margin and --minute/);
  await wrong(["position", "--style", "freestyle", "--margin", "x", "--minute", "1"], /whole numbers/);
  await wrong(["show", "--from", "noon", "x"], /noon is no time/);
});

// ---------------------------------------------------------------------------------------------
// The daemon.

const red = { name: "Red One", athlete: "one" };
const blue = { name: "Blue Two", athlete: "two" };
const shown = async (path, is) =>
  until(async () => {
    const { code, out } = await run(["archive", "show", "--archive", path, "one"]);
    const [answer] = code === 0 ? rows(out) : [];
    return answer && is(answer) && answer;
  }, "the archive to have it");

test("the daemon writes a bout when it is closed, and again when it is corrected after", async (t) => {
  const path = newArchive();
  const daemon = await daemonFor(t, { words: ["--archive", path] });
  await daemon.postAll([
    call("x", { red, blue, rules: "freestyle-2022", style: "freestyle" }), clock("x", "start"),
    score("x", "red", 2, { id: "first" }), score("x", "blue", 1), clock("x", "stop"),
    make("close", "x", { how: "points", winner: "red", id: "end" }),
  ]);
  const closed = await shown(path, ({ bouts }) => bouts === 1);
  assert.deepEqual([closed.points_for, closed.points_against, closed.decided], [2, 1, { bouts: 1, won: 1 }]);
  await daemon.post(make("amend", "x", { ref: "first", set: { points: 4, action: "throw" } }));
  await shown(path, ({ points_for }) => points_for === 4);
  await daemon.post(make("void", "x", { ref: "end", id: "unend" }));
  await shown(path, ({ decided }) => decided.bouts === 0);
  await daemon.post(make("void", "x", { ref: "unend" }));
  await shown(path, ({ decided }) => decided.won === 1);
  await daemon.stop();
  const was = await archive(path, "show", "one");
  // Lost, it is there again after the next start, made of the log.
  for (const suffix of ["", "-wal", "-shm"]) rmSync(path + suffix, { force: true });
  await daemonFor(t, { store: daemon.store, words: ["--archive", path] });
  const again = await shown(path, ({ bouts }) => bouts === 1);
  assert.deepEqual(again, rows(was)[0]);
});

test("by default it is beside the store", async (t) => {
  const daemon = await daemonFor(t);
  await until(() => existsSync(`${daemon.store}.archive`) && statSync(`${daemon.store}.archive`).size > 0, "the file");
});

test("with a damaged archive the daemon says so and runs on without it", async (t) => {
  const path = newArchive();
  writeFileSync(path, "this is no archive".repeat(100));
  const daemon = await daemonFor(t, { words: ["--archive", path] });
  await until(() => /the archive can't be used, the daemon runs without.*is not an archive of boutwire/.test(daemon.errors), "the words");
  await daemon.postAll([call("x", { red, blue }), make("close", "x", { how: "forfeit", winner: "red" })]);
  assert.equal((await daemon.bout("x")).phase, "closed");
  assert.equal(readFileSync(path, "utf8"), "this is no archive".repeat(100));
});

test("when the archive's disk is full that is said once, and everything else goes on", async (t) => {
  const path = newArchive();
  await archive(path, "add", demoDay);
  const disk = new FaultyDisk({ files: `${path}-wal`, calls: "pwrite", from: 1, error: "ENOSPC" }).arm();
  const daemon = await daemonFor(t, { words: ["--archive", path], env: disk.env });
  for (const bout of ["x", "y"])
    await daemon.postAll([call(bout, { red, blue }), make("close", bout, { how: "forfeit", winner: "red" })]);
  const words = /the archive can't be used, the daemon runs without.*full/;
  await until(() => words.test(daemon.errors), "the words");
  await daemon.postAll([call("z", { red, blue }), make("close", "z", { how: "forfeit", winner: "red" })]);
  assert.equal((await daemon.bout("z")).phase, "closed");
  assert.equal(daemon.errors.split("the archive can't be used").length, 2);
  disk.disarm();
  await add(path, daemon.store);
  const [answer] = await ask(path, "show", "one");
  assert.equal(answer.bouts, 3);
});

test("a bout's cards may rest on the bouts before it, and on none that come later", async (t) => {
  const path = newArchive();
  const daemon = await daemonFor(t, { words: ["--archive", path] });
  const style = { rules: "freestyle-2022", style: "freestyle" };
  for (let i = 0; i < 5; i++)
    await daemon.postAll([
      call(`old${i}`, { red: blue, blue: red, ...style }), clock(`old${i}`, "start"), clock(`old${i}`, "stop"),
      score(`old${i}`, "blue", 2, { period: 1, t_ms: 20000 }),
      make("close", `old${i}`, { how: "points", winner: i < 3 ? "blue" : "red", period: 2, t_ms: 180000 }),
    ]);
  await shown(path, ({ bouts }) => bouts === 5);
  await daemon.postAll([call("now", { red, blue, ...style }), clock("now", "start")]);
  const cards = (is) => until(async () => {
    const { state } = await daemon.topic("mat/A/booth");
    const found = state.bout?.bout === "now" && Object.values(state.cards).find(is);
    return found;
  }, "the card");
  const met = await cards(({ id }) => id.startsWith("met_before"));
  assert.deepEqual([met.kind, met.side, met.headline, met.figures], ["past", "red", "Won 3 of 5 meetings", { bouts: 5, won: 3 }]);
  assert.match(met.line, /^The last time 0-2, /);
  await daemon.post(score("now", "red", 2));
  const first = await cards(({ id }) => id.startsWith("first_score-red"));
  assert.deepEqual(first.figures, { bouts: 5, won: 3 });
  // Called again with another in red: nothing is known of that one.
  await daemon.post(call("now", { red: { name: "Red Three", athlete: "three" }, blue, ...style }));
  await until(async () => {
    const { state } = await daemon.topic("mat/A/booth");
    return !Object.values(state.cards).some(({ kind }) => kind === "past");
  }, "the cards to be withdrawn");
});

test("while a challenge is open the booth has its rulings, and three of them as cards", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    call("x", { red, blue, rules: "freestyle-2022" }), clock("x", "start"), score("x", "red", 2),
    score("x", "blue", 4, { id: "four", action: "throw", unconfirmed: true }), clock("x", "stop"),
    make("challenge", "x", { side: "red", outcome: "asked", of: "four" }),
  ]);
  const { state } = await daemon.topic("mat/A/booth");
  const headlines = Object.values(state.cards).map(({ kind, headline }) => `${kind}: ${headline}`);
  assert.deepEqual(headlines, ["ruling: If taken out: 2-0", "ruling: If a 2: 2-2", "ruling: If lost: 5-2"]);
  const rulings = Object.values(state.rulings);
  assert.equal(rulings.length, 46);
  assert.deepEqual(rulings[0], { kind: "lost", headline: "If lost: 5-2", line: "Blue Two ahead.", red: 2, blue: 5,
    leader: { side: "blue", by: "points" } });
  assert.ok(rulings.some(({ red: own, blue: others, leader }) => own === 3 && others === 2 && leader.side === "red"));
  await daemon.post(make("challenge", "x", { side: "red", outcome: "upheld", of: "four" }));
  assert.equal((await daemon.topic("mat/A/booth")).state.rulings, undefined);
});

test("an athlete over HTTP: the roster, the booth's notes, and the archive where there is one", async (t) => {
  const path = newArchive();
  const sides = { red: { name: "A", athlete: "ann" }, blue: { name: "B", athlete: "bea" } };
  const old = [call("old", sides), clock("old", "start"), score("old", "blue", 2), make("close", "old", { how: "fall", winner: "red" })];
  await add(path, temporaryLog(old.map((event, i) => `${JSON.stringify({ ...event, at: `2026-01-01T10:00:0${i}.000Z` })}\n`).join("")));
  const daemon = await daemonFor(t, { words: ["--archive", path] });
  const get = async (from, address) => {
    const { status, body } = await from.ask(`/api/v1/athletes${address}`);
    return status === 200 ? JSON.parse(body) : status;
  };
  const enter = (more) => ({ id: `entry-${JSON.stringify(more).length}`, type: "entry", athlete: "ann", ...more });
  await daemon.post(enter({ name: "Ann A", facts: ["one", "two"] }));
  await daemon.post(enter({ checked_by: "her coach" }));
  await daemon.post(call("now", sides));
  await daemon.post(make("note", "now", { to: "booth", side: "red", text: "hers" }));
  await daemon.post(make("note", "now", { to: "booth", side: "blue", text: "the other's" }));
  const entry = { name: "Ann A", facts: ["one", "two"], checked_by: "her coach" };
  assert.deepEqual(await get(daemon, ""), { athletes: { ann: entry } });
  const ann = await get(daemon, "/ann?against=bea");
  assert.deepEqual(ann.entry, entry);
  assert.deepEqual(Object.values(ann.notes), [{ bout: "now", side: "red", text: "hers" }]);
  assert.deepEqual(ann.archive, {
    bouts: 1, decided: { bouts: 1, won: 1 }, scored_first: { bouts: 0, won: 0 }, attempts: {},
    meetings: { 1: { called_at: "2026-01-01T10:00:00.000Z", style: "freestyle", weight: "57", how: "fall", code: "VFA", won: true, own: 0, other: 2 } },
  });
  assert.equal((await get(daemon, "/bea")).archive.bouts, 1, "the archive knows her, the roster doesn't");
  assert.equal(await get(daemon, "/nobody"), 404);
  // Many at once: one after the other is asked of the archive, and each is answered.
  const many = await Promise.all(Array.from({ length: 30 }, () => get(daemon, "/ann")));
  assert.ok(many.every(({ archive: known }) => known.bouts === 1));
  const broken = newArchive();
  writeFileSync(broken, "no archive");
  const without = await daemonFor(t, { words: ["--archive", broken] });
  await without.post(enter({ name: "Ann A" }));
  assert.deepEqual(await get(without, "/ann"), { athlete: "ann", entry: { name: "Ann A" }, notes: {} });
  assert.equal(await get(without, "/bea"), 404);
});

/** Another process that writes to the archive, until it is told to end. */
async function writer(path) {
  const child = spawn("sqlite3", [path], { stdio: ["pipe", "pipe", "inherit"] });
  const ended = new Promise((resolve) => child.on("close", resolve));
  let said = "";
  child.stdout.setEncoding("utf8").on("data", (text) => (said += text));
  child.stdin.write(".timeout 30000\nBEGIN IMMEDIATE;\nSELECT 'writes';\n");
  await until(() => said.includes("writes"), "the other process to write");
  return () => {
    child.stdin.end("ROLLBACK;\n");
    return ended;
  };
}

test("while another process writes to the archive, it is asked all the same, and written after", async (t) => {
  const path = newArchive();
  const daemon = await daemonFor(t, { words: ["--archive", path] });
  await daemon.post({ id: "entry", type: "entry", athlete: "ann", name: "Ann A" });
  const ann = async () => JSON.parse(await daemon.get("/api/v1/athletes/ann"));
  await until(async () => (await ann()).archive, "the archive to be open");
  const end = await writer(path);
  await daemon.postAll([
    call("x", { red: { name: "Ann A", athlete: "ann" } }),
    make("close", "x", { how: "fall", winner: "red" }),
  ]);
  assert.equal((await ann()).archive.bouts, 0);
  await end();
  const written = async () => (await run(["archive", "path", "--archive", path, "ann"])).out;
  await daemon.post(make("note", "x", { text: "later", to: "public" }));
  await until(async () => (await written()) !== "", "the bout in the archive");
});
