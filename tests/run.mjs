// Runs every test and closes with one line, `N passed, N failed`. With names as arguments, runs
// only those suites: node tests/run.mjs unit pages
import { spawn } from "node:child_process";
import { mkdirSync, readFileSync, readdirSync, rmSync, statSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "..");
const sanitized = join(root, "build", "sanitized");
const results = join(root, "build", "results");

/** Runs a command with its output shown; answers its exit code and all that it printed. */
function run(command, args, env = {}) {
  return new Promise((resolve) => {
    const child = spawn(command, args, { cwd: root, env: { ...process.env, ...env } });
    let text = "";
    for (const stream of [child.stdout, child.stderr]) {
      stream.setEncoding("utf8");
      stream.on("data", (piece) => {
        text += piece;
        process.stdout.write(piece);
      });
    }
    child.on("error", (error) => resolve({ code: 127, text: String(error) }));
    child.on("close", (code) => resolve({ code: code ?? 128, text }));
  });
}

/** All files below a folder whose names end so. */
function filesBelow(folder, end) {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) return entry.name === "node_modules" ? [] : filesBelow(path, end);
    return entry.name.endsWith(end) ? [path] : [];
  }).sort();
}

/** A suite that ran nothing, or ended badly without saying what failed, has failed. */
function counted({ code, passed, failed }) {
  if (passed + failed === 0 || (code !== 0 && failed === 0)) return { passed, failed: failed + 1 };
  return { passed, failed };
}

/** Criterion exits with 0 after a leak: the sanitizers' reports are files, each a failure. */
async function unit() {
  const report = join(sanitized, "report");
  for (const file of filesBelow(sanitized, "")) if (file.startsWith(report)) rmSync(file);
  const { code, text } = await run(join(sanitized, "unit"), ["--jobs", "2"], {
    ASAN_OPTIONS: `log_path=${report}:detect_leaks=1`,
    UBSAN_OPTIONS: "print_stacktrace=1",
  });
  const [, tested, passing] = /Tested:.*?(\d+).*?Passing:.*?(\d+)/.exec(text.replace(/\x1b\[[\d;]*m/g, "")) ?? [0, 0, 0]; // eslint-disable-line no-control-regex
  const reports = filesBelow(sanitized, "").filter((file) => file.startsWith(report) && statSync(file).size > 0);
  for (const file of reports) console.log(readFileSync(file, "utf8"));
  return counted({ code, passed: Number(passing), failed: Number(tested) - Number(passing) + reports.length });
}

/** Tests of processes and pages wait more than they compute: several files at a time. */
async function nodeTests(folder, atOnce = 1) {
  const tap = join(results, `${folder}.tap`);
  mkdirSync(results, { recursive: true });
  const { code } = await run("node", [
    "--test", `--test-concurrency=${atOnce}`, "--test-reporter=spec", "--test-reporter-destination=stdout",
    "--test-reporter=tap", `--test-reporter-destination=${tap}`,
    ...filesBelow(join(root, "tests", folder), "").filter((file) => /\.test\.m?js$/.test(file)),
  ]);
  const text = readFileSync(tap, "utf8");
  const count = (word) => Number(new RegExp(`^# ${word} (\\d+)`, "m").exec(text)?.[1] ?? 0);
  return counted({ code, passed: count("pass"), failed: count("fail") + count("cancelled") });
}

/** The program against an independent reading of the same contract, on random logs. */
async function compared() {
  const { code, text } = await run("node", [
    "tests/reading/compare.mjs", "--boutwire", "build/sanitized/boutwire",
    "--editions", "daemon/rules/editions", "--seeds", "1-60",
    "--rules", "fixtures/editions/june-2013.json", "--rules", "fixtures/editions/league.json",
  ]);
  const [, passed, failed] = /(\d+) passed, (\d+) failed/.exec(text) ?? [0, 0, 0];
  return counted({ code, passed: Number(passed), failed: Number(failed) });
}

/** Every input that a fuzzer once made something of, played back (tests/fuzz/fuzz.h). */
async function fuzz() {
  const total = { passed: 0, failed: 0 };
  for (const target of readdirSync(join(root, "tests/fuzz/corpus"))) {
    const { code, text } = await run(join(sanitized, `replay_${target}`), [`tests/fuzz/corpus/${target}`]);
    const [, passed, failed] = /(\d+) passed, (\d+) failed/.exec(text) ?? [0, 0, 0];
    const counts = counted({ code, passed: Number(passed), failed: Number(failed) });
    total.passed += counts.passed;
    total.failed += counts.failed;
  }
  return total;
}

/** The core calls no clock and no file, and keeps no writable data. */
async function fence() {
  const { code } = await run("make", ["--no-print-directory", "fence"]);
  return { passed: code === 0 ? 1 : 0, failed: code === 0 ? 0 : 1 };
}

const suites = {
  unit,
  fence,
  fuzz,
  reading: () => nodeTests("reading"),
  compared,
  daemon: () => nodeTests("daemon", 3),
  pages: () => nodeTests("pages", 2),
};

const wanted = process.argv.slice(2);
const unknown = wanted.filter((name) => !(name in suites));
if (unknown.length > 0) {
  console.error(`no suite is called ${unknown.join(", ")}; there are ${Object.keys(suites).join(", ")}`);
  process.exit(2);
}
const total = { passed: 0, failed: 0 };
const table = [];
for (const [name, suite] of Object.entries(suites)) {
  if (wanted.length > 0 && !wanted.includes(name)) continue;
  const start = Date.now();
  console.log(`\n== ${name}`);
  const { passed, failed } = await suite();
  table.push(`${name}: ${passed} passed, ${failed} failed (${Math.round((Date.now() - start) / 1000)} s)`);
  total.passed += passed;
  total.failed += failed;
}
console.log(`\n${table.join("\n")}`);
console.log(`${total.passed} passed, ${total.failed} failed`);
process.exit(total.failed === 0 ? 0 : 1);
