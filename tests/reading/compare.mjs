/* Compares the program's `fold` with the reading, over logs made by chance.
 *
 *   node tests/reading/compare.mjs --boutwire build/boutwire --editions daemon/rules/editions \
 *       [--rules FILE]... [--seeds 1-200] [--events 120] [--mode valid|hostile] [--show 3]
 *
 * `--rules` files are editions that both get beside the shipped ones. A log from the outside can be
 * compared too: `--log FILE`. Every difference is shown with the seed and the fewest lines of the
 * log that still show it. Exit code 1 when there is any. */

import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { parseArgs } from "node:util";

import { canonical, comparable, difference } from "./canonical.mjs";
import { Dice } from "./dice.mjs";
import { fileOf, makeLog } from "./maker.mjs";
import { reading } from "./reading.mjs";

/** The editions of the shipped folder and of single files, by name. */
export function editionsFrom(folder, files = []) {
  const shipped = readdirSync(folder).filter((name) => name.endsWith(".json")).sort();
  const all = [...shipped.map((name) => join(folder, name)), ...files]
    .map((file) => JSON.parse(readFileSync(file, "utf8")));
  return Object.fromEntries(all.map((edition) => [edition.name, edition]));
}

/** The ways in which one log is folded: options of the reading, and the same as arguments. */
function waysFor(mode, lines, dice) {
  if (mode === "hostile") {
    return [{ each: true, keepGoing: true }, { keepGoing: true }, { each: true }, {}];
  }
  const times = lines.map((line) => /"at":\s*"([^"]+)"/.exec(line)?.[1]).filter(Boolean);
  const near = () => {
    const moved = dice.one([0, 0, 1, -1, dice.integer(-60_000, 60_000), dice.integer(-2000, 2000)]);
    return new Date(Date.parse(dice.one(times)) + moved).toISOString();
  };
  return [
    { each: true }, {}, { now: near() }, { until: near() }, { until: near() },
    { each: true, now: near() }, { each: true, until: near() },
  ];
}

function argumentsOf({ each, now, until, keepGoing }) {
  return [
    ...(each ? ["--each"] : []), ...(keepGoing ? ["--keep-going"] : []),
    ...(now ? ["--now", now] : []), ...(until ? ["--until", until] : []),
  ];
}

/** Something that folds a file: the program itself, in a process of its own each time. */
export function programFold(program, rules) {
  const added = rules.flatMap((file) => ["--rules", file]);
  return (file, options) => {
    const { status, signal, stdout, stderr, error } = spawnSync(
      program, ["fold", ...argumentsOf(options), ...added, file],
      { encoding: "utf8", timeout: 20_000, maxBuffer: 1 << 28 },
    );
    if (error) throw error;
    return { status: signal ?? status, lines: stdout.split("\n").slice(0, -1), stderr };
  };
}

/** @returns {undefined | {what: string, path?: string, read?, folded?}} the first difference
 * between the reading of a log and what the program makes of it */
export function compareOnce(file, lines, options, { editions, fold }) {
  const log = fileOf(lines);
  writeFileSync(file, log);
  const read = reading(log, editions, options);
  const folded = fold(file, options);

  const status = read.errors.length > 0 ? 1 : 0;
  const refused = [...folded.stderr.matchAll(/^.*?:(\d+): .*$/gm)].map(([, line]) => Number(line));
  const refusedByReading = read.errors.map(({ line }) => line);
  const places = difference(
    Object.fromEntries(refusedByReading.map((line) => [line, "refused"])),
    Object.fromEntries(refused.map((line) => [line, "refused"])),
  );
  if (places) {
    const number = Number(places.path.slice(1));
    const reason = read.errors.find(({ line }) => line === number)?.reason;
    return {
      what: "which lines are refused", path: `line ${number}: ${lines[number - 1]}`,
      read: reason ?? "accepted",
      folded: folded.stderr.split("\n").find((text) => text.includes(`:${number}: `)) ?? "accepted",
    };
  }
  if (folded.status !== status) {
    return { what: "exit code", read: status, folded: `${folded.status} ${folded.stderr}` };
  }
  for (let i = 0; i < Math.max(read.states.length, folded.lines.length); i++) {
    const found = compareStates(read.states[i], folded.lines[i]);
    if (found) return { ...found, state: i + 1 };
  }
  return undefined;
}

function compareStates(state, line) {
  if (state === undefined) return { what: "one state too many", folded: line };
  if (line === undefined) return { what: "a state is missing", read: canonical(state) };
  let folded;
  try {
    folded = JSON.parse(line);
  } catch (error) {
    return { what: `a state is no JSON: ${error.message}`, folded: line };
  }
  const found = difference(comparable(state), comparable(folded));
  if (found) {
    const what = `state of ${state.bout} at seq ${state.seq}`;
    return { what, path: found.path, read: found.one, folded: found.other };
  }
  // "Keys are printed in sorted order, without spaces"
  if (canonical(folded) !== line) {
    return { what: "how a state is written", read: canonical(folded), folded: line };
  }
  return undefined;
}

/** The fewest lines that still differ: lines are dropped as long as a difference is left.
 * @param differs takes lines, gives the difference or undefined */
export function shrink(lines, differs) {
  let kept = lines;
  for (let size = Math.ceil(kept.length / 2); size >= 1;) {
    let dropped = false;
    for (let start = 0; start < kept.length;) {
      const fewer = [...kept.slice(0, start), ...kept.slice(start + size)];
      if (differs(fewer)) {
        kept = fewer;
        dropped = true;
      } else {
        start += size;
      }
    }
    if (size > 1) size = Math.ceil(size / 2);
    else if (!dropped) break;
  }
  return kept;
}

/** @returns {undefined | {options, lines, found}} the first difference in one log, shrunk */
export function compareLog(lines, mode, dice, folder, known) {
  const file = join(folder, "log.ndjson");
  for (const options of waysFor(mode, lines, dice)) {
    const found = compareOnce(file, lines, options, known);
    if (!found) continue;
    // A shorter log must differ in the same kind of thing, and a valid one must stay valid.
    const differs = (fewer) => {
      if (mode === "valid" && !isValid(fewer, known.editions)) return undefined;
      const still = compareOnce(file, fewer, options, known);
      return still && kindOf(still) === kindOf(found) ? still : undefined;
    };
    const fewest = shrink(lines, differs);
    return { options, lines: fewest, found: differs(fewest) };
  }
  return undefined;
}

const isValid = (lines, editions) => reading(fileOf(lines), editions).errors.length === 0;

const kindOf = ({ what, path }) => (/^state of/.test(what) ? path.split("/")[1] : what);

function show(name, { options, lines, found }) {
  const value = (shown) => (typeof shown === "string" ? shown : canonical(shown) ?? "(absent)");
  console.log(`\n--- ${name}: fold ${argumentsOf(options).join(" ")}`);
  for (const line of lines) console.log(line.toString());
  console.log(`${found.what}${found.path ? `: ${found.path}` : ""}`);
  console.log(`  reading:  ${value(found.read)}`);
  console.log(`  boutwire: ${value(found.folded)}`);
}

function main() {
  const { values } = parseArgs({
    options: {
      boutwire: { type: "string", default: "build/boutwire" },
      editions: { type: "string", default: "daemon/rules/editions" },
      rules: { type: "string", multiple: true, default: [] },
      seeds: { type: "string", default: "1-200" },
      events: { type: "string", default: "120" },
      mode: { type: "string", multiple: true, default: ["valid", "hostile"] },
      show: { type: "string", default: "3" },
      log: { type: "string" },
    },
  });
  const [first, last = first] = values.seeds.split("-").map(Number);
  const editions = editionsFrom(values.editions, values.rules);
  const known = { editions, fold: programFold(values.boutwire, values.rules) };
  const folder = mkdtempSync(join(tmpdir(), "reading-"));
  let passed = 0;
  let failed = 0;
  const judge = (name, lines, mode, seed) => {
    const failure = compareLog(lines, mode, new Dice(seed), folder, known);
    if (!failure) return passed++;
    if (++failed <= Number(values.show)) show(name, failure);
    else console.log(`--- ${name}: ${failure.found.what} ${failure.found.path ?? ""} differs too`);
    return undefined;
  };
  try {
    if (values.log) {
      const lines = readFileSync(values.log, "utf8").split("\n");
      judge(values.log, lines, "hostile", 1);
      if (isValid(lines, known.editions)) judge(values.log, lines, "valid", 1);
    } else {
      for (let seed = first; seed <= last; seed++) {
        for (const mode of values.mode) {
          const { lines } = makeLog(seed, { editions, events: Number(values.events), mode });
          judge(`seed ${seed}, ${mode}`, lines, mode, seed);
        }
      }
    }
  } finally {
    rmSync(folder, { recursive: true });
  }
  console.log(`${passed} passed, ${failed} failed`);
  process.exitCode = failed > 0 ? 1 : 0;
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) main();
