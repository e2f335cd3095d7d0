// Cards of what stands around a bout, from a real daemon that knows a day: who they are, what the
// result means, the other mats; made anew when these change, taken back when a result is.
import assert from "node:assert/strict";
import { test } from "node:test";
import { call, make, score, voided } from "../support/bouts.mjs";
import { daemonFor } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";

const entry = (athlete, more) => ({ id: `entry-${athlete}`, type: "entry", athlete, ...more });
const slot = (name, more) => ({
  id: `slot-${name}`,
  type: "slot",
  slot: name,
  rules: "freestyle-2022",
  style: "freestyle",
  weight: "57",
  mat: "A",
  ...more,
});
const side = (athlete, family, team) => ({ athlete, family, name: `Ann ${family}`, team });

const ann = side("ann", "Aster", "Harbour");
const bea = side("bea", "Borage", "Old Mill");
const cia = side("cia", "Clover", "Harbour");
const dot = side("dot", "Daisy", "Quarry");

const DAY = [
  entry("ann", { name: "Ann Aster", family: "Aster", team: "Harbour", seed: 1, facts: ["Has never lost here."] }),
  entry("bea", { name: "Ann Borage", family: "Borage", team: "Old Mill" }),
  entry("cia", { name: "Ann Clover", family: "Clover", team: "Harbour" }),
  entry("dot", { name: "Ann Daisy", family: "Daisy", team: "Quarry" }),
  slot("s1", { stage: "semi-final", order: 1, red: { athlete: "ann" }, blue: { athlete: "bea" } }),
  slot("s2", { stage: "semi-final", order: 1, mat: "B", red: { athlete: "cia" }, blue: { athlete: "dot" } }),
  slot("b", { stage: "bronze", order: 2, red: { loser_of: "s1" }, blue: { loser_of: "s2" } }),
  slot("f", { stage: "final", order: 3, red: { winner_of: "s1" }, blue: { winner_of: "s2" } }),
]; // prettier-ignore

const texts = ({ cards = {} }) =>
  Object.values(cards).map(({ headline, line = "" }) => `${headline} | ${line}`);
const says = (state, text) => texts(state).some((card) => card.includes(text));

async function hall(t) {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    ...DAY,
    call("one", { slot: "s1", red: ann, blue: bea }),
    call("two", { slot: "s2", red: cia, blue: dot, mat: "B" }),
    make("clock", "two", { do: "start" }),
  ]);
  const line = await Line.open(daemon, "mat/A/booth");
  t.after(() => line.close());
  const booth = (text, more = () => true) =>
    line.state("mat/A/booth", (state) => says(state, text) && more(state));
  return { daemon, line, booth };
}

test("called: who they are, and where it leads; the other mat's score as it changes", async (t) => {
  const { daemon, booth } = await hall(t);
  const { cards } = await booth("Aster: seed 1 | Has never lost here.");
  assert.equal(cards["1"].kind, "who");
  assert.deepEqual(cards["1"].evidence.length, 1);
  await booth("Winner goes on: final");
  await daemon.post(call("late", { red: { name: "Eve Elder" }, blue: { name: "Fay Fern" }, mat: "C" }));
  const line = await Line.open(daemon, "mat/C/booth");
  t.after(() => line.close());
  await line.state("mat/C/booth", (state) => says(state, "Mat B: 0-0"));
  await daemon.post(score("two", "blue", 2));
  const state = await line.state("mat/C/booth", (now) => says(now, "Mat B: 2-0 | Daisy leads Clover."));
  assert.equal(state.cards["3"].bout, "two");
});

test("the result: what it means for both, the team's day; taken out, all of it goes at once", async (t) => {
  const { daemon, line, booth } = await hall(t);
  const close = make("close", "one", { how: "fall", winner: "blue" });
  await daemon.postAll([
    make("clock", "one", { do: "start" }),
    score("one", "blue", 2),
    make("clock", "one", { do: "stop" }),
    close,
  ]);
  const state = await booth("Borage next: final");
  assert.ok(says(state, "Aster next: bronze"), texts(state).join("\n"));
  assert.ok(says(state, "Borage wins by fall | After 0:0"), texts(state).join("\n"));
  assert.deepEqual(state.cards["2"].evidence, [close.id]);
  // The final's other side comes to be known by what happens on the other mat.
  await daemon.postAll([
    make("clock", "two", { do: "stop" }),
    make("close", "two", { how: "fall", winner: "red" }),
  ]);
  await booth("Borage next: final | Against Clover");
  await daemon.post(voided("one", close.id));
  const back = await line.state("mat/A/booth", ({ bout }) => !bout.result);
  assert.ok(!says(back, "next:") && !says(back, "wins"), texts(back).join("\n"));
});

test("an upset elsewhere, by the seeds", async (t) => {
  const { daemon } = await hall(t);
  await daemon.postAll([
    make("clock", "one", { do: "start" }),
    make("clock", "one", { do: "stop" }),
    make("close", "one", { how: "fall", winner: "blue" }),
    call("late", { red: { name: "Eve Elder" }, blue: { name: "Fay Fern" }, mat: "C" }),
  ]);
  const line = await Line.open(daemon, "mat/C/booth");
  t.after(() => line.close());
  const state = await line.state("mat/C/booth", (now) => says(now, "Upset: seed 1 beaten"));
  assert.ok(says(state, "Borage beat Aster 0-0, by fall."), texts(state).join("\n"));
});
