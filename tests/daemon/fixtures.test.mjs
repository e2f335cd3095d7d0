// The fixtures against the program: published bouts score by score, refused events in their exact
// words, the demo day state by state, the editions as they are shipped; and what fold prints when.
import assert from "node:assert/strict";
import { Buffer } from "node:buffer";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { describe, test } from "node:test";
import Ajv from "ajv/dist/2020.js";
import { ndjson, root, rows, run } from "../support/program.mjs";

const pathTo = (...path) => join(root, ...path);
const read = (...path) => readFileSync(pathTo(...path), "utf8");
const logIn = (...path) => rows(read(...path));
const namesIn = (folder, end) =>
  readdirSync(pathTo(folder))
    .filter((name) => name.endsWith(end))
    .map((name) => name.slice(0, -end.length))
    .sort();

/** Runs a command that must end well and say nothing on standard error. */
async function good(words, input = "") {
  const { code, out, errors } = await run(words, { input });
  assert.equal(errors, "", words.join(" "));
  assert.equal(code, 0, words.join(" "));
  return out;
}

/** All that is wanted must be there with these values; an object may have more. `absent` names the
 *  members that it must not have. */
function assertHas(got, wanted, place) {
  if (typeof wanted !== "object" || wanted === null || Array.isArray(wanted)) {
    assert.deepEqual(got, wanted, place);
    return;
  }
  const { absent = [], ...members } = wanted;
  assert.equal(typeof got, "object", `${place} is an object`);
  for (const name of absent) assert.ok(!Object.hasOwn(got, name), `${place}/${name} is absent`);
  for (const [name, value] of Object.entries(members))
    assertHas(got[name], value, `${place}/${name}`);
}

describe("published bouts", () => {
  const folder = "fixtures/published";
  const names = namesIn(folder, ".ndjson");

  test("each log has what must come out, and the other way round", () => {
    assert.ok(names.length >= 6);
    assert.deepEqual(namesIn(folder, ".expect.json"), names);
  });

  for (const name of names) {
    const path = pathTo(folder, `${name}.ndjson`);
    const log = logIn(folder, `${name}.ndjson`);
    const expected = JSON.parse(read(folder, `${name}.expect.json`));
    const idOf = (step) => `${name}-step-${step}`;

    test(`${name}, step by step`, async () => {
      const states = rows(await good(["fold", "--each", path]));
      assert.equal(states.length, log.length, "a state after every event");
      assert.equal(log[0].rules, expected.edition);
      const steps = log.map((event) => event.id).filter((id) => id.startsWith(idOf("")));
      assert.deepEqual(steps, Object.keys(expected.steps).map(idOf), "every step is expected");
      for (const [step, wanted] of Object.entries(expected.steps)) {
        const place = log.findIndex((event) => event.id === idOf(step));
        assertHas(states[place], wanted, `step ${step}`);
      }
      assertHas(states.at(-1), expected.final, "final");
    });

    test(`${name}, cut off after every event: the state that it had there`, async () => {
      const each = (await good(["fold", "--each", path])).split("\n");
      for (let count = 1; count <= log.length; count++) {
        const out = await good(["fold", "-"], ndjson(log.slice(0, count)));
        assert.equal(out, `${each[count - 1]}\n`, `after ${log[count - 1].id}`);
      }
    });
  }
});

describe("refused events", () => {
  const folder = "fixtures/refusals";
  const names = readdirSync(pathTo(folder), { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort();
  const errorOf = (name) => read(folder, name, "error");
  /* Not all of them are UTF-8: a character a byte. */
  const linesOf = (name) => readFileSync(pathTo(folder, name, "log.ndjson"), "latin1").split("\n");

  test("fold says exactly what is wrong, and nothing else", async () => {
    assert.ok(names.length > 400);
    const left = [...names];
    const said = {};
    const worker = async () => {
      for (let name = left.shift(); name !== undefined; name = left.shift()) {
        const cwd = pathTo(folder, name);
        const { code, out, errors } = await run(["fold", "log.ndjson"], { cwd });
        said[name] = errors;
        assert.equal(out, "", name);
        assert.equal(code, 1, name);
      }
    };
    await Promise.all([worker(), worker(), worker(), worker()]);
    const otherwise = names.filter((name) => said[name] !== errorOf(name));
    const these = (text) => Object.fromEntries(otherwise.map((name) => [name, text(name)]));
    assert.deepEqual(these((name) => said[name]), these(errorOf));
  });

  test("check says the same of all of them", async () => {
    const words = ["check", ...names.map((name) => `${name}/log.ndjson`)];
    const { code, out, errors } = await run(words, { cwd: pathTo(folder) });
    const wanted = new Set(names.map((name) => `${name}/${errorOf(name)}`.trimEnd()));
    const lines = errors.trimEnd().split("\n");
    assert.deepEqual(lines.filter((line) => !wanted.has(line)), []);
    assert.equal(lines.length, names.length);
    assert.equal(out, "");
    assert.equal(code, 1);
  });

  test("each log is good up to its last line, which is the refused one", async () => {
    for (const name of names) {
      const line = Number(/^log\.ndjson:(\d+): ./.exec(errorOf(name))[1]);
      assert.equal(linesOf(name).length, line + 1, name);
    }
    const before = new Set(names.map((name) => linesOf(name).slice(0, -2).join("\n")));
    for (const text of before) await good(["fold", "-"], Buffer.from(text, "latin1"));
  });

  test("keep-going skips the line and prints the states of the rest", async () => {
    const path = pathTo(folder, "score-points-missing", "log.ndjson");
    const { code, out, errors } = await run(["fold", "--keep-going", path]);
    assert.equal(code, 1);
    assert.deepEqual(rows(out).map((state) => state.seq), [1]);
    assert.equal(errors, `${path}:2: points: is missing\n`);
  });
});

describe("fold", () => {
  const at = (seconds) => `2027-05-08T10:00:${String(seconds).padStart(2, "0")}.000Z`;
  const bout = {
    id: "e1", type: "bout", bout: "b", at: at(0), rules: "freestyle-2022",
    red: { name: "Red" }, blue: { name: "Blue" },
  };
  const start = { id: "e2", type: "clock", bout: "b", at: at(10), do: "start" };
  const stop = { id: "e4", type: "clock", bout: "b", at: at(40), do: "stop" };
  const entry = { id: "e3", type: "entry", at: at(30), athlete: "a1" };
  const fold = async (events, ...words) =>
    rows(await good(["fold", ...words, "-"], ndjson(events)));

  test("now is the at of the last event read, of whatever bout or day", async () => {
    assert.equal((await fold([bout, start]))[0].clock.t_ms, 0);
    assert.equal((await fold([bout, start, entry]))[0].clock.t_ms, 20000);
    const [one, other] = await fold([bout, start, { ...bout, id: "e4", bout: "c", at: at(50) }]);
    assert.deepEqual([one.bout, one.seq, one.clock.t_ms], ["b", 2, 40000]);
    assert.deepEqual([other.bout, other.seq], ["c", 3]);
  });

  test("with each, it is that event's own at; the day's types print nothing", async () => {
    const states = await fold([bout, start, entry, stop], "--each");
    const seen = states.map((state) => [state.seq, state.clock.t_ms]);
    assert.deepEqual(seen, [[1, 0], [2, 0], [4, 30000]]);
  });

  test("now given overrides it, but is never before the bout's latest moment", async () => {
    const again = { ...bout, id: "e5", at: at(20) };
    assert.equal((await fold([bout, start], "--now", at(25)))[0].clock.t_ms, 15000);
    assert.equal((await fold([bout, start, again], "--now", at(5)))[0].clock.t_ms, 10000);
  });

  test("until stops before the first event accepted later, with that time as now", async () => {
    const log = [bout, start, stop];
    const [state] = await fold(log, "--until", at(39));
    assert.deepEqual([state.seq, state.clock.t_ms, state.clock.running], [2, 29000, true]);
    assert.equal((await fold(log, "--until", at(40)))[0].clock.running, false);
    assert.equal((await fold(log, "--until", at(39), "--now", at(20)))[0].clock.t_ms, 10000);
  });

  test("an event that comes again prints nothing, and its at isn't read", async () => {
    const again = [{ ...start, at: "whenever" }, { ...bout, at: at(59), seq: 9, by: "x" }];
    const states = await fold([bout, start, ...again], "--each");
    assert.deepEqual(states.map((state) => state.seq), [1, 2]);
    assert.equal((await fold([bout, start, { ...start, at: at(59) }]))[0].clock.t_ms, 0);
  });

  test("members stand in the order of their names, without spaces", async () => {
    const out = await good(["fold", "-"], ndjson([bout, start]));
    const sorted = (value) => {
      if (typeof value !== "object" || Array.isArray(value)) return value;
      const names = Object.keys(value).sort();
      return Object.fromEntries(names.map((name) => [name, sorted(value[name])]));
    };
    assert.equal(out, `${JSON.stringify(sorted(JSON.parse(out)))}\n`);
  });
});

describe("the demo day", () => {
  const day = pathTo("fixtures/demo/day.ndjson");
  const log = logIn("fixtures/demo/day.ndjson");

  test("is a valid log", async () => {
    const out = await good(["check", day]);
    assert.equal(out, `${day}: a log, ${log.length} events of 14 bouts\n`);
  });

  test("its states are those that were reviewed, byte for byte", async () => {
    assert.equal(await good(["fold", day]), read("fixtures/demo/states.ndjson"));
  });

  test("every close agrees with the log but the one that is meant not to", async () => {
    const states = rows(await good(["fold", "--each", day]));
    const ofBouts = log.filter((event) => Object.hasOwn(event, "bout"));
    assert.equal(states.length, ofBouts.length);
    const contradicting = ofBouts.filter((event, place) =>
      event.type === "close" && !states[place].result.consistent);
    assert.deepEqual(contradicting.map((event) => event.id), ["b3-053"]);
  });

  test("no state says null; what is confirmed is the score less what isn't", async () => {
    const text = await good(["fold", "--each", day]);
    assert.ok(!text.includes("null"));
    for (const { bout, seq, score, unconfirmed, confirmed } of rows(text))
      for (const side of ["red", "blue"]) {
        assert.ok(unconfirmed[side] >= 0 && confirmed[side] >= 0, `${bout} ${seq}`);
        assert.equal(confirmed[side] + unconfirmed[side], score[side], `${bout} ${seq}`);
      }
  });

  test("until: what was known then is what the log cut off there gives", async () => {
    for (const place of [40, 333, 700]) {
      const until = log[place - 1].at;
      assert.notEqual(log[place].at, until);
      const out = await good(["fold", "-"], ndjson(log.slice(0, place)));
      assert.equal(await good(["fold", "--until", until, day]), out, until);
    }
  });
});

describe("editions", () => {
  const shipped = namesIn("daemon/rules/editions", ".json");
  const others = namesIn("fixtures/editions", ".json");

  test("each shipped one is printed as it is", async () => {
    assert.equal(shipped.length, 6);
    for (const name of shipped)
      assert.equal(await good(["rules", name]), read("daemon/rules/editions", `${name}.json`));
  });

  test("they are listed, one a line, in the order of their names", async () => {
    const lines = (await good(["rules"])).trimEnd().split("\n");
    assert.deepEqual(lines.map((line) => line.split(" ")[0]), shipped);
  });

  for (const name of others) {
    const file = pathTo("fixtures/editions", `${name}.json`);
    test(`${name} is valid, and is added by --rules`, async () => {
      assert.equal(await good(["check", file]), `${file}: an edition, ${name}\n`);
      assert.equal(await good(["rules", "--rules", file, name]), readFileSync(file, "utf8"));
      const { code, errors } = await run(["rules", name]);
      assert.equal(code, 1, "without --rules it isn't known");
      assert.equal(errors, `boutwire rules: no edition is named ${name}\n`);
    });
  }

  test("all of them are as docs/edition.schema.json says", () => {
    const schema = JSON.parse(read("docs/edition.schema.json"));
    const validate = new Ajv({ strictTypes: false }).compile(schema);
    const files = [
      ...shipped.map((name) => ["daemon/rules/editions", `${name}.json`]),
      ...others.map((name) => ["fixtures/editions", `${name}.json`]),
    ];
    for (const file of files) {
      const valid = validate(JSON.parse(read(...file)));
      assert.ok(valid, `${file[1]} ${JSON.stringify(validate.errors)}`);
    }
  });
});

describe("docs/events.schema.json", () => {
  const ajv = new Ajv({ strictTypes: false });
  ajv.addSchema(JSON.parse(read("docs/events.schema.json")), "events");
  const validate = ajv.compile({ $ref: "events#/$defs/logged" });
  const refused = readdirSync(pathTo("fixtures/refusals"), { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name);
  const linesOf = (name) => read("fixtures/refusals", name, "log.ndjson").trimEnd().split("\n");

  function assertValid(event, name) {
    assert.ok(validate(event), `${name} ${event.id}: ${JSON.stringify(validate.errors)}`);
  }

  // What a schema can't see: other events, the edition, and how a number is spelt.
  const unseen = [
    /^json-/, /^amend-/, /fraction|exponent/, /reused|a-repeat|called-first|bout-unknown/,
    /(ref|before|after|of|attack)-(unknown|itself|bout|the-day|another-bout|not-one)$/,
    /-(of|before)-another|of-the-day/, /beyond|in-edition|points-(zero|negative|huge)/,
    /style-unknown|age-group-unknown|rules-unknown|action-unknown|how-unknown|activity-greco/,
    /winner-(missing|none)/, /no-such-day/,
  ];

  test("accepts every event of the demo day and of the published bouts", () => {
    for (const event of logIn("fixtures/demo/day.ndjson")) assertValid(event, "day");
    for (const name of namesIn("fixtures/published", ".ndjson"))
      for (const event of logIn("fixtures/published", `${name}.ndjson`)) assertValid(event, name);
  });

  test("refuses what it can see of the refused events", () => {
    const seen = refused.filter((name) => !unseen.some((pattern) => pattern.test(name)));
    assert.ok(seen.length > 250, `${seen.length}`);
    const accepted = seen.filter((name) => validate(JSON.parse(linesOf(name).at(-1))));
    assert.deepEqual(accepted, []);
  });

  test("accepts the good lines before them", () => {
    for (const name of refused)
      for (const line of linesOf(name).slice(0, -1).filter((text) => text.trim() !== ""))
        assertValid(JSON.parse(line), name);
  });
});
