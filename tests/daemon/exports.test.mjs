// What is published in other people's forms, read by other people's readers: WebVTT by the parser of
// the W3C's editor, Atom, CSV and JSON-LD by libraries of npm. The bouts are the demo day's, and what
// must be in them is taken from what `boutwire fold` says of the same log.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { parse } from "csv-parse/sync";
import jsonld from "jsonld";
import Parser from "rss-parser";
import webvtt from "webvtt-parser";
import { call, clock, make, score, voided } from "../support/bouts.mjs";
import { daemonFor, PUBLIC_MINORS } from "../support/daemon.mjs";
import { demoDay, demoEvents, fold, run, temporaryFolder } from "../support/program.mjs";

const { WebVTTParser } = webvtt;
const videoStart = "2027-05-08T09:55:00.000Z";
const log = readFileSync(demoDay, "utf8");

async function demoStore() {
  const store = join(temporaryFolder(), "day.sqlite");
  const { code, errors } = await run(["import", "--store", store, demoDay]);
  assert.equal(code, 0, errors);
  return store;
}

async function exported(store, form, ...words) {
  const all = ["export", "--store", store, "--as", form, "--public-minors", ...words];
  const { code, out, errors } = await run(all);
  assert.equal(code, 0, errors);
  return out;
}

const forVideo = ["--video-start", videoStart, "--mat", "A"];
const vtt = (text) => new WebVTTParser().parse(text, "metadata");
const states = () => fold(log);

test("chapters: bouts after one another, periods within them (WebVTT, sections 1.3 and 6.1)", async () => {
  const store = await demoStore();
  const text = await exported(store, "chapters", ...forVideo);
  const { cues, errors } = new WebVTTParser().parse(text, "chapters");
  assert.deepEqual(errors, []);
  const bouts = cues.filter(({ id }) => !id.includes("."));
  const periods = cues.filter(({ id }) => id.includes("."));
  const wrestled = [...(await states()).values()].filter(
    ({ bout, clock: { elapsed_ms } }) => bout.startsWith("a") && elapsed_ms > 0,
  );
  for (const { bout } of wrestled) assert.ok(bouts.some(({ id }) => id === bout), bout);
  for (const [i, bout] of bouts.entries())
    if (i > 0) assert.ok(bout.startTime >= bouts[i - 1].endTime, `${bout.id} after the one before`);
  for (const period of periods) {
    const bout = bouts.find(({ id }) => id === period.id.split(".")[0]);
    assert.ok(period.startTime >= bout.startTime && period.endTime <= bout.endTime, period.id);
  }
  assert.ok(periods.length > bouts.length, "some bouts have two periods");
});

test("cues: every score that stands, at its moment, with what it made", async () => {
  const store = await demoStore();
  const { cues, errors } = vtt(await exported(store, "cues", ...forVideo));
  assert.deepEqual(errors, []);
  const said = cues.map(({ id, startTime, endTime, text }) => ({
    id,
    startTime,
    endTime,
    ...JSON.parse(text),
  }));
  for (const cue of said) assert.equal(Math.round((cue.endTime - cue.startTime) * 1000), 7000, cue.id);
  const events = new Map(demoEvents().map((event) => [event.id, event]));
  for (const cue of said) {
    const event = events.get(cue.id);
    assert.equal(event.type, "score");
    if (event.t_ms !== undefined) continue; // keyed late: its moment is not when it was keyed
    const moment = (Date.parse(event.keyed_at ?? event.at) - Date.parse(videoStart)) / 1000;
    assert.ok(Math.abs(cue.startTime + 4 - moment) < 0.002, `${cue.id}: ${cue.startTime}, ${moment}`);
  }
  for (const [bout, { score, holds }] of await states()) {
    if (!bout.startsWith("a")) continue; // of the other mat
    const own = said.filter((cue) => cue.bout === bout);
    for (const side of ["red", "blue"]) {
      const points = own.filter((cue) => cue.side === side).reduce((sum, cue) => sum + cue.points, 0);
      assert.ok(points <= score[side], `${bout} ${side}: ${points} of ${score[side]}`);
      const counted = Object.values(holds?.[side] ?? {}).reduce((sum, count) => sum + count, 0);
      assert.ok(own.filter((cue) => cue.side === side).length <= counted);
    }
    assert.ok(own.length > 0 || score.red + score.blue === 0, bout);
    if (own.length > 0)
      assert.ok(own.at(-1).score.red <= score.red && own.at(-1).score.blue <= score.blue);
  }
});

test("a cue can't be ended by what somebody is called", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    call("b1", { red: { name: "Ilse --> <b>Brandt</b> & Co" } }),
    clock("b1", "start"),
    score("b1", "red", 2, { technique: "single_leg" }),
  ]);
  await new Promise((resolve) => setTimeout(resolve, 20)); // a bout that has lasted
  await daemon.post(clock("b1", "stop"));
  await daemon.stop();
  const start = new Date(Date.now() - 3600_000).toISOString();
  for (const form of ["chapters", "cues"]) {
    const { out } = await run(["export", "--store", daemon.store, "--as", form, "--mat", "A", "--video-start", start]);
    const { cues, errors } = vtt(out);
    assert.deepEqual(errors, [], out);
    if (form === "cues") assert.equal(JSON.parse(cues[0].text).name, "Ilse --> <b>Brandt</b> & Co");
    else assert.match(cues[0].text, /^Ilse --&gt; &lt;b>?(&gt;)?Brandt/);
  }
});

test("chapter lines for the video's description", async () => {
  const store = await demoStore();
  const lines = (await exported(store, "chapter-lines", ...forVideo)).trim().split("\n");
  assert.match(lines[0], /^0:0\d:\d\d .+ – .+, .+ kg, semi-final$/);
  const seconds = lines.map((line) => {
    const [, hours, minutes, rest] = /^(\d+):(\d\d):(\d\d) /.exec(line);
    return hours * 3600 + minutes * 60 + +rest;
  });
  assert.deepEqual(seconds, [...seconds].sort((one, other) => one - other));
});

test("results as CSV (RFC 4180), as the fold has them", async () => {
  const store = await demoStore();
  const text = await exported(store, "results");
  assert.ok(text.includes("\r\n") && !/[^\r]\n/.test(text), "lines end with CRLF");
  const rows = new Map(parse(text, { columns: true }).map((row) => [row.bout, row]));
  let count = 0;
  for (const [bout, { result, score }] of await states()) {
    if (!result) continue;
    count++;
    const row = rows.get(bout);
    assert.deepEqual(
      [row.how, row.code, row.winner, +row.red_score, +row.blue_score, +row.time_ms],
      [result.how, result.code, result.winner ?? "", score.red, score.blue, result.time_ms],
      bout,
    );
  }
  assert.equal(rows.size, count);
});

test("a name that a spreadsheet would calculate is a text (OWASP ASVS 1.2.10)", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    call("b1", { red: { name: "=1+2", team: 'Harbour, "East"' }, blue: { name: "-Haddad" } }),
    clock("b1", "start"),
    score("b1", "red", 2),
    make("close", "b1", { how: "fall", winner: "red" }),
  ]);
  const rows = parse(await daemon.get("/api/v1/results.csv"), { columns: true });
  assert.deepEqual([rows[0].red, rows[0].blue, rows[0].red_team], ["'=1+2", "'-Haddad", 'Harbour, "East"']);
  assert.equal(parse(await daemon.get("/api/v1/scores.csv"), { columns: true })[0].points, "2");
});

test("Atom (RFC 4287): an entry keeps its id, a correction moves `updated`, a result taken back goes", async (t) => {
  const daemon = await daemonFor(t);
  const feed = async () => new Parser().parseString(await daemon.get("/api/v1/results.atom"));
  const close = make("close", "b1", { how: "points", winner: "red" });
  await daemon.postAll([call("b1"), clock("b1", "start"), score("b1", "red", 2), close]);
  const before = await feed();
  assert.equal(before.items.length, 1);
  assert.equal(before.items[0].title, "Ilse Brandt – Noor Haddad, freestyle 57 kg");
  assert.match(before.items[0].summary, /^Ilse Brandt beats Noor Haddad on points, 2 to 0/);
  await daemon.post(make("amend", "b1", { ref: close.id, set: { how: "fall" }, why: "officials" }));
  const after = await feed();
  assert.equal(after.items[0].id, before.items[0].id);
  assert.equal(after.items[0].pubDate ?? after.items[0].published, before.items[0].pubDate ?? before.items[0].published);
  assert.match(after.items[0].summary, /by fall/);
  assert.match(await daemon.get("/api/v1/results.atom"), /officials' sheet decides/);
  await daemon.post(voided("b1", close.id));
  assert.equal((await feed()).items.length, 0);
  await daemon.post(make("close", "b1", { how: "points", winner: "red" }));
  const again = await feed();
  assert.equal(again.items[0].id, before.items[0].id);
  await daemon.stop();
  const { out } = await run(["export", "--store", daemon.store, "--as", "atom"]);
  const offline = await new Parser().parseString(out);
  assert.equal(offline.items[0].id, before.items[0].id, "the same from the store");
});

test("IPTC Sport Schema (sportschema.org 1.1), expanded as JSON-LD", async () => {
  const store = await demoStore();
  const sport = "https://sportschema.org/ontologies/main/";
  for (const [bout, { result, score }] of await states()) {
    if (!result) continue;
    const text = await exported(store, "sport", "--bout", bout, "--url", "https://example.org/day/");
    const nodes = await jsonld.flatten(JSON.parse(text));
    const of = (type) => nodes.filter((node) => node["@type"]?.includes(sport + type));
    const [event] = of("Event");
    assert.equal(event["@id"], `https://example.org/day/${bout}`);
    assert.equal(event[`${sport}participation`].length, 2);
    const parts = of("IndividualParticipation");
    for (const side of ["red", "blue"]) {
      const part = parts.find((one) => one["@id"].endsWith(`/participation/${side}`));
      assert.equal(part[`${sport}score`][0]["@value"], `${score[side]}`);
      const outcome = !result.winner ? "undecided" : result.winner === side ? "win" : "loss";
      assert.equal(
        part[`${sport}eventOutcome`][0]["@id"],
        `http://cv.iptc.org/newscodes/speventoutcome/${outcome}`,
      );
    }
    const splits = of("ParticipationSplit").map((split) => +split[`${sport}score`][0]["@value"]);
    assert.equal(
      splits.reduce((sum, points) => sum + points, 0),
      score.red + score.blue,
      `${bout}: the periods' points`,
    );
    assert.equal(of("Athlete").length, 2);
  }
});

test("a day with minors is published when that is said, then as initials; the booth's notes never", async () => {
  const store = await demoStore();
  const { code, errors } = await run(["export", "--store", store, "--as", "results"]);
  assert.equal(code, 1);
  assert.match(errors, /minors wrestle on this day/);
  const entries = demoEvents().filter((event) => event.type === "entry" && event.minor && !event.consent);
  assert.ok(entries.length > 0);
  const all = [
    await exported(store, "results"),
    await exported(store, "scores"),
    await exported(store, "atom"),
    await exported(store, "chapters", ...forVideo),
    await exported(store, "cues", ...forVideo),
  ].join("\n");
  for (const { name } of entries) assert.ok(!all.includes(name), name);
});

test("what goes with what", async () => {
  const store = await demoStore();
  const rows = [
    [["--as", "chapters"], /--video-start goes with chapters, cues and chapter-lines/],
    [["--as", "atom", ...forVideo], /--video-start goes with/],
    [["--as", "cues", "--video-start", videoStart], /a video is of one mat/],
    [["--as", "sport"], /--as sport needs a --bout/],
    [["--as", "verse"], /--as knows no verse/],
  ];
  for (const [words, message] of rows) {
    const { code, errors } = await run(["export", "--store", store, ...words]);
    assert.equal(code, 2);
    assert.match(errors, message);
  }
});

test("no bout without a result is published as finished", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  await daemon.postAll([call("b1"), clock("b1", "start"), score("b1", "red", 2)]);
  const answer = await daemon.ask("/api/v1/bouts/b1/sport");
  assert.equal(answer.status, 404);
});
