// `make soak`: what `make test` takes samples of, in full, by the real program. A line a round, at the
// end how many passed. The seed makes the random points again: SEED=… make soak. With names as
// arguments only those parts run: node tests/soak/soak.mjs kills log-cuts
import { randomBytes } from "node:crypto";
import { FaultyDisk } from "../daemon/shims/faulty-disk.mjs";
import {
  assertCut,
  assertFlip,
  assertLogCut,
  assertLogFlip,
  assertRebuildKilled,
  makeClosedStore,
  makeKilledStore,
} from "./damage.mjs";
import { CuttableProxy } from "../support/proxy.mjs";
import { assertCablePulled, isPossible } from "./cable.mjs";
import { sweepFaults } from "./faults.mjs";
import { killAndLook, newVictim } from "./kills.mjs";
import { assertTangle, newTangle } from "./tangle.mjs";
import { assertHalfOpen, assertSlowReaders, assertStandsStill, assertStorm } from "./peers.mjs";
import { startDaemon } from "../support/daemon.mjs";

const seed = Number(process.env.SEED ?? randomBytes(4).readUInt32BE());
const rounds = Number(process.env.ROUNDS ?? 220);

/** mulberry32: the same numbers for the same seed. */
function randomFrom(start) {
  let state = start >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

const total = { passed: 0, failed: 0 };

/** One round: passed if it doesn't throw. */
async function round(name, act) {
  try {
    const told = await act();
    total.passed++;
    console.log(`passed ${name}${told ? `: ${told}` : ""}`);
  } catch (error) {
    total.failed++;
    console.log(`FAILED ${name}: ${error.message}`);
  }
}

const range = (from, to, step = 1) =>
  Array.from({ length: Math.max(0, Math.ceil((to - from) / step)) }, (_, i) => from + i * step);

/** Rounds of one store each, two at a time: each half has a store of its own. */
async function onEach(name, makeStore, places, act) {
  const half = async (odd) => {
    const store = await makeStore();
    for (const [i, place] of places(store).entries())
      if (i % 2 === odd) await round(`${name} ${place}`, () => act(store, place));
  };
  await Promise.all([half(0), half(1)]);
}

const parts = {
  async kills() {
    const random = randomFrom(seed);
    const victim = newVictim();
    for (let i = 1; i <= rounds; i++)
      await round(`kill ${i}`, () => killAndLook(victim, random));
  },

  async tangles() {
    const random = randomFrom(seed + 1);
    let tangle = newTangle();
    for (let i = 1; i <= rounds / 4; i++) {
      if (i % 8 === 0) tangle = newTangle();
      await round(`tangle ${i}`, () => assertTangle(tangle, random));
    }
  },

  // At every byte of the last four pages, and one in eleven of the rest.
  cuts: () =>
    onEach(
      "cut at",
      () => makeClosedStore(60),
      ({ image: { database } }) => [
        ...range(1, database.length - 4 * 512, 11),
        ...range(database.length - 4 * 512, database.length + 1),
      ],
      assertCut,
    ),

  flips: () =>
    onEach(
      "flip at",
      () => makeClosedStore(24),
      ({ image: { database } }) => range(0, database.length, 3),
      assertFlip,
    ),

  "log-cuts": () =>
    onEach(
      "log cut at",
      () => makeKilledStore(6),
      ({ image: { log } }) => range(0, log.length + 1),
      assertLogCut,
    ),

  "log-flips": () =>
    onEach(
      "log flip at",
      () => makeKilledStore(8),
      ({ image: { log } }) => range(0, log.length, 3),
      assertLogFlip,
    ),

  async rebuilds() {
    const store = await makeClosedStore(60);
    const size = store.image.database.length - 600;
    let reached = true;
    for (let step = 1; reached; step++)
      await round(`rebuild killed at step ${step}`, async () => {
        reached = await assertRebuildKilled(store, size, step, (fault) => new FaultyDisk(fault));
      });
  },

  async faults() {
    for (const error of ["EIO", "ENOSPC", "KILL"])
      await round(`a disk with ${error} at every call`, async () => {
        const tell = (what) => console.log(`       ${what}`);
        return `${(await sweepFaults({ error, tell })) - 1} calls`;
      });
  },
};

/** A part that is one round with a daemon of its own. */
const withDaemon = (name, act) => () =>
  round(name, async () => {
    const daemon = await startDaemon();
    try {
      return await act(daemon);
    } finally {
      await daemon.stop();
    }
  });

Object.assign(parts, {
  stopped: withDaemon("stopped for 30 s", (daemon) => assertStandsStill(daemon, 30)),
  slow: withDaemon("slow readers", assertSlowReaders),
  storm: withDaemon("a storm of 5,000", (daemon) =>
    assertStorm(daemon, 5000, { rounds: 3, limit_ms: 120000 }),
  ),
  silent: withDaemon("a line that goes silent", async (daemon) => {
    const proxy = await CuttableProxy.open(daemon);
    return assertHalfOpen(daemon, proxy, () => proxy.freeze()).finally(() => proxy.close());
  }),
  async cable() {
    if (isPossible()) await round("a cable that is pulled", assertCablePulled);
    else console.log("left out: a network namespace needs root and iproute2");
  },
});

const wanted = process.argv.slice(2);
const unknown = wanted.filter((name) => !(name in parts));
if (unknown.length > 0) {
  console.error(`no part is called ${unknown.join(", ")}; there are ${Object.keys(parts).join(", ")}`);
  process.exit(2);
}
console.log(`seed ${seed}`);
for (const [name, part] of Object.entries(parts)) {
  if (wanted.length > 0 && !wanted.includes(name)) continue;
  const start = Date.now();
  console.log(`\n== ${name}`);
  await part();
  console.log(`== ${name}: ${Math.round((Date.now() - start) / 1000)} s`);
}
console.log(`\nseed ${seed}`);
console.log(`${total.passed} passed, ${total.failed} failed`);
process.exit(total.failed === 0 && total.passed > 0 ? 0 : 1);
