// The demo day as it was told, sentence by sentence and card by card, in each language: read aloud
// once by people, and kept. A change of words shows as a difference here; when it is meant:
//   build/boutwire tell --cards --language en fixtures/demo/day.ndjson > fixtures/demo/told.en.txt
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call, clock, score } from "../support/bouts.mjs";
import { demoDay, ndjson, root, run } from "../support/program.mjs";

for (const language of ["en", "de"]) {
  test(`the demo day as it is told: ${language}`, async () => {
    const { code, out, errors } = await run(["tell", "--cards", "--language", language, demoDay]);
    assert.equal(code, 0, errors);
    const told = out.split("\n");
    const wanted = readFileSync(join(root, `fixtures/demo/told.${language}.txt`), "utf8").split("\n");
    for (const [i, line] of wanted.entries()) assert.equal(told[i], line, `line ${i + 1}`);
    assert.equal(told.length, wanted.length);
  });
}

test("one bout of a log; what isn't there is said", async () => {
  const at = "2027-05-08T10:00:00.000Z";
  const events = [
    call("b1"),
    clock("b1", "start"),
    score("b1", "red", 2, { technique: "single_leg" }),
    call("b2", { mat: "B" }),
  ];
  const log = ndjson(events.map((event) => ({ ...event, at })));
  const one = await run(["tell", "--bout", "b1", "-"], { input: log });
  assert.equal(one.code, 0, one.errors);
  assert.deepEqual(one.out.split("\n"), [
    "== b1",
    "10:00:00.000  On mat A: Ilse Brandt (Harbour) in red, Noor Haddad (Old Mill) in blue. Freestyle 57 kg.",
    "10:00:00.000  Period one begins.",
    "10:00:00.000  Ilse Brandt takes down Noor Haddad with a single leg for 2, and leads 2 to 0.",
    "",
  ]);
  const none = await run(["tell", "--bout", "b3", "-"], { input: log });
  assert.equal(none.code, 1);
  assert.match(none.errors, /has no bout b3/);
  const bad = await run(["tell", "-"], { input: `${log}{"id":"x"}\n` });
  assert.equal(bad.code, 1);
  assert.match(bad.errors, /^-:5: /);
  const tongue = await run(["tell", "--language", "xx", "-"], { input: log });
  assert.equal(tongue.code, 2);
  assert.match(tongue.errors, /no language xx; there are de en/);
});
