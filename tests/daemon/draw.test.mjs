// The draw over the wire: slots that fill themselves in as results come, places, the team table; what
// of it the public is shown of minors.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { newId } from "../support/bouts.mjs";
import { daemonFor, PUBLIC_MINORS } from "../support/daemon.mjs";
import { demoEvents, root } from "../support/program.mjs";

const live = ({ at, seq, by, ...event }) => event;
const entry = (athlete, more) => ({ id: newId("entry"), type: "entry", athlete, ...more });
const slot = (name, more) => ({ id: newId("slot"), type: "slot", slot: name, ...more });
const day = async (daemon, audience) => (await daemon.topic(`day/${audience}`)).state;

/** A draw in words, as a reader would check it against the officials' sheet. */
function resolved({ slots, weights, table }) {
  const who = (side) => side.name ?? (side.nobody ? "nobody" : `${side.waits} ${side.slot ?? ""}`);
  const rows = (object) => Object.keys(object).sort((a, b) => a - b).map((key) => object[key]);
  return {
    slots: Object.fromEntries(rows(slots).map((at) => [
      at.slot, `${who(at.red)}, ${who(at.blue)}: ${at.state} ${at.result?.code ?? ""} ${at.result?.winner ?? ""}`.trim(),
    ])),
    places: Object.fromEntries(rows(weights).map((at) => [
      [at.style, at.age_group, at.weight].join(" "), rows(at.ranks).map(({ name, place = "-" }) => `${place} ${name}`),
    ])),
    teams: rows(table.day).map(({ place, team, points }) => `${place} ${team} ${points}`),
  };
}

test("the demo day's draw, before its first bout and after its last", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const events = demoEvents().map(live);
  const wanted = JSON.parse(readFileSync(join(root, "fixtures/draw/demo.json"), "utf8"));
  await daemon.postAll(events.filter(({ type }) => ["entry", "slot", "session"].includes(type)));
  assert.deepEqual(resolved(await day(daemon, "booth")).slots, wanted.before);
  await daemon.postAll(events);
  const after = await day(daemon, "booth");
  assert.deepEqual(resolved(after), wanted.after);
  assert.deepEqual(after.sessions["1"], {
    session: "morning", name: "Harbour Cup of Orrinsund: semi-finals and finals",
  });
});

test("a slot's winner goes on with the confirmed result, and comes back with its correction", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    entry("a1", { name: "Ada One", team: "Harbour", seed: 1 }),
    entry("a2", { name: "Bo Two", out: true }),
    slot("sf1", { red: { athlete: "a1" }, blue: { athlete: "a2" } }),
    slot("final", { red: { winner_of: "sf1" }, order: 2, stage: "final" }),
  ]);
  const final = async () => (await day(daemon, "follow")).slots["2"];
  assert.deepEqual(await final(), {
    slot: "final", order: 2, stage: "final", state: "waits",
    red: { waits: "winner", slot: "1" }, blue: { waits: "draw" },
  });
  const sf1 = (await day(daemon, "booth")).slots["1"];
  assert.deepEqual(sf1, {
    slot: "sf1", state: "ready", winner_to: { slot: "2", side: "red" },
    red: { athlete: "a1", name: "Ada One", team: "Harbour", seed: 1 },
    blue: { athlete: "a2", name: "Bo Two", out: true },
  });
  await daemon.postAll([
    { id: "b", type: "bout", bout: "b", rules: "freestyle-2022", slot: "sf1",
      red: { name: "Ada One", athlete: "a1" }, blue: { name: "Bo Two", athlete: "a2" } },
    { id: "c", type: "close", bout: "b", how: "forfeit", winner: "red", unconfirmed: true },
  ]);
  assert.equal((await day(daemon, "booth")).slots["1"].state, "unconfirmed");
  assert.equal((await final()).red.waits, "winner");
  await daemon.post({ id: "d", type: "confirm", bout: "b" });
  assert.equal((await final()).red.name, "Ada One");
  await daemon.post({ id: "e", type: "amend", bout: "b", ref: "c", set: { winner: "blue" }, why: "officials" });
  assert.equal((await final()).red.name, "Bo Two");
  await daemon.post({ id: "f", type: "void", bout: "b", ref: "c" });
  assert.equal((await final()).red.waits, "winner");
});

test("of minors the public is shown initials and team in the draw, before they are called and after", async (t) => {
  const daemon = await daemonFor(t, PUBLIC_MINORS);
  const weight = { style: "women", age_group: "u17", weight: "53" };
  await daemon.postAll([
    entry("aldershaw", { name: "Signe Aldershaw", team: "Harbour", age_group: "u17", seed: 1 }),
    entry("iriarteche", { name: "Paloma Iriarteche", age_group: "u17", consent: true }),
    entry("grown", { name: "Greta Grown", team: "Mills" }),
    entry("young", { name: "Yara Young", minor: true }),
    slot("w53-u17-final", { ...weight, red: { athlete: "aldershaw" }, blue: { athlete: "iriarteche" } }),
    slot("w62-final", { style: "women", weight: "62", red: { athlete: "grown" }, blue: { athlete: "young" } }),
    slot("w53-u17-x", { ...weight, red: { athlete: "Nobody Entered" } }),
  ]);
  const look = async () => {
    const follow = await day(daemon, "follow");
    const text = JSON.stringify(follow);
    for (const word of ["Aldershaw", "aldershaw", "Young", "young", "w53", "w62", "Nobody", "53", "62"]) {
      assert.ok(!text.includes(word), `${word} in ${text}`);
    }
    assert.deepEqual(follow.slots["1"].red, { name: "SA", team: "Harbour" });
    assert.equal(follow.slots["1"].blue.name, "Paloma Iriarteche");
    assert.equal(follow.slots["2"].red.name, "Greta Grown");
    assert.equal(follow.slots["3"].red.name, "NE");
    assert.equal((await day(daemon, "booth")).slots["1"].red.name, "Signe Aldershaw");
    return follow;
  };
  await look();
  await daemon.postAll([
    { id: "b", type: "bout", bout: "b", rules: "freestyle-2022", slot: "w53-u17-final", ...weight,
      red: { name: "Signe Aldershaw", athlete: "aldershaw" }, blue: { name: "Paloma Iriarteche", athlete: "iriarteche" } },
    { id: "c", type: "close", bout: "b", how: "fall", winner: "red" },
  ]);
  const after = await look();
  assert.deepEqual(after.weights["1"].ranks["1"].name, "SA");
});

test("without leave the public is shown nothing of a day with minors", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([
    entry("young", { name: "Yara Young", minor: true }),
    slot("w62-final", { red: { athlete: "young" } }),
  ]);
  assert.deepEqual(await day(daemon, "follow"), { mats: {}, withheld: "minors" });
});
