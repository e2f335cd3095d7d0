// The program under test, its files, and running one of its commands to the end.
// BOUTWIRE names another program; else it is the one with sanitizers, where it was built.
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { within } from "./wait.mjs";

export const root = fileURLToPath(new URL("../..", import.meta.url));
export const demoDay = join(root, "fixtures/demo/day.ndjson");
const built = ["build/sanitized/boutwire", "build/boutwire"].map((name) => join(root, name));
export const program = process.env.BOUTWIRE ?? built.find((path) => existsSync(path)) ?? built[1];

/** What the program is started with: nothing of ours that would set it, and sanitizers that end it
 *  with a code of their own. */
export function environment(more = {}) {
  const kept = Object.entries(process.env).filter(([name]) => !name.startsWith("BOUTWIRE"));
  return {
    ...Object.fromEntries(kept),
    ASAN_OPTIONS: "exitcode=99",
    UBSAN_OPTIONS: "print_stacktrace=1",
    BOUTWIRE_EVENT_RATE: "0", // tests key faster than any table; limits.test.mjs sets its own
    ...more,
  };
}

/** Runs a command to its end: {code, out, errors}.
 *  @param {string[]} words
 *  @param {{input?: string | Buffer, env?: object, cwd?: string}} options */
export function run(words, { input = "", env, cwd = root } = {}) {
  const child = spawn(program, words, { cwd, env: environment(env), stdio: "pipe" });
  const got = { out: "", errors: "" };
  child.stdout.setEncoding("utf8").on("data", (text) => (got.out += text));
  child.stderr.setEncoding("utf8").on("data", (text) => (got.errors += text));
  child.stdin.on("error", () => {}); // it may end before it has read everything
  child.stdin.end(input);
  const ended = new Promise((resolve, reject) => {
    child.on("error", reject);
    child.on("close", (code, signal) => resolve({ code: code ?? signal, ...got }));
  });
  return within(ended, `boutwire ${words.join(" ")} to end`).catch((error) => {
    child.kill("SIGKILL");
    throw error;
  });
}

/** The states that `boutwire fold` prints for a log, by bout. */
export async function fold(log, ...words) {
  const { code, out, errors } = await run(["fold", ...words, "-"], { input: log });
  if (code !== 0) throw new Error(`fold: ${code} ${errors}`);
  const states = rows(out);
  return new Map(states.map((state) => [state.bout, state]));
}

/** How much later a state is than an earlier one of the same log: by whatever moves with time in
 *  both. A state doesn't say when it is. */
export function movedSince(early, state) {
  if (early.clock.running) return state.clock.elapsed_ms - early.clock.elapsed_ms;
  if (early.break && state.break) return early.break.left_ms - state.break.left_ms;
  if (early.stoppage && state.stoppage) return state.stoppage.for_ms - early.stoppage.for_ms;
  return 0;
}

/** NDJSON to values and back. */
export const rows = (text) =>
  text
    .split("\n")
    .filter(Boolean)
    .map((row) => JSON.parse(row));
export const ndjson = (values) => values.map((value) => `${JSON.stringify(value)}\n`).join("");
export const demoEvents = () => rows(readFileSync(demoDay, "utf8"));

const folders = [];
process.on("exit", () => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

/** A folder that is gone when the tests have ended. */
export function temporaryFolder() {
  const folder = mkdtempSync(join(tmpdir(), "boutwire-test-"));
  folders.push(folder);
  return folder;
}
