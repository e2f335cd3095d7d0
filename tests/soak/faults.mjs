// A disk that fails at one call or another, and what must come of it.
import assert from "node:assert/strict";
import { join } from "node:path";
import { FaultyDisk } from "../daemon/shims/faulty-disk.mjs";
import { call, score } from "../support/bouts.mjs";
import { assertProblem, checkProblem, Daemon, daemonFor } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { rows, temporaryFolder } from "../support/program.mjs";
import { exported } from "./damage.mjs";

const newPath = () => join(temporaryFolder(), "day.sqlite");

/** The store's log, as `boutwire export` prints it. */
async function keptBy(store) {
  const { code, lines, errors } = await exported(store);
  assert.equal(code, 0, errors);
  return rows(lines.join("\n"));
}

function assertKept(log, acknowledged, what) {
  const kept = new Map(log.map(({ id, seq }) => [id, seq]));
  for (const [id, seq] of acknowledged) assert.equal(kept.get(id), seq, `${what}: ${id}`);
  assert.equal(kept.size, log.length, `${what}: none twice`);
  assert.deepEqual(
    log.map(({ seq }) => seq),
    log.map((_, i) => i + 1),
    `${what}: no gap`,
  );
}

/** Keys until an event is refused: {event, answer}. */
async function keyUntilRefused(daemon, acknowledged) {
  for (let i = 0; i < 10; i++) {
    const event = score("f", "red", 1);
    const answer = await daemon.postText(JSON.stringify(event));
    if (answer.status !== 200) return { event, answer };
    acknowledged.set(event.id, JSON.parse(answer.body).seq);
  }
  return assert.fail("no event was refused");
}

/** Keys so much, a commit at a time, that the log beside the store becomes long and is moved into it. */
async function keyUntilFailed(daemon, disk, acknowledged) {
  for (let i = 0; i < 2000 && !disk.hasFailed; i++) {
    const event = { id: `day-${i}`, type: "session", session: "morning", name: "One", do: "start" };
    const { status, body } = await daemon.postText(JSON.stringify(event));
    if (status !== 200) return;
    acknowledged.set(event.id, JSON.parse(body).seq);
  }
}

/** The disk fails once while a daemon runs.
 *  @param {{file: string, calls: string, from?: number, count?: number, error: string, says: RegExp,
 *   many?: boolean}} fault  `many`: it takes many events until such a call comes */
export async function assertFault(t, { file, calls, from = 1, count = 1, error, says, many }) {
  const store = newPath();
  const disk = new FaultyDisk({ files: `${store}${file}`, calls, from, count, error });
  const daemon = await daemonFor(t, { store, env: disk.env });
  const acknowledged = new Map();
  for (const event of [call("f"), score("f", "blue", 2)])
    acknowledged.set(event.id, await daemon.post(event));
  const line = await Line.open(daemon, "mat/A/table");
  disk.arm();
  if (many) await keyUntilFailed(daemon, disk, acknowledged);
  const { event, answer } = await keyUntilRefused(daemon, acknowledged);
  assertProblem(answer, { status: 503, type: "stopped" });
  assert.match(JSON.parse(answer.body).detail, says);
  assert.ok(JSON.parse(answer.body).detail.includes(store));

  const ready = await daemon.ask("/readyz");
  assertProblem(ready, { status: 503, type: "stopped" });
  assert.equal(JSON.parse(ready.body).detail, JSON.parse(answer.body).detail);
  assert.equal((await daemon.ask("/healthz")).status, 200);
  assert.match(daemon.errors, /can't be written, no event is taken/);

  const heard = line.heard.items.length;
  line.say({ event });
  const { problem } = await line.find((message) => "problem" in message, "a problem", heard);
  checkProblem(problem, { status: 503, type: "stopped", id: event.id });
  assertProblem(await daemon.postText(JSON.stringify(event)), { status: 503, type: "stopped" });
  const shown = new Map(rows(await daemon.log("f")).map(({ id, seq }) => [id, seq]));
  const ofBout = [...acknowledged].filter(([id]) => !id.startsWith("day-"));
  assert.deepEqual([...shown], ofBout, "what was acknowledged is shown, and nothing else");
  const kept = await keptBy(store);
  assertKept(kept, acknowledged, "read from beside");
  line.break();
  await daemon.stop();
  assert.ok(disk.calls.at(-1).endsWith(" failed"), `nothing is retried: ${disk.calls.slice(-5)}`);

  const again = await daemonFor(t, { store });
  assertKept(await keptBy(store), acknowledged, "after a restart");
  await again.post(event); // it may be there or not: it is once in the end
  const log = await keptBy(store);
  assert.equal(log.filter(({ id }) => id === event.id).length, 1);
  assertKept(log, acknowledged, "and it goes on");
  await again.stop();
}

/** One life of a daemon whose disk fails at the nth call: it starts or says why not, takes events or
 *  says why not. Notes what was acknowledged. */
async function liveWithFault(disk, store, acknowledged, what) {
  let daemon;
  try {
    // The archive is elsewhere: only the store's own calls are counted.
    daemon = await Daemon.start({ store, words: ["--archive", newPath()], env: disk.env });
  } catch (error) {
    assert.match(error.message, /the daemon ended: (2 .*reason=|SIGKILL)/s, what);
    return;
  }
  for (const event of [call("s"), score("s", "red", 1), score("s", "blue", 1)]) {
    const answer = await daemon.postText(JSON.stringify(event)).catch(() => undefined);
    if (!answer) break; // killed
    if (answer.status === 200) acknowledged.set(event.id, JSON.parse(answer.body).seq);
    else assertProblem(answer, { status: 503, type: "stopped" });
  }
  if (daemon.isAlive()) await daemon.kill();
}

/** From the first call on a store's files to the last, every `step`th fails, and all after it; each
 *  time with a store that a killed daemon has left. */
export async function sweepFaults({ error, step = 1, tell = () => {} }) {
  for (let from = 1; ; from += step) {
    const what = `${error} at call ${from}`;
    const store = newPath();
    const acknowledged = new Map();
    const first = await Daemon.start({ store });
    for (const event of [call("s", { mat: "B" }), score("s", "red", 2)])
      acknowledged.set(event.id, await first.post(event));
    await first.kill();
    const calls = "pwrite,sync,truncate";
    const disk = new FaultyDisk({ files: `${store}*`, calls, from, error }).arm();
    await liveWithFault(disk, store, acknowledged, what);
    const again = await Daemon.start({ store });
    assertKept(rows(await again.log("s")), acknowledged, what);
    await again.post(score("s", "red", 1));
    await again.stop();
    tell(what);
    if (!disk.hasFailed) return from;
  }
}
