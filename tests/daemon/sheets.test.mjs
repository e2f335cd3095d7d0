// Sheets and draws by the real program: whole or nothing, every refusal with its place, there and
// back again, safe in a spreadsheet; brackets from entries and seeds, printed, shown and sent.
// CSV: RFC 4180. What a spreadsheet takes for a formula: OWASP ASVS 1.2.10.
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { parse } from "csv-parse/sync";
import { daemonFor, makeKey } from "../support/daemon.mjs";
import { demoDay, demoEvents, ndjson, root, rows, run, temporaryFolder } from "../support/program.mjs";

const folder = temporaryFolder();
let files = 0;
const sheet = (text) => {
  const path = join(folder, `sheet-${(files += 1)}.csv`);
  writeFileSync(path, text);
  return path;
};
const athletesSheet = join(root, "fixtures/draw/athletes.csv");
const boutsSheet = join(root, "fixtures/draw/bouts.csv");

async function fine(...words) {
  const got = await run(words);
  assert.equal(got.code, 0, got.errors);
  return got;
}
const dayOf = async (daemon) => rows(await daemon.get("/api/v1/day/events"));
const at = (daemon) => new URL(daemon.url()).host;

/** The latest of every athlete, or slot, of a log. */
function latest(events, type, key) {
  const all = {};
  for (const event of events.filter((event) => event.type === type)) {
    const { id, at, seq, by, keyed_at, ...members } = event;
    all[members[key]] = { ...all[members[key]], ...members };
  }
  return all;
}

/* ---- sheets ---- */

test("the demo day's sheets are the demo day", async () => {
  const { out } = await fine("import", athletesSheet, boutsSheet);
  const events = rows(out), demo = demoEvents();
  assert.deepEqual(latest(events, "entry", "athlete"), latest(demo, "entry", "athlete"));
  assert.deepEqual(latest(events, "slot", "slot"), latest(demo, "slot", "slot"));
  const after = await fine("import", "--after", demoDay, athletesSheet, boutsSheet);
  assert.equal(after.out, "");
});

test("a sheet is imported once: again it changes nothing, changed it changes what differs", async (t) => {
  const daemon = await daemonFor(t);
  const text = "athlete,name,team,seed\r\na1,Ana One,Harbour,1\r\na2,Bo Two,Mills,\r\n";
  const path = sheet(text);
  const preview = await fine("import", "--to", at(daemon), "--preview", path);
  assert.match(preview.out, /: 2 athletes: 2 new, 0 changed, 0 as they are\n {2}\+ a1: name "Ana One", team "Harbour", seed 1\n/);
  assert.deepEqual(await dayOf(daemon), [], "a preview changes nothing");
  assert.equal((await fine("import", "--to", at(daemon), path)).out, "2 events imported\n");
  assert.equal((await fine("import", "--to", at(daemon), path)).out, "0 events imported\n");
  writeFileSync(path, text.replace("Mills", "Vale"));
  const change = await fine("import", "--to", at(daemon), "--preview", path);
  assert.match(change.out, /: 0 new, 1 changed, 1 as they are\n {2}~ a2: team "Mills" -> "Vale"\n$/);
  await fine("import", "--to", at(daemon), path);
  writeFileSync(path, text); // and back to what it once was
  await fine("import", "--to", at(daemon), path);
  const events = await dayOf(daemon);
  assert.equal(events.length, 4);
  assert.deepEqual(latest(events, "entry", "athlete").a2, { type: "entry", athlete: "a2", name: "Bo Two", team: "Mills" });
});

test("a sheet is taken whole or not at all", async (t) => {
  const daemon = await daemonFor(t);
  const good = sheet("athlete,name\r\na1,Ana\r\n");
  const bad = sheet("athlete,name,minor\r\na2,Bo,false\r\na3,Cy,perhaps\r\n");
  const { code, out, errors } = await run(["import", "--to", at(daemon), good, bad]);
  assert.equal(code, 1);
  assert.equal(out, "");
  assert.equal(errors, `${bad}:3: row 3, column 3: minor: must be true or false, not a string\n`);
  assert.deepEqual(await dayOf(daemon), []);
  const mine = sheet(`slot,rules\r\n${"f,freestyle-2022\r\n"}g,small\r\n`);
  const rules = join(folder, "small.json");
  const { out: edition } = await fine("rules", "freestyle-2022");
  writeFileSync(rules, JSON.stringify({ ...JSON.parse(edition), name: "small" }));
  const refused = await run(["import", "--to", at(daemon), "--rules", rules, mine]);
  assert.equal(refused.code, 1, "the daemon doesn't know that edition");
  assert.match(refused.errors, /:3: row 3: rules: no edition of that name is known; nothing was changed\n$/);
  assert.deepEqual(await dayOf(daemon), []);
});

test("every refusal of a sheet names its line, row and column", async () => {
  const wrong = [
    ["athlete,name\r\na1,\"two\r\nlines\"\r\na2\r\n", ":4: row 3: the row has another number of cells than the header"],
    [Buffer.from("athlete,name\r\na1,Caf\xe9\r\n", "latin1"), ":2: row 2, column 2: name: isn't valid UTF-8 text"],
    ["athlete,shoe\r\na1,42\r\n", ":1: row 1, column 2: shoe: is no column of a roster"],
    ["slot,winner_to\r\ns1,final\r\n", ":2: row 2, column 2: winner_to: must be a slot and a side, as in \"final red\""],
    ["team,noc,iso3\r\nHarbour,GER,Germany\r\n", ":2: row 2, column 3: iso3: must be three capital letters, as in ISO 3166-1"],
    ["", ":1: row 1: the file is empty"],
  ];
  for (const [text, words] of wrong) {
    const path = sheet(text);
    const { code, out, errors } = await run(["import", path]);
    assert.deepEqual([code, out], [1, ""], words);
    if (text !== "") assert.equal(errors, `${path}${words}\n`);
    else assert.match(errors, /the file is empty\n$/);
    assert.equal((await run(["check", path])).errors, errors, "check says the same");
  }
});

test("a team's country code goes to its athletes who have none", async () => {
  const athletes = sheet("athlete,team,noc\r\na1,Harbour,\r\na2,Harbour,SUI\r\na3,Mills,\r\n");
  const teams = sheet("team,noc,iso3\r\nHarbour,GER,DEU\r\n");
  const { out } = await fine("import", athletes, teams);
  assert.deepEqual(rows(out).map(({ athlete, noc, iso3 }) => [athlete, noc, iso3]), [
    ["a1", "GER", undefined], ["a2", "SUI", undefined], ["a3", undefined, undefined],
  ]);
  const log = join(folder, "known.ndjson");
  writeFileSync(log, ndjson([{ id: "k", type: "entry", athlete: "a9", team: "Harbour", at: "2027-05-08T10:00:00.000Z" }]));
  const later = rows((await fine("import", "--after", log, teams)).out);
  assert.deepEqual(later.map(({ athlete, noc }) => [athlete, noc]), [["a9", "GER"]]);
});

test("who is named and not there is told, and imported all the same", async () => {
  const athletes = sheet("athlete\r\na1\r\n");
  const slots = sheet("slot,red,blue\r\nf,a2,winner of s1\r\n");
  const { out, errors } = await fine("import", athletes, slots);
  assert.equal(errors, `${slots}:2: row 2: red: no athlete is called a2 yet\n${slots}:2: row 2: blue: no slot is called s1 yet\n`);
  assert.equal(rows(out).length, 2);
});

test("what was keyed goes through a sheet unchanged, and no cell is a formula", async () => {
  const nasty = ["=1+1", "+2", "-3", "@SUM(A1)", "\tTab", "'=x", "''@y", "'plain", "a,b", "\"q\"", "two\nlines", "x\r\ny", " lead", "ž 摔角", "a|b\\", "\\"];
  const store = join(folder, "nasty.sqlite");
  const log = nasty.map((text, i) => ({
    id: `e${i}`, type: "entry", at: "2027-05-08T10:00:00.000Z", athlete: `a${i}`, name: text, team: text,
    facts: [text, `and ${text}`], seed: i % 3 === 0 ? i : undefined, minor: i % 2 === 0, out: i % 2 === 1,
  }));
  log.push({ id: "s", type: "slot", at: "2027-05-08T10:00:00.000Z", slot: "=f", stage: "-final", order: -1,
    red: { winner_of: "=s1" }, blue: { athlete: "+a1" } });
  assert.equal((await run(["import", "--store", store, "-"], { input: ndjson(log) })).code, 0);
  for (const [kind, type, key] of [["athletes", "entry", "athlete"], ["slots", "slot", "slot"]]) {
    const { out } = await fine("export", "--store", store, "--sheet", kind);
    for (const cell of parse(out).flat()) assert.doesNotMatch(cell, /^[=+\-@\t\r]/);
    const back = rows((await fine("import", sheet(out))).out);
    assert.deepEqual(latest(back, type, key), JSON.parse(JSON.stringify(latest(log, type, key))), kind);
  }
});

test("what goes with what", async () => {
  for (const [words, error] of [
    [["import", athletesSheet, demoDay], /day.ndjson is no sheet: its name must end in .csv/],
    [["import", "--preview", demoDay], /--to, --after and --preview go with sheets/],
    [["import", "--store", "x.sqlite", athletesSheet], /--store and --keep-going go with a LOG/],
    [["import", "--to", "nowhere", athletesSheet], /--to: nowhere is no HOST:PORT/],
    [["import", "--to", "127.0.0.1:1", athletesSheet], /no daemon answers at 127.0.0.1 port 1/],
    [["export", "--sheet", "teams"], /--sheet: athletes or slots, not teams/],
    [["draw", athletesSheet], /--edition says by which rules/],
    [["draw", "--edition", "none", athletesSheet], /no edition is called none/],
    [["draw", "--edition", "greco-2026"], /a sheet or a log of entries is wanted, or --to/],
  ]) {
    const { code, errors } = await run(words);
    assert.equal(code, 2, words.join(" "));
    assert.match(errors, error);
  }
});

test("where keys are needed, sheets and draws are a table's or the gallery's", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const { key: table } = await makeKey(store, "table");
  const { key: booth } = await makeKey(store, "booth");
  const daemon = await daemonFor(t, { store });
  const words = (command, ...more) => [command, "--to", at(daemon), ...more];
  const path = sheet("athlete,style\r\na1,women\r\na2,women\r\n");
  const nobody = await run(words("import", path));
  assert.equal(nobody.code, 2);
  assert.match(nobody.errors, /^boutwire import: this needs a key\n$/);
  const commentator = await run(words("import", path), { env: { BOUTWIRE_KEY: booth } });
  assert.equal(commentator.code, 1);
  assert.match(commentator.errors, /a key of the role booth may not key entries, slots and sessions; nothing was changed/);
  const keyed = { env: { BOUTWIRE_KEY: table } };
  assert.equal((await run(words("import", path), keyed)).out, "2 events imported\n");
  assert.equal((await run(words("draw", "--edition", "freestyle-2022"), keyed)).out, "1 slots of 1 weights drawn\n");
});

/* ---- draws ---- */

const names = (count) => Array.from({ length: count }, (_, i) => `w${i + 1}`);
const entries = (count, more = () => "") =>
  sheet(`athlete,style,age_group,weight,seed,lot\r\n${names(count).map((name, i) => `${name},women,seniors,57,${i < 2 ? i + 1 : ""},${more(i)}\r\n`).join("")}`);

test("a draw by lots can be drawn again by anybody", async () => {
  const { out } = await fine("draw", "--edition", "freestyle-2022", "--lot", "Harbour Cup 2027", entries(16));
  const order = rows(out).filter(({ slot }) => slot.startsWith("w57-8f"))
    .flatMap(({ red, blue }) => [red.athlete, blue.athlete]);
  const tickets = names(16).slice(2)
    .map((name) => [createHash("sha256").update(`Harbour Cup 2027 ${name}`).digest("hex"), name]).sort().map(([, name]) => name);
  assert.deepEqual(order, ["w1", ...tickets, "w2"], "seeds on the first and the last line");
});

test("lots that were drawn at the weigh-in hold, and who is out isn't drawn", async () => {
  const path = sheet("athlete,style,lot,out\r\na1,women,3,\r\na2,women,1,\r\na3,women,2,\r\na4,women,,true\r\n");
  const { out } = await fine("draw", "--edition", "freestyle-2022", path);
  const met = rows(out).map(({ red, blue }) => `${red.athlete} ${blue.athlete}`);
  assert.deepEqual(met, ["a3 a1", "a2 a3", "a2 a1"]);
});

test("a draw is shown, sent once, and fills itself in to the bronzes", async (t) => {
  const daemon = await daemonFor(t);
  await fine("import", "--to", at(daemon), entries(9));
  const words = ["draw", "--edition", "freestyle-2022", "--mats", "A,B", "--number-from", "1", "--to", at(daemon)];
  const preview = await fine(...words, "--preview");
  assert.match(preview.out, /^w57: 9 entries, elimination with repechage, by freestyle-2022\n {2}no. 1, mat A, w57-q1, qualification: /);
  assert.equal((await dayOf(daemon)).filter(({ type }) => type === "slot").length, 0);
  assert.equal((await fine(...words)).out, "11 slots of 1 weights drawn\n");
  const again = await run(words);
  assert.equal(again.code, 1);
  assert.match(again.errors, /w57: is drawn already/);
  const state = async () => (await daemon.topic("day/booth")).state;
  const beaten = {}; // by whom, on the way to the final
  let bouts = 0;
  for (; ; bouts += 1) {
    const { slots } = await state();
    const next = Object.values(slots).find((slot) => slot.state === "ready");
    if (!next) break;
    const side = ({ athlete }) => ({ name: athlete, athlete });
    await daemon.postAll([
      { id: `b${bouts}`, type: "bout", bout: `b${bouts}`, rules: "freestyle-2022", slot: next.slot, red: side(next.red), blue: side(next.blue) },
      { id: `c${bouts}`, type: "close", bout: `b${bouts}`, how: "points", winner: "blue" },
    ]);
    if (["qualification", "quarter-final", "semi-final"].includes(next.stage))
      (beaten[next.blue.athlete] ??= []).push(next.red.athlete);
  }
  const { slots, weights } = await state();
  const final = Object.values(slots).find(({ stage }) => stage === "final");
  const groups = [final.red, final.blue].map(({ athlete }) => beaten[athlete]);
  assert.equal(bouts, 8 + groups[0].length - 1 + groups[1].length - 1);
  const thirds = Object.values(weights["1"].ranks).filter(({ place }) => place === 3);
  assert.ok(thirds.every(({ athlete }) => groups.flat().includes(athlete)));
  assert.deepEqual(Object.values(slots).map((slot) => slot.state).filter((state) => !["decided", "passed"].includes(state)), []);
  assert.deepEqual(Object.values(weights["1"].ranks).map(({ place }) => place), [1, 2, 3, 3, 5, 5, 7, 7, 7], "nothing parts the last three");
});

test("what can't be drawn is told", async () => {
  const wrong = [
    [entries(65), /w65: more than 64 entries in one weight/],
    [sheet("athlete,style\r\na1,greco_roman\r\n"), /gr: no --edition given has this style/],
    [sheet("slot\r\nf\r\n"), /is no sheet of athletes/],
    [sheet("athlete\r\na1\r\n"), /a1 has no style, and isn't drawn\n.*there is nobody to draw/],
  ];
  for (const [path, error] of wrong) {
    const { code, out, errors } = await run(["draw", "--edition", "freestyle-2022", path]);
    assert.deepEqual([code, out], [1, ""]);
    assert.match(errors, error);
  }
  const league = await run(["draw", "--rules", "fixtures/editions/league.json", "--edition", "league",
    sheet("athlete,style\r\na1,freestyle\r\na2,freestyle\r\n")]);
  assert.match(league.errors, /fs: the edition says nothing of draws/);
});

test("a weight of the demo day is drawn as its officials drew it", async () => {
  const words = ["draw", "--edition", "freestyle-2022", "--style", "freestyle", "--weight", "97"];
  const [final, ...others] = rows((await fine(...words, athletesSheet)).out);
  assert.deepEqual(others, []);
  assert.deepEqual([final.slot, final.red, final.blue, final.stage], ["fs97-final", { athlete: "obasekwe" }, { athlete: "kuhestanizadeh" }, "final"]);
  const again = await run([...words, demoDay]);
  assert.match(again.errors, /fs97: is drawn already/, "the day's log has it");
});
