// Durable before visible, by the real program: backups, exports and imports beside a daemon; disks
// that fill up or fail; stores that were damaged. Samples of what `make soak` does in full.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { existsSync, readFileSync, readdirSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import {
  Image,
  assertCut,
  assertFlip,
  assertLogCut,
  assertLogFlip,
  assertRebuildKilled,
  exported,
  makeClosedStore,
  makeKilledStore,
} from "../soak/damage.mjs";
import { assertFault, sweepFaults } from "../soak/faults.mjs";
import { call, clock, note, score, voided } from "../support/bouts.mjs";
import { assertProblem, Daemon, daemonFor } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { demoDay, ndjson, rows, run, temporaryFolder } from "../support/program.mjs";
import { sql } from "../support/store.mjs";
import { FaultyDisk } from "./shims/faulty-disk.mjs";

const newPath = (name = "day.sqlite") => join(temporaryFolder(), name);
const hash = (path) => createHash("sha256").update(readFileSync(path)).digest("hex");

async function fine(...words) {
  const { code, out, errors } = await run(words);
  assert.equal(code, 0, `${words.join(" ")}: ${errors}`);
  return out;
}

async function refused(code, reason, ...words) {
  const got = await run(words);
  assert.equal(got.code, code, `${words.join(" ")}: ${got.out}${got.errors}`);
  assert.match(got.errors, reason);
  return got;
}

/* ---- backup ---- */

test("a backup while events come in holds all that was acknowledged before, and can be served", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("b"));
  const acknowledged = new Map();
  let goesOn = true;
  const senders = ["red", "blue"].map(async (side) => {
    while (goesOn) {
      const event = score("b", side, 1);
      acknowledged.set(event.id, await daemon.post(event));
    }
  });
  const copies = [];
  for (let i = 0; i < 4; i++) {
    const before = new Map(acknowledged);
    const copy = newPath("copy.sqlite");
    await fine("backup", "--store", daemon.store, copy);
    copies.push({ before, copy });
  }
  goesOn = false;
  await Promise.all(senders);
  for (const { before, copy } of copies) {
    assert.match(await fine("check", copy), /a store, \d+ events of 1 bouts/);
    const again = await daemonFor(t, { store: copy });
    const log = rows(await again.log("b"));
    const kept = new Map(log.map(({ id, seq }) => [id, seq]));
    for (const [id, seq] of before) assert.equal(kept.get(id), seq);
    assert.deepEqual(
      log.map(({ seq }) => seq),
      log.map((_, i) => i + 1),
    );
    await again.post(score("b", "red", 2));
    await again.stop();
  }
  assert.equal(rows(await daemon.log("b")).length, acknowledged.size + 1, "the first is undisturbed");
});

test("a backup replaces nothing, and what fails leaves nothing behind", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("r"));
  const other = newPath("mine.txt");
  writeFileSync(other, "mine");
  await refused(2, /nothing is replaced/, "backup", "--store", daemon.store, other);
  assert.equal(readFileSync(other, "utf8"), "mine");
  await refused(2, /nothing is replaced/, "backup", "--store", daemon.store, daemon.store);
  const nowhere = join(temporaryFolder(), "nowhere", "copy.sqlite");
  await refused(2, /no such file/i, "backup", "--store", daemon.store, nowhere);
  const missing = newPath();
  await refused(2, /no such file/, "backup", "--store", missing, newPath("copy.sqlite"));
  assert.ok(!existsSync(missing));
  const full = newPath("copy.sqlite");
  const disk = new FaultyDisk({ files: `${full}*`, calls: "pwrite", from: 2, error: "ENOSPC" }).arm();
  const got = await run(["backup", "--store", daemon.store, full], { env: disk.env });
  assert.equal(got.code, 2, got.errors);
  assert.match(got.errors, /full/);
  assert.deepEqual(readdirSync(join(full, "..")), []);
  await daemon.post(score("r", "red", 1));
});

/* ---- export and import ---- */

test("export then import gives the same log, byte for byte", async (t) => {
  const day = newPath();
  const out = await fine("import", "--store", day, demoDay);
  const log = (await exported(day)).lines;
  assert.match(out, new RegExp(`${log.length} events imported`));
  const again = newPath();
  const text = newPath("log.ndjson");
  writeFileSync(text, `${log.join("\n")}\n`);
  await fine("import", "--store", again, text);
  assert.deepEqual((await exported(again)).lines, log);
  assert.deepEqual(
    rows(log.join("\n")).map(({ seq }) => seq),
    log.map((_, i) => i + 1),
  );
  // What a daemon shows of it is what `fold` makes of the file, and what it prints is the log.
  const daemon = await daemonFor(t, { store: again });
  const { bout } = rows(log.join("\n")).find((event) => event.bout);
  const { code, lines } = await exported(again, "--bout", bout);
  assert.equal(code, 0);
  assert.equal(`${lines.join("\n")}\n`, await daemon.log(bout), "a daemon that runs tells the same");
  assert.deepEqual(lines, log.filter((line) => JSON.parse(line).bout === bout));
  await refused(1, /has no bout nobody/, "export", "--store", again, "--bout", "nobody");
});

test("what a daemon took, with who keyed it, goes through export and import unchanged", async (t) => {
  const daemon = await daemonFor(t);
  const slip = score("u", "red", 2);
  await daemon.postAll([call("u"), slip, voided("u", slip.id), note("u", "„Ünïcode“ 🤼", "booth")]);
  const { lines } = await exported(daemon.store);
  assert.equal(lines.length, 4);
  assert.ok(lines.every((line) => JSON.parse(line).by && JSON.parse(line).at));
  const again = newPath();
  const { code, errors } = await run(["import", "--store", again, "-"], { input: lines.join("\n") });
  assert.equal(code, 0, errors);
  assert.deepEqual((await exported(again)).lines, lines);
});

test("an import is whole or nothing, goes on after what is there, and skips what is there already", async () => {
  const at = (second) => `2027-05-08T10:00:0${second}.000Z`;
  const day = newPath();
  const first = [
    { ...call("i"), at: at(1), seq: 77, by: "table" },
    { ...score("i", "red", 2), at: at(2) },
  ];
  const second = [first[1], { ...score("i", "blue", 1), at: at(3) }];
  const take = (path, events) => run(["import", "--store", path, "-"], { input: ndjson(events) });
  assert.equal((await take(day, first)).code, 0);
  const added = await take(day, second);
  assert.match(added.out, /1 events imported, 1 were there already/);
  const kept = rows((await exported(day)).lines.join("\n"));
  assert.deepEqual(kept, [
    { ...first[0], seq: 1 },
    { ...first[1], seq: 2 },
    { ...second[1], seq: 3 },
  ]);

  const was = hash(day);
  const bad = [{ ...score("i", "red", 1), at: at(4) }, { ...score("i", "red", 2), points: 3, at: at(5) }];
  const got = await take(day, bad);
  assert.equal(got.code, 1);
  assert.match(got.errors, /^-:2: points/);
  assert.equal(hash(day), was, "nothing of it is in the store");
  for (const [events, reason] of [
    [[score("i", "red", 1)], /^-:1: at/],
    [[{ ...first[1], points: 1, action: "step_out" }], /^-:1: id: seq 2 has this id already/],
  ]) {
    const { code, errors } = await take(day, events);
    assert.equal(code, 1, errors);
    assert.match(errors, reason);
    assert.equal(hash(day), was);
  }
  // Asked to, it takes what is valid, names what isn't, and says by its exit code that there was some.
  const some = newPath();
  writeFileSync(some, readFileSync(day));
  const most = await run(["import", "--keep-going", "--store", some, "-"], { input: ndjson(bad) });
  assert.equal(most.code, 1);
  assert.match(most.errors, /^-:2: points[^\n]*\n$/);
  assert.match(most.out, /: 1 events imported\n/);
  assert.equal((await exported(some)).lines.length, 4);

  const none = newPath();
  assert.equal((await take(none, bad)).code, 1);
  assert.ok(!existsSync(none), "a store isn't made for a log that is refused");
  await refused(2, /no such file/i, "import", "--store", none, newPath("missing.ndjson"));
});

test("an import is refused while a daemon holds the store, and a check too", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("h"));
  const held = /is in use: another daemon holds this store/;
  await refused(2, held, "import", "--store", daemon.store, demoDay);
  await refused(2, held, "check", daemon.store);
  await daemon.stop();
  assert.match(await fine("check", daemon.store), /a store, 1 events of 1 bouts/);
});

test("a clock that runs at the end of an imported log is lost from there on", async (t) => {
  const store = newPath();
  const events = [
    { ...call("l"), at: "2027-05-08T10:00:00.000Z" },
    { ...clock("l", "start"), at: "2027-05-08T10:00:01.000Z" },
    { ...score("l", "red", 2), at: "2027-05-08T10:00:31.000Z" },
  ];
  // Long ago, so that any daemon has been away since.
  const log = ndjson(events).replaceAll("2027", "2020");
  assert.equal((await run(["import", "--store", store, "-"], { input: log })).code, 0);
  const daemon = await daemonFor(t, { store });
  const barrier = note("l", "Settled", "booth");
  await daemon.post(barrier);
  const { clock: stands, phase } = await daemon.bout("l");
  assert.deepEqual([phase, stands.t_ms, stands.unsure], ["stopped", 30000, true]);
});

/* ---- check ---- */

test("check says of a store what is lost, and of every event whether it is valid", async () => {
  const { path, image, events } = await makeClosedStore(30);
  assert.match(await fine("check", path), /: a store, 30 events of 1 bouts\n$/);
  const damaged = async (statements, ...reasons) => {
    image.put(path);
    sql(path, statements);
    const was = hash(path);
    for (const reason of reasons) await refused(1, reason, "check", path);
    assert.equal(hash(path), was);
  };
  await damaged("DELETE FROM events WHERE seq = 7", /event 7 is missing; event 7 is lost, 29 can/);
  await damaged(
    "DELETE FROM events WHERE seq IN (7, 8, 9, 20)",
    /event 7 is missing; events 7 to 9, 20 are lost, 26 can be read/,
  );
  await damaged("DELETE FROM events WHERE seq > 28", /events 29 to 30, the last, are lost/);
  await damaged("UPDATE events SET text = 'no' WHERE seq = 9", /event 9 is not as it was written/);
  await damaged("DROP TABLE life", /no such table: life; no event is lost, 30 can be read/);
  // Every byte is as it was written, but what was written is no log.
  const wrong = JSON.stringify({ ...JSON.parse(events[4]), points: 3 });
  image.put(path);
  const { checksum } = await import("../support/store.mjs");
  sql(path, `UPDATE events SET text = '${wrong}', checksum = ${checksum(5, wrong)} WHERE seq = 5`);
  await refused(1, /: event 5: points/, "check", path);
  const { code, errors } = await Daemon.startInVain({ store: path });
  assert.equal(code, 2);
  assert.match(errors, /holds an event that can't be read" seq=5/);
});

test("what a damaged store still holds can be exported, and imported into a new one", async (t) => {
  const { path, events } = await makeClosedStore(30);
  sql(path, "UPDATE events SET text = 'no' WHERE seq IN (9, 30)");
  const { code, errors } = await Daemon.startInVain({ store: path });
  assert.equal(code, 2);
  assert.match(errors, /event 9 is not as it was written; events 9, 30 are lost, 28 can be read/);
  assert.equal((await exported(path)).code, 1, "without being asked, it stops at the damage");
  const { lines, code: ended, errors: told } = await exported(path, "--keep-going");
  assert.equal(ended, 1);
  assert.match(told, /events 9, 30 are lost, 28 can be read/);
  assert.deepEqual(lines, events.filter((_, i) => i !== 8 && i !== 29));
  const again = newPath();
  assert.equal((await run(["import", "--store", again, "-"], { input: lines.join("\n") })).code, 0);
  const daemon = await daemonFor(t, { store: again });
  assert.equal(rows(await daemon.log("c")).length, 28);
});

/* ---- damage to every part: samples ---- */

const sample = (from, to, count) =>
  Array.from({ length: count }, (_, i) => Math.floor(from + ((to - from) * i) / (count - 1)));

test("cut short anywhere: what is whole is kept, the rest is told", async () => {
  const store = await makeClosedStore(60);
  const { length } = store.image.database;
  for (const size of [1, ...sample(length - 1100, length, 9), ...sample(600, length - 1200, 6)])
    await assertCut(store, size);
});

test("one bit flipped anywhere in a store: all is there, or it is refused and says what is lost", async () => {
  const store = await makeClosedStore(20);
  let started = 0;
  for (const at of [...sample(0, 99, 12), ...sample(100, store.image.database.length - 1, 24)])
    started += (await assertFlip(store, at)) ? 1 : 0;
  assert.ok(started < 30, "most are found");
});

test("the log beside a store cut anywhere: every whole commit is kept", async () => {
  const store = await makeKilledStore(8);
  for (const size of sample(0, store.image.log.length, 20)) await assertLogCut(store, size);
  for (const size of store.sizes.slice(3)) await assertLogCut(store, size - 1);
});

test("one bit flipped anywhere in the log beside a store: nothing is lost in silence", async () => {
  const store = await makeKilledStore(8);
  for (const at of [...sample(0, 80, 10), ...sample(81, store.image.log.length - 1, 24)])
    await assertLogFlip(store, at);
});

test("killed at any step of making a cut store anew: the next start finishes it", async () => {
  const store = await makeClosedStore(40);
  const size = store.image.database.length - 600;
  const disk = (fault) => new FaultyDisk(fault);
  let step = 1;
  // Towards its end are the renames; the last step is the one that is never reached.
  for (; await assertRebuildKilled(store, size, step, disk); step += step < 12 ? 4 : 1);
  assert.ok(step > 8, String(step));
});

/* ---- a disk that fails ---- */

test("readiness: ready while events can be taken", async (t) => {
  const daemon = await daemonFor(t);
  const { status, body } = await daemon.ask("/readyz");
  assert.deepEqual([status, body], [200, "ready\n"]);
});

const faults = [
  { what: "the log's sync fails", file: "-wal", calls: "sync", error: "EIO", says: /disk I\/O error/ },
  { what: "its second", file: "-wal", calls: "sync", from: 2, error: "EIO", says: /I\/O error/ },
  { what: "a sync finds no room", file: "-wal", calls: "sync", error: "ENOSPC", says: /no space left/ },
  { what: "a write fails", file: "-wal", calls: "pwrite", from: 3, error: "EIO", says: /disk I\/O error/ },
  { what: "a write finds no room", file: "-wal", calls: "pwrite", from: 2, count: 0, error: "ENOSPC", says: /full/ },
  { what: "moving the log into the store fails", file: "", calls: "sync", error: "EIO", says: /I\/O error/, many: true },
];
for (const fault of faults)
  test(`${fault.what}: nothing is taken from then on, nothing retried, and what stands is shown`, (t) =>
    assertFault(t, fault));

test("a fault at any call, from the start on: nothing that was acknowledged is lost", async () => {
  for (const error of ["EIO", "ENOSPC", "KILL"]) await sweepFaults({ error, step: 9 });
});

test("time goes on for what stands after the disk has failed", async (t) => {
  const disk = new FaultyDisk({ files: "", calls: "sync", from: 1, error: "EIO" });
  const store = newPath();
  disk.env.FAULT_FILES = `${store}-wal`;
  const daemon = await daemonFor(t, { store, env: disk.env });
  const length = { periods: 2, period_ms: 1500, break_ms: 60000 };
  await daemon.postAll([call("t", { length }), clock("t", "start")]);
  const line = await Line.open(daemon, "mat/A/table");
  disk.arm();
  assertProblem(await daemon.postText(JSON.stringify(score("t", "red", 2))), {
    status: 503,
    type: "stopped",
  });
  const { bout } = await line.state("mat/A/table", (state) => state.bout?.phase === "break");
  assert.deepEqual(bout.score, { red: 0, blue: 0 });
  line.break();
});

/** A file system that can be full: {folder, grow}. Undefined where none can be mounted. */
function smallDisk(t) {
  const folder = temporaryFolder();
  try {
    execFileSync("mount", ["-t", "tmpfs", "-o", "size=1m", "tmpfs", folder], { stdio: "pipe" });
  } catch {
    return undefined;
  }
  t.after(() => execFileSync("umount", ["-l", folder]));
  return {
    folder,
    grow: () => execFileSync("mount", ["-o", "remount,size=16m", folder], { stdio: "pipe" }),
  };
}

/** Keys notes until one is refused: those that were acknowledged, and the answer. */
async function keyUntilFull(daemon, acknowledged) {
  for (let i = 0; i < 20000; i++) {
    const event = note("f", "x".repeat(280), "booth");
    const answer = await daemon.postText(JSON.stringify(event));
    if (answer.status !== 200) return { event, answer };
    acknowledged.set(event.id, JSON.parse(answer.body).seq);
  }
  return assert.fail("it never filled up");
}

async function assertKept(daemon, acknowledged) {
  const log = rows(await daemon.log("f"));
  const kept = new Map(log.map(({ id, seq }) => [id, seq]));
  for (const [id, seq] of acknowledged) assert.equal(kept.get(id), seq, id);
  assert.equal(kept.size, log.length, "none twice");
}

const sizes = (folder) =>
  Object.fromEntries(readdirSync(folder).map((name) => [name, statSync(join(folder, name)).size]));

test("a full disk: events are refused, nothing is deleted, and with room again it goes on", async (t) => {
  const disk = smallDisk(t);
  if (!disk) {
    // Said aloud, and not skipped: the same by a disk that only says that it is full.
    t.diagnostic("no file system can be mounted here: a shim says that the disk is full");
    return fullByShim(t);
  }
  const store = join(disk.folder, "day.sqlite");
  const acknowledged = new Map();
  const daemon = await daemonFor(t, { store });
  acknowledged.set("f", await daemon.post({ ...call("f"), id: "f" }));
  const { event, answer } = await keyUntilFull(daemon, acknowledged);
  await assertStopped(daemon, answer, /full/);
  const files = sizes(disk.folder);
  await daemon.kill();
  // What little room is left goes too, and a start finds the disk full.
  try {
    for (let i = 0; ; i++) writeFileSync(join(disk.folder, `ballast${i}`), Buffer.alloc(4096));
  } catch (error) {
    assert.equal(error.code, "ENOSPC");
  }
  const while_full = await daemonFor(t, { store });
  await assertKept(while_full, acknowledged);
  await assertStopped(while_full, await while_full.postText(JSON.stringify(event)), /full/);
  const now = sizes(disk.folder);
  for (const name of ["day.sqlite", "day.sqlite-wal"])
    assert.ok(now[name] >= files[name], `${name} is not shortened`);
  await while_full.stop();
  disk.grow();
  const again = await daemonFor(t, { store });
  assert.equal((await again.ask("/readyz")).status, 200);
  await assertKept(again, acknowledged);
  await again.post(event);
  await assertKept(again, acknowledged);
});

/** Nothing is taken, with the reason; what stands is shown. */
async function assertStopped(daemon, answer, says) {
  assertProblem(answer, { status: 503, type: "stopped" });
  assert.match(JSON.parse(answer.body).detail, says);
  const ready = await daemon.ask("/readyz");
  assertProblem(ready, { status: 503, type: "stopped" });
  assert.match(JSON.parse(ready.body).detail, says);
  assert.equal((await daemon.ask("/healthz")).status, 200);
  assert.equal((await daemon.topic("mat/A/table")).state.bout.bout, "f");
}

async function fullByShim(t) {
  const store = newPath();
  const disk = new FaultyDisk({ files: `${store}*`, calls: "pwrite", from: 40, error: "ENOSPC" });
  const acknowledged = new Map();
  const daemon = await daemonFor(t, { store, env: disk.env });
  acknowledged.set("f", await daemon.post({ ...call("f"), id: "f" }));
  disk.arm();
  const { event, answer } = await keyUntilFull(daemon, acknowledged);
  await assertStopped(daemon, answer, /full/);
  await daemon.kill();
  const full = new FaultyDisk({ files: `${store}*`, calls: "pwrite", from: 1, error: "ENOSPC" });
  const whileFull = await daemonFor(t, { store, env: full.arm().env });
  await assertKept(whileFull, acknowledged);
  await assertStopped(whileFull, await whileFull.postText(JSON.stringify(event)), /full/);
  await whileFull.stop();
  const again = await daemonFor(t, { store });
  await assertKept(again, acknowledged);
  await again.post(event);
}

test("the same by a disk that only says that it is full", (t) => fullByShim(t));

test("a store and its log are the whole of it", async (t) => {
  // Copied as files while no daemon runs, killed or stopped, they are the same store elsewhere.
  const { path, image, events } = await makeKilledStore(5);
  const elsewhere = newPath();
  image.put(elsewhere);
  const daemon = await daemonFor(t, { store: elsewhere });
  assert.deepEqual((await exported(elsewhere)).lines, events);
  await daemon.stop();
  // The archive beside it is made of it, and no part of it.
  assert.deepEqual(readdirSync(join(elsewhere, "..")), ["day.sqlite", "day.sqlite.archive"]);
  assert.deepEqual(new Image(path), image);
});
