// Damage to a store's files, and what must come of it: each `assert…` starts the real program on
// files as damage left them and looks at what it does, says and leaves. `make test` takes a sample of
// each, `make soak` all.
import assert from "node:assert/strict";
import { existsSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { call, note, score } from "../support/bouts.mjs";
import { Daemon } from "../support/daemon.mjs";
import { run, temporaryFolder } from "../support/program.mjs";
import { sql } from "../support/store.mjs";

/* ---- files ---- */

const ENDS = ["", "-wal", "-shm", "-damaged", "-damaged-wal", "-rebuilt", "-rebuilding"];

/** A store's files as they are, to be put back as often as wanted. */
export class Image {
  constructor(path) {
    this.database = readFileSync(path);
    this.log = existsSync(`${path}-wal`) ? readFileSync(`${path}-wal`) : Buffer.alloc(0);
  }

  /** Puts the files at `path`, as they were but for what is given, and nothing else. */
  put(path, { database = this.database, log = this.log } = {}) {
    for (const end of ENDS) rmSync(`${path}${end}`, { force: true });
    writeFileSync(path, database);
    if (log.length > 0) writeFileSync(`${path}-wal`, log);
  }
}

/** The same bytes with one bit changed: which, goes with the place. */
export function flipped(bytes, at) {
  const copy = Buffer.from(bytes);
  copy[at] ^= 1 << at % 8;
  return copy;
}

const sizeOf = (path) => (existsSync(path) ? statSync(path).size : 0);

/* ---- stores ---- */

const SMALL_PAGE = 512; // many pages of few events: more of everything that can be damaged

function makeSmallPages(path) {
  sql(path, `PRAGMA page_size = ${SMALL_PAGE}; CREATE TABLE t (x); DROP TABLE t`);
}

export async function exported(path, ...words) {
  const { code, out, errors } = await run(["export", "--store", path, ...words]);
  return { code, lines: out.split("\n").slice(0, -1), errors };
}

/** A store that was closed in order.
 *  @returns {Promise<{path: string, image: Image, events: string[], lastWithin: Function}>} `events`:
 *  as they are kept; `lastWithin(size)`: how many of them are in the first bytes of the database */
export async function makeClosedStore(count) {
  const path = join(temporaryFolder(), "day.sqlite");
  const at = (i) => new Date(Date.UTC(2027, 4, 8, 10) + 100 * i).toISOString();
  const events = [call("c"), ...Array.from({ length: count - 1 }, () => score("c", "red", 1))];
  const log = events.map((event, i) => `${JSON.stringify({ ...event, at: at(i), by: "table" })}\n`);
  makeSmallPages(path);
  const { code, errors } = await run(["import", "--store", path, "-"], { input: log.join("") });
  assert.equal(code, 0, errors);
  const { lines } = await exported(path);
  assert.equal(lines.length, count);
  return { path, image: new Image(path), events: lines, lastWithin: leavesOf(path) };
}

/** By SQLite's own list of a table's pages: which events are within the first bytes. */
function leavesOf(path) {
  const rows = sql(
    path,
    "SELECT pageno, ncell FROM dbstat WHERE name = 'events' AND pagetype = 'leaf' ORDER BY path",
  );
  let last = 0;
  const leaves = rows.split("\n").map((row) => {
    const [page, cells] = row.split("|").map(Number);
    return { end: page * SMALL_PAGE, last: (last += cells) };
  });
  return (size) => {
    const gone = leaves.findIndex(({ end }) => end > size);
    return leaves.at(gone === -1 ? -1 : gone - 1)?.last * (gone === 0 ? 0 : 1);
  };
}

/** A store whose daemon was killed, with all of its events in the log beside it.
 *  @returns {Promise<{path: string, image: Image, events: string[], sizes: number[]}>} `sizes`: how
 *  long the log was when each was acknowledged */
export async function makeKilledStore(count) {
  const path = join(temporaryFolder(), "day.sqlite");
  const sizes = [];
  makeSmallPages(path);
  const daemon = await Daemon.start({ store: path });
  for (let i = 0; i < count; i++) {
    await daemon.post(i === 0 ? call("k") : i % 3 === 0 ? note("k", "x") : score("k", "blue", 1));
    sizes.push(sizeOf(`${path}-wal`));
  }
  const { lines } = await exported(path);
  await daemon.kill();
  assert.equal(lines.length, count);
  return { path, image: new Image(path), events: lines, sizes };
}

/* ---- what the program makes of it ---- */

/** Starts the daemon: what it shows, or why it doesn't start. */
export async function outcome(path) {
  let daemon;
  try {
    daemon = await Daemon.start({ store: path });
  } catch (error) {
    return { started: false, errors: error.message };
  }
  const { code, lines, errors } = await exported(path);
  await daemon.kill();
  assert.equal(code, 0, errors);
  return { started: true, lines, errors: daemon.errors };
}

/** The numbers that a sentence like "events 3, 5 to 7 are lost, 4 can be read" names as lost. */
function lostBy(sentence) {
  const list = /events? ([\d, to]+) (?:is|are) lost/.exec(sentence)?.[1];
  if (!list) return [];
  return list.split(", ").flatMap((range) => {
    const [first, last = first] = range.split(" to ").map(Number);
    return Array.from({ length: last - first + 1 }, (_, i) => first + i);
  });
}

/** Refused: in words, with nothing changed; and what it says is lost is what can't be read. */
async function assertRefused({ path, events }, { errors }, was, what) {
  assert.match(errors, /the daemon ended: 2 /, what);
  assert.match(
    errors,
    /is damaged|is not a store of boutwire|has format \d+|can only be read|can't be/,
    what,
  );
  assert.deepEqual(new Image(path), was, `${what}: nothing is changed`);
  const { code, lines, errors: told } = await exported(path, "--keep-going");
  if (code === 2) return assert.doesNotMatch(errors, /is damaged/, `${what}: ${told}`);
  // What only a daemon refuses (it can't be written, say) is exported whole.
  if (code === 0) return assert.deepEqual(lines, events, what);
  assert.equal(code, 1, `${what}: ${told}`);
  if (/no event can be read/.test(told)) return assert.equal(lines.length, 0, what);
  const seqs = new Set(lines.map((line) => JSON.parse(line).seq));
  for (const line of lines) assert.ok(events.includes(line), `${what}: ${line}`);
  const lost = lostBy(told);
  for (let seq = 1; seq <= events.length; seq++)
    assert.notEqual(seqs.has(seq), lost.includes(seq), `${what}: event ${seq}: ${told}`);
}

async function assertChecked(path, what, wanted) {
  const was = new Image(path);
  const { code, errors } = await run(["check", path]);
  assert.ok(wanted.includes(code), `${what}: check ends with ${code}: ${errors}`);
  assert.deepEqual(new Image(path), was, `${what}: check changes nothing`);
}

const range = (first, last) =>
  first === last ? new RegExp(`event ${first}\\b.* is lost`) : new RegExp(`events ${first} to ${last}\\b.* are lost`);

/** The database ends after so many bytes: what is whole up to there is kept, the rest told. */
export async function assertCut(store, size) {
  const { path, image, events, lastWithin } = store;
  const what = `cut at ${size} of ${image.database.length}`;
  const database = image.database.subarray(0, size);
  image.put(path, { database });
  await assertChecked(path, what, size === image.database.length ? [0] : [1]);
  const got = await outcome(path);
  const kept = lastWithin(size);
  if (kept === 0) return assertRefused(store, got, new Image(path), what);
  assert.ok(got.started, `${what}: ${got.errors}`);
  assert.deepEqual(got.lines, events.slice(0, kept), what);
  if (size === image.database.length) return;
  assert.deepEqual(readFileSync(`${path}-damaged`), database, `${what}: the damaged one is kept`);
  assert.match(got.errors, /cut short/, what);
  if (kept < events.length) assert.match(got.errors, range(kept + 1, events.length), what);
}

/** One bit of the database is changed: all is there, or it is refused. */
export async function assertFlip(store, at) {
  const { path, image, events } = store;
  const what = `flipped at ${at} of ${image.database.length}`;
  image.put(path, { database: flipped(image.database, at) });
  const was = new Image(path);
  await assertChecked(path, what, [0, 1, 2]);
  const got = await outcome(path);
  if (got.started) assert.deepEqual(got.lines, events, what);
  else await assertRefused(store, got, was, what);
  return got.started;
}

/** The log beside the store ends after so many bytes: each commit that is whole is kept. */
export async function assertLogCut(store, size) {
  const { path, image, events, sizes } = store;
  const what = `log cut at ${size} of ${image.log.length}`;
  image.put(path, { log: image.log.subarray(0, size) });
  await assertChecked(path, what, [0]);
  const got = await outcome(path);
  assert.ok(got.started, `${what}: ${got.errors}`);
  const whole = sizes.filter((end) => end <= size).length;
  const begun = sizes.filter((_, i) => (i === 0 ? 0 : sizes[i - 1]) < size).length;
  const kept = got.lines.length;
  assert.ok(whole <= kept && kept <= begun, `${what}: ${whole} <= ${kept} <= ${begun}`);
  assert.deepEqual(got.lines, events.slice(0, kept), what);
  if (whole < begun && kept === whole && !sizes.includes(size))
    assert.match(got.errors, new RegExp(`unfinished commit.* after event ${kept} is not there`), what);
}

/** One bit of the log beside the store is changed: all is there, or it is refused, or what can't be
 *  told from an unfinished commit, the last one, is gone and said to be. */
export async function assertLogFlip(store, at) {
  const { path, image, events } = store;
  const what = `log flipped at ${at} of ${image.log.length}`;
  image.put(path, { log: flipped(image.log, at) });
  const was = new Image(path);
  await assertChecked(path, what, [0, 1]);
  const got = await outcome(path);
  if (!got.started) return assertRefused(store, got, was, what);
  const kept = got.lines.length;
  assert.deepEqual(got.lines, events.slice(0, kept), what);
  if (kept === events.length) return;
  assert.equal(kept, events.length - 1, `${what}: ${got.errors}`);
  assert.match(got.errors, new RegExp(`unfinished commit.* after event ${kept} is not there`), what);
}

/** A start that makes a cut store anew is killed at its nth step, and another one follows. Answers
 *  whether it came to that step.
 *  @param {(options: object) => object} faultyDisk makes the disk that kills it */
export async function assertRebuildKilled(store, size, step, faultyDisk) {
  const { path, image, events, lastWithin } = store;
  const what = `cut at ${size}, killed at step ${step}`;
  const database = image.database.subarray(0, size);
  image.put(path, { database });
  const disk = faultyDisk({
    files: `${path}*`,
    calls: "pwrite,sync,truncate,rename",
    from: step,
    error: "KILL",
  }).arm();
  const daemon = await Daemon.start({ store: path, env: disk.env }).catch(() => undefined);
  await daemon?.kill();
  const got = await outcome(path);
  assert.ok(got.started, `${what}: ${got.errors}`);
  assert.deepEqual(got.lines, events.slice(0, lastWithin(size)), what);
  assert.deepEqual(readFileSync(`${path}-damaged`), database, `${what}: the damaged one is kept`);
  return disk.hasFailed;
}
