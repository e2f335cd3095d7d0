// A log played to a running daemon gives what the log gives: exactly, in rhythm, over a crash in
// the middle; and the demo command plays one to itself.
import assert from "node:assert/strict";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { Daemon, daemonFor, PUBLIC_MINORS } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import {
  demoDay,
  demoEvents,
  fold,
  movedSince,
  ndjson,
  root,
  rows,
  run,
  temporaryFolder,
} from "../support/program.mjs";
import { storedEvents } from "../support/store.mjs";
import { until } from "../support/wait.mjs";

const rehearse = (daemon, ...words) =>
  run(["rehearse", "--quiet", "--to", `${daemon.host}:${daemon.port}`, ...words]);

async function rehearsed(daemon, ...words) {
  const { code, errors } = await rehearse(daemon, ...words);
  assert.equal(code, 0, errors);
  assert.equal(errors, "");
}

const moment_ms = ({ keyed_at, at }) => Math.min(...[keyed_at, at].filter(Boolean).map(Date.parse));

/** By how much the rehearsal of the log is later than the log, from any event that says so. */
async function shift_ms(daemon, bout, events) {
  const kept = rows(await daemon.log(bout)).find(({ keyed_at }) => keyed_at);
  return Date.parse(kept.keyed_at) - moment_ms(events.find(({ id }) => id === kept.id));
}

test("exactly: at every cut through the day each bout's state is as fold gives it, only later", async (t) => {
  const events = demoEvents();
  // In the middle of bouts, with clocks that run and with clocks that stand, and the whole day.
  for (const count of [95, 640, events.length]) {
    const daemon = await daemonFor(t);
    const line = await Line.open(daemon);
    const log = ndjson(events.slice(0, count));
    const path = join(temporaryFolder(), "day.ndjson");
    writeFileSync(path, log);
    await rehearsed(daemon, "--exact", path);
    const bouts = [
      ...new Set(
        events
          .slice(0, count)
          .map(({ bout }) => bout)
          .filter(Boolean),
      ),
    ];
    const later_ms = await shift_ms(daemon, bouts[0], events);
    const folded = (ms) => fold(log, "--now", new Date(ms - later_ms).toISOString());
    const early_ms = (await line.clock()).t1_ms;
    const states = await Promise.all(bouts.map((bout) => daemon.bout(bout)));
    const late_ms = (await line.clock()).t2_ms;
    const early = await folded(early_ms);
    for (const state of states) {
      const moved_ms = movedSince(early.get(state.bout), state);
      assert.ok(moved_ms >= 0 && moved_ms <= late_ms - early_ms, `${state.bout}: ${moved_ms}`);
      const want = moved_ms === 0 ? early : await folded(early_ms + moved_ms);
      assert.deepEqual(state, want.get(state.bout));
    }
    line.close();
    await daemon.stop();
    const stored = storedEvents(daemon.store).map(({ text }) => JSON.parse(text));
    assert.deepEqual(
      stored.map(({ id, seq }) => [id, seq]),
      events.slice(0, count).map(({ id }, i) => [id, i + 1]),
    );
  }
});

test("the published bouts, rehearsed: what was printed comes out of the daemon", async (t) => {
  const daemon = await daemonFor(t);
  for (const name of ["s02", "s06", "s08", "s13", "s19", "s24"]) {
    const path = join(root, "fixtures/published", name);
    await rehearsed(daemon, "--exact", `${path}.ndjson`);
    const { final } = JSON.parse(readFileSync(`${path}.expect.json`, "utf8"));
    const { bout } = rows(readFileSync(`${path}.ndjson`, "utf8"))[0];
    const { absent = [], ...members } = final;
    const state = await daemon.bout(bout);
    assertHolds(state, members, name);
    for (const member of absent) assert.ok(!(member in state), `${name}: ${member}`);
  }
});

/** Every member that is wanted is there, however deep; an object may have more. */
function assertHolds(got, want, place) {
  if (typeof want !== "object") return assert.equal(got, want, place);
  for (const [name, value] of Object.entries(want))
    assertHolds(got?.[name], value, `${place}/${name}`);
}

// What a rehearsal faster than life leaves as it is in the log: rehearsal.h.
const KEPT = [
  "seq",
  "phase",
  "score",
  "unconfirmed",
  "confirmed",
  "holds",
  "cautions",
  "passivity",
  "challenge",
  "leader",
  "due",
  "attacks",
  "outlook",
  "needs",
];

test("in rhythm, sixty times as fast: scores, order and result are as in the log", async (t) => {
  const daemon = await daemonFor(t);
  const events = demoEvents().filter(({ bout }) => bout === "b3");
  const log = ndjson(events);
  const path = join(temporaryFolder(), "b3.ndjson");
  writeFileSync(path, log);
  await rehearsed(daemon, "--speed", "60", path);
  const want = (await fold(log)).get("b3");
  const got = await daemon.bout("b3");
  for (const member of KEPT.filter((name) => name !== "seq"))
    assert.deepEqual(got[member], want[member], member);
  assert.deepEqual(got.result, want.result);
  const ids = rows(await daemon.log("b3")).map(({ id }) => id);
  assert.deepEqual(
    ids.filter((id) => !/\.(set|out)$/.test(id)),
    events.map(({ id }) => id),
  );
});

test("killed in the middle: the rehearsal goes on with the next daemon, and nothing counts twice", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const playing = rehearse(daemon, "--exact", demoDay);
  const hall = async () => (await daemon.topic("day/follow")).state.mats;
  await until(async () => Object.keys(await hall()).length === 2, "both mats");
  await daemon.kill();
  const again = await daemonFor(t, { store: daemon.store, port: daemon.port });
  const { code, errors } = await playing;
  assert.equal(code, 0, errors);
  assert.match(errors, /connected again/);
  const want = await fold(readFileSync(demoDay, "utf8"));
  for (const [bout, state] of want) assert.deepEqual(await again.bout(bout), state, bout);
});

test("rehearsed a second time, nothing is new", async (t) => {
  const daemon = await daemonFor(t);
  const path = join(root, "fixtures/published/s08.ndjson");
  await rehearsed(daemon, "--exact", path);
  const { bout } = rows(readFileSync(path, "utf8"))[0];
  const log = await daemon.log(bout);
  // Keyed at another time it is another event: refused, and nothing changes.
  const { code, errors } = await rehearse(daemon, "--exact", path);
  assert.equal(code, 1);
  assert.match(errors, /s08\.ndjson:1: .*id/);
  assert.equal(await daemon.log(bout), log);
});

test("without a daemon a rehearsal says so and ends with 2", async () => {
  const { code, errors } = await run(["rehearse", "--quiet", "--to", "127.0.0.1:1", demoDay]);
  assert.equal(code, 2);
  assert.match(errors, /no daemon answers at 127\.0\.0\.1 port 1/);
});

test("demo: a day plays in a store of its own, which is gone at the end", async (t) => {
  const daemon = await Daemon.start({
    command: "demo",
    words: ["--speed", "60", "--log", demoDay],
  });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  for (const page of ["/", "/screen/", "/booth/?mat=A", "/table/?mat=A", "/gallery/", "/follow/?mat=A"]) {
    assert.ok(daemon.out.includes(`${daemon.url(page)} `), daemon.out);
    assert.equal((await daemon.ask(page)).status, 200, page);
  }
  const line = await Line.open(daemon, "mat/A/follow", "mat/B/follow");
  t.after(() => line.break());
  for (const mat of ["A", "B"])
    await line.state(`mat/${mat}/follow`, ({ lines }) =>
      Object.values(lines ?? {}).some(({ kind }) => kind === "score"),
    );
  const [, store] = /store=(\S+)/.exec(daemon.errors);
  assert.ok(existsSync(store));
  await daemon.stop();
  assert.ok(!existsSync(store) && !existsSync(join(store, "..")));
});
