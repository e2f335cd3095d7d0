// Fan-out: one message to 1,000, 5,000 and 10,000 subscribers, from the daemon and from a bare server that does
// one send() for each of them (fanout/floor.c), with the same clients (fanout/crowd.c), round by round in turn.
// Prints medians and ratios; judges nothing. docs/speed.md says what the figures mean.
// node tests/bench/fanout.mjs [--long] [--plain] [--only ws|sse|screen|slow] [--rounds N] [--counts 1000,10000]
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { spawn, spawnSync } from "node:child_process";
import { createInterface } from "node:readline";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";

const root = join(dirname(fileURLToPath(import.meta.url)), "..", "..");
const { values: options } = parseArgs({ options: {
  long: { type: "boolean", default: false },
  only: { type: "string", default: "" },
  rounds: { type: "string" },
  plain: { type: "boolean", default: false },
  counts: { type: "string", default: "1000,5000,10000" },
  boutwire: { type: "string", default: join(root, "build/boutwire") },
} });
const ROUNDS = Number(options.rounds ?? (options.long ? 101 : 21));
const COUNTS = options.counts.split(",").map(Number);
const MAT = "fan-out-of-a-full-hall"; // so that the patch of a clock has the size of a usual message
const TOPIC = `mat/${MAT}/follow`;

const ALONE = spawnSync("chrt", ["-r", "1", "true"]).status === 0;
const HEAD = ["fan-out to", "bytes", "CPU ns each", "ratio", "less the event", "first has it ms", "last has it, p50", "ratio",
  "p99", "ratio", "bytes a subscriber"];

const quantile = (figures, part) => {
  const sorted = [...figures].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * part))];
};
const median = (figures) => quantile(figures, 0.5);

/** A program of ours, spoken to by lines. */
class Program {
  constructor(command, args, { env = {}, priority = 1 } = {}) {
    // Where it is allowed they go before what else runs on this machine, the server before its clients.
    const [program, ...rest] = ALONE ? ["chrt", "-r", String(priority), command, ...args] : [command, ...args];
    this.child = spawn(program, rest, { stdio: ["pipe", "pipe", "inherit"], env: { ...process.env, ...env } });
    this.ended = new Promise((resolve) => this.child.once("exit", resolve));
    this.lines = createInterface({ input: this.child.stdout })[Symbol.asyncIterator]();
  }
  async line() {
    const { value, done } = await this.lines.next();
    if (done) throw new Error(`${this.child.spawnfile} has ended`);
    return value;
  }
  async ask(text) {
    this.child.stdin.write(`${text}\n`);
    return JSON.parse(await this.line());
  }
  async end() {
    this.child.stdin.end();
    this.child.kill();
    await this.ended;
  }
}

class Server extends Program {
  async listening() {
    this.port = Number(/:(\d+)\//.exec(await this.line())[1]);
    return this;
  }
  /** What the process alone keeps in memory, bytes. */
  memory() {
    return 1024 * Number(/^RssAnon:\s+(\d+)/m.exec(readFileSync(`/proc/${this.child.pid}/status`, "utf8"))[1]);
  }
}

// In memory, where there is such a folder: what a commit costs is the disk's, and bench.mjs measures it.
const folder = mkdtempSync(join(existsSync("/dev/shm") ? "/dev/shm" : tmpdir(), "boutwire-fanout-"));
let stores = 0;
const daemon = (env) => new Server(options.boutwire,
  ["serve", "--listen", "127.0.0.1:0", "--event-rate", "0", "--store", join(folder, `${stores++}.sqlite`), "--log-level", "error"],
  { env, priority: 2 }).listening();
const floor = () => new Server(join(root, "build/bench_floor"), [], { priority: 2 }).listening();

async function crowd(server, kind, count, topic, slow = 0) {
  const before = server.memory();
  const program = new Program(join(root, "build/bench_crowd"),
    [kind, server.port, server.child.pid, count, topic, slow].map(String));
  const { seconds } = JSON.parse(await program.line());
  program.seconds = seconds;
  program.memory = (server.memory() - before) / count;
  return program;
}

/** Clock events, started and stopped in turn: each a patch of some 200 bytes for the followers. */
class Events {
  constructor(name) {
    this.name = name;
    this.count = 0;
  }
  call() {
    return JSON.stringify({ id: `${this.name}-call`, type: "bout", bout: this.name, mat: MAT, call: true,
      rules: "freestyle-2022", red: { name: "Benchmark Red" }, blue: { name: "Benchmark Blue" } });
  }
  next() {
    const does = this.count++ % 2 === 0 ? "start" : "stop";
    return JSON.stringify({ id: `${this.name}-${this.count}`, type: "clock", bout: this.name, do: does });
  }
}

async function post(server, body) {
  const answer = await fetch(`http://127.0.0.1:${server.port}/api/v1/events`,
    { method: "POST", headers: { "content-type": "application/json" }, body });
  if (!answer.ok) throw new Error(await answer.text());
}

const publish = (program, events) =>
  program.ask(`round\tPOST /api/v1/events\tapplication/json\t${events.next()}`);
const publishBytes = (program, kind, bytes) => {
  const head = kind === "sse" ? "event: patch\ndata: \n\n".length : 4;
  return program.ask(`round\tPOST /message\ttext/plain\t${"x".repeat(bytes - head)}`);
};

async function withDaemon(work, env = {}) {
  const server = await daemon(env);
  try {
    const events = new Events("bench");
    await post(server, events.call());
    for (let i = 0; i < 6; i++) await post(server, events.next()); // the bout's first lines have been told
    return await work(server, events);
  } finally {
    await server.end();
  }
}

/** What one event costs the daemon beside its delivery: with one subscriber. */
async function eventAlone(server, events, kind) {
  const one = await crowd(server, kind, 1, TOPIC);
  const spent = [];
  for (let i = 0; i < 20; i++) spent.push((await publish(one, events)).cpu_ns);
  await one.end();
  return median(spent);
}

/** The daemon's side of a comparison: a round is an event. */
async function daemonSide(name, server, events, kind, count) {
  const alone_ns = await eventAlone(server, events, kind);
  const followers = await crowd(server, kind, count, TOPIC);
  return { name, alone_ns, followers, rounds: [], round: () => publish(followers, events) };
}

async function floorSide(server, kind, count) {
  const followers = await crowd(server, kind, count, "-");
  return { name: "floor", alone_ns: 0, followers, rounds: [], round: (bytes) => publishBytes(followers, kind, bytes) };
}

/** Round by round in turn: the floor sends as many bytes as the daemon just did. */
async function takeTurns(sides) {
  for (let i = -2; i < ROUNDS; i++) { // the first two warm up
    let bytes = 0;
    for (const side of sides) {
      const round = await side.round(bytes);
      bytes = round.bytes;
      if (i >= 0) side.rounds.push(round);
    }
  }
  for (const side of sides) await side.followers.end();
}

function compare(kind, count) {
  return withDaemon((ours, events) => withDaemon(async (plain, plainEvents) => {
    const bare = await floor();
    const sides = [await daemonSide("daemon", ours, events, kind, count)];
    if (options.plain) sides.push(await daemonSide("daemon, plain sends", plain, plainEvents, kind, count));
    sides.push(await floorSide(bare, kind, count));
    await takeTurns(sides);
    await bare.end();
    return summaries(kind, count, sides);
  }, { BOUTWIRE_PLAIN_SENDS: "1" }));
}

function summaries(kind, count, sides) {
  const of = (side, name, part) => quantile(side.rounds.map((round) => round[name]), part);
  const bare = sides.at(-1);
  const ratio = (side, name, part) => (of(side, name, part) / of(bare, name, part)).toFixed(2);
  const ms = (side, name, part) => of(side, name, part).toFixed(1);
  return sides.map((side) => [
    `${count} ${kind}, ${side.name}`, side.rounds[0].bytes,
    (of(side, "cpu_ns", 0.5) / count).toFixed(0), ratio(side, "cpu_ns", 0.5),
    ((of(side, "cpu_ns", 0.5) - side.alone_ns) / of(bare, "cpu_ns", 0.5)).toFixed(2),
    ms(side, "first_ms", 0.5), ms(side, "last_ms", 0.5), ratio(side, "last_ms", 0.5), ms(side, "last_ms", 0.99),
    ratio(side, "last_ms", 0.99), side.followers.memory.toFixed(0),
  ]);
}

function print(table) {
  const widths = table[0].map((_, i) => Math.max(...table.map((row) => String(row[i]).length)));
  for (const row of table) console.log(row.map((cell, i) => String(cell)[i === 0 ? "padEnd" : "padStart"](widths[i])).join("  "));
}

/** A screen and a booth of the same mat, with nobody else and while the last event is still being handed out to a
 *  hall full of followers. */
async function screenBeside(count) {
  return withDaemon(async (server, events) => {
    const followers = count > 0 ? await crowd(server, "ws", count, TOPIC) : null;
    const pause = async (ms) => followers !== null && await followers.ask(`quiet\t${ms / 1000}`);
    const screen = new Program(join(root, "build/bench_screen"), [String(server.port), MAT]);
    await screen.line();
    const answers = [];
    for (let i = 0; i < 8 * ROUNDS; i++) {
      await screen.ask(events.next());
      await pause(i * 37 % 90);
      answers.push(await screen.ask(events.next()));
      await pause(220);
    }
    await screen.end();
    if (followers !== null) await followers.end();
    return { count, answers };
  });
}

function printScreens(results) {
  const table = [[`ms from the event sent, p50 and p99 of ${results[0].answers.length}`, "screen", "", "booth", "", "answer", ""]];
  for (const { count, answers } of results)
    table.push([`while ${count} followers are served`, ...["screen_ms", "booth_ms", "answer_ms"].flatMap((name) =>
      [0.5, 0.99].map((part) => quantile(answers.map((answer) => answer[name]), part).toFixed(2)))]);
  print(table);
}

/** The others' p99 while a tenth has stopped reading, and before. */
async function slowTenth(count) {
  return withDaemon(async (server, events) => {
    const followers = await crowd(server, "ws", count, TOPIC, count / 10);
    const round = async () => (await publish(followers, events)).p99_ms;
    const before = [], after = [];
    for (let i = 0; i < 2 * ROUNDS; i++) before.push(await round());
    await followers.ask("slow");
    const start = Date.now();
    while (Date.now() - start < 9000) await round(); // what the kernel keeps for them fills up
    while (Date.now() - start < 13500 && after.length < 2 * ROUNDS) after.push(await round()); // they are let go at 15 s
    await followers.end();
    return { count, before: median(before), after: median(after), rounds: [before.length, after.length] };
  });
}

try {
  const wants = (name) => options.only === "" || options.only === name;
  const rows = [];
  for (const kind of ["ws", "sse"].filter(wants)) for (const count of COUNTS) rows.push(...await compare(kind, count));
  if (rows.length > 0) print([HEAD, ...rows]);
  const most = Math.max(...COUNTS);
  if (wants("screen")) printScreens([await screenBeside(0), await screenBeside(most)]);
  if (wants("slow")) {
    const { count, before, after, rounds } = await slowTenth(most);
    console.log(`p99 of ${count} followers ${before.toFixed(1)} ms; of the others, while a tenth doesn't read, ` +
      `${after.toFixed(1)} ms: ${(after / before).toFixed(2)} (${rounds.join(" and ")} rounds)`);
  }
} finally {
  rmSync(folder, { recursive: true });
}
