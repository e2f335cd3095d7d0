// The commentator's notes on an athlete are found again when that athlete is called: later on the
// same day from the log, on another day from the archive; by the athlete's key, and never in public.
import assert from "node:assert/strict";
import { join } from "node:path";
import { test } from "node:test";
import { call, make, note, voided } from "../support/bouts.mjs";
import { daemonFor } from "../support/daemon.mjs";
import { Line, topicsOf } from "../support/listeners.mjs";
import { temporaryFolder } from "../support/program.mjs";

const ann = { name: "Ann Aster", athlete: "ann" };
const bea = { name: "Bea Borage", athlete: "bea" };
const cia = { name: "Cia Clover", athlete: "cia" };

const closed = (bout) => [
  make("clock", bout, { do: "start" }),
  make("close", bout, { how: "fall", winner: "red" }),
];

const topic = async (daemon, name) =>
  JSON.parse((await daemon.ask(`/api/v1/topics/${name}`)).body).state;

const short = ({ earlier }) =>
  Object.values(earlier).map(({ side, text, bout, against }) => [side, text, bout, against]);

test("notes of earlier bouts come with the athlete, on the side that is theirs now", async (t) => {
  const daemon = await daemonFor(t);
  const slip = note("one", "A slip", "booth", { side: "red" });
  await daemon.postAll([
    call("one", { red: ann, blue: bea }),
    note("one", "Opens with the left", "booth", { side: "red" }),
    note("one", "Loud hall", "booth"),
    note("one", "Everybody reads this", "public", { side: "red" }),
    slip,
    voided("one", slip.id),
    call("two", { red: cia, blue: { name: "Ann Aster" }, mat: "B" }),
    note("two", "Another of that name", "booth", { side: "blue" }),
    call("three", { red: bea, blue: ann, mat: "C" }),
    note("three", "Of this bout", "booth", { side: "blue" }),
  ]);
  assert.deepEqual(short(await topic(daemon, "mat/A/booth")), [], "nothing was before it");
  assert.deepEqual(short(await topic(daemon, "mat/C/booth")), [
    ["blue", "Opens with the left", "one", "Bea Borage"],
  ]);
  // Corrected there, it is corrected here.
  const [seen] = Object.values((await topic(daemon, "mat/A/booth")).events).filter(
    ({ text }) => text === "Opens with the left",
  );
  await daemon.post(make("amend", "one", { ref: seen.id, set: { text: "Opens with the right" }, why: "keying" }));
  await daemon.post(note("three", "And more", "booth"));
  const { earlier } = await topic(daemon, "mat/C/booth");
  assert.equal(earlier["1"].text, "Opens with the right");
  for (const name of topicsOf("A", "B", "C").filter((name) => /follow|out|day/.test(name)))
    assert.doesNotMatch(JSON.stringify(await topic(daemon, name)), /Opens with/, name);
});

test("another day they come from the archive, once each, with the bout and its opponent", async (t) => {
  const folder = temporaryFolder();
  const words = ["--archive", join(folder, "all.archive")];
  const day = (name) => daemonFor(t, { store: join(folder, name), words });
  const first = await day("saturday.sqlite");
  await first.postAll([
    call("one", { red: ann, blue: bea }),
    note("one", "Taped knee", "booth", { side: "red" }),
    note("one", "Left-handed", "booth", { side: "blue" }),
    ...closed("one"),
  ]);
  // The same day, when the archive has it too, still once.
  await first.post(call("again", { red: ann, blue: cia }));
  const line = await Line.open(first, "mat/A/booth");
  await line.state("mat/A/booth", (state) => Object.keys(state.earlier).length === 1);
  await line.close();
  await first.stop();
  const second = await day("sunday.sqlite");
  await second.post(call("new", { red: bea, blue: ann }));
  const booth = await Line.open(second, "mat/A/booth");
  t.after(() => booth.close());
  const state = await booth.state("mat/A/booth", ({ earlier }) => Object.keys(earlier).length === 2);
  assert.deepEqual(short(state), [
    ["red", "Left-handed", "one", "Ann Aster"],
    ["blue", "Taped knee", "one", "Bea Borage"],
  ]);
  assert.ok(Date.parse(state.earlier["1"].at) <= Date.now());
});
