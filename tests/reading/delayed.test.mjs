/* `boutwire fold --until TIME --delay MS` against the second reading of it, on random logs; and that
 * without a delay it is what it is without the option. */

import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";

import { run, root, rows, temporaryFolder } from "../support/program.mjs";
import { canonical, comparable, difference } from "./canonical.mjs";
import { editionsFrom } from "./compare.mjs";
import { delayedReading } from "./delayed.mjs";
import { Dice } from "./dice.mjs";
import { fileOf, makeLog } from "./maker.mjs";

const added = ["june-2013", "league"].map((name) => join(root, `fixtures/editions/${name}.json`));
const editions = editionsFrom(join(root, "daemon/rules/editions"), added);
const rules = added.flatMap((file) => ["--rules", file]);
const timesOf = (lines) =>
  lines.map((line) => /"at":\s*"([^"]+)"/.exec(String(line))?.[1]).filter(Boolean);

const comparedWith = (state) => {
  const { seq: _, ...rest } = comparable(state);
  return rest;
};

test("what a delayed audience was shown, on random logs", async () => {
  const file = join(temporaryFolder(), "log.ndjson");
  let compared = 0;
  let moved = 0;
  for (let seed = 1; seed <= 40; seed++) {
    const { lines } = makeLog(seed, { editions, events: 150 });
    const dice = new Dice(seed);
    const times = timesOf(lines);
    writeFileSync(file, fileOf(lines));
    for (let i = 0; i < 4; i++) {
      const delay_ms = dice.one([1, 5000, 30000, 120000, dice.integer(0, 120000)]);
      const until = new Date(Date.parse(dice.one(times)) + dice.integer(0, delay_ms)).toISOString();
      const read = delayedReading(lines, editions, { until, delay_ms });
      if (!read) continue;
      const words = ["--until", until, "--delay", String(delay_ms)];
      const { code, out, errors } = await run(["fold", ...words, ...rules, file]);
      assert.equal(code, 0, errors);
      const states = rows(out);
      const name = `seed ${seed}: fold ${words.join(" ")}`;
      assert.equal(states.length, read.states.length, name);
      for (const [place, state] of read.states.entries()) {
        const found = difference(comparedWith(state), comparedWith(states[place]));
        assert.equal(found && `${found.path} ${canonical(found)}`, undefined, name);
      }
      compared++;
      moved += read.moved;
    }
  }
  assert.ok(compared > 100, `${compared} were compared`);
  assert.ok(moved > 100, `${moved} corrections came early`);
});

test("a delay of 0 changes nothing", async () => {
  const file = join(temporaryFolder(), "log.ndjson");
  for (let seed = 1; seed <= 10; seed++) {
    const { lines } = makeLog(seed, { editions, events: 120 });
    const until = new Dice(seed).one(timesOf(lines));
    writeFileSync(file, fileOf(lines));
    const plain = await run(["fold", "--until", until, ...rules, file]);
    const delayed = await run(["fold", "--until", until, "--delay", "0", ...rules, file]);
    assert.equal(delayed.out, plain.out, `seed ${seed}`);
    assert.equal(delayed.code, 0, delayed.errors);
  }
});

test("how it is used wrongly", async () => {
  const until = ["--until", "2027-05-08T10:00:00.000Z"];
  const bad = [
    ["--delay", "5"],
    [...until, "--delay", "5x"],
    [...until, "--delay", ""],
    [...until, "--delay", "-1"],
    [...until, "--delay", "120001"],
    [...until, "--delay", "5", "--each"],
    [...until, "--delay", "5", "--now", "2027-05-08T10:00:00.000Z"],
  ];
  for (const words of bad) {
    const { code, out, errors } = await run(["fold", ...words, "-"], { input: "" });
    assert.equal(code, 2, words.join(" "));
    assert.equal(out, "");
    assert.match(errors, /--delay/);
  }
});
