// The fixtures against the program: published bouts score by score, refused events in their exact
// words, the demo day state by state, the editions as they are shipped.
import assert from "node:assert/strict";
import { Buffer } from "node:buffer";
import { readFileSync, readdirSync } from "node:fs";
import { basename, join } from "node:path";
import { describe, test } from "node:test";
import Ajv from "ajv/dist/2020.js";
import { ndjson, root, rows, run } from "../support/program.mjs";

const fixtures = join(root, "fixtures");
const read = (...path) => readFileSync(join(root, ...path), "utf8");
const namesIn = (folder, end = "") =>
  readdirSync(join(root, folder)).filter((name) => name.endsWith(end)).map((name) => basename(name, end)).sort();

/** Runs a command that must end well and say nothing on standard error. */
async function good(...words) {
  const { code, out, errors } = await run(words);
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
  assert.equal(typeof got, "object", `${place} is an object`);
  for (const [name, value] of Object.entries(wanted)) {
    if (name === "absent") for (const absent of value) assert.ok(!Object.hasOwn(got, absent), `${place}/${absent} is absent`);
    else assertHas(got[name], value, `${place}/${name}`);
  }
}

describe("published bouts", () => {
  const names = namesIn("fixtures/published", ".ndjson");
  test("each log has what must come out, and the other way round", () => {
    assert.ok(names.length >= 6);
    assert.deepEqual(namesIn("fixtures/published", ".expect.json"), names);
  });

  for (const name of names) {
    const log = rows(read("fixtures/published", `${name}.ndjson`));
    const expected = JSON.parse(read("fixtures/published", `${name}.expect.json`));
    test(`${name}, step by step`, async () => {
      const states = rows(await good("fold", "--each", join(fixtures, "published", `${name}.ndjson`)));
      assert.equal(states.length, log.length, "a state after every event");
      const steps = log.filter((event) => event.id.startsWith(`${name}-step-`));
      assert.deepEqual(
        steps.map((event) => event.id), Object.keys(expected.steps).map((step) => `${name}-step-${step}`),
        "every step of the log is expected, in order");
      for (const [step, wanted] of Object.entries(expected.steps)) {
        const place = log.findIndex((event) => event.id === `${name}-step-${step}`);
        assertHas(states[place], wanted, `step ${step}`);
      }
      assertHas(states.at(-1), expected.final, "final");
      assert.equal(log[0].rules, expected.edition);
    });

    // Each state of --each is the one that a log cut off there would give.
    test(`${name}, cut off after every event`, async () => {
      const each = (await good("fold", "--each", join(fixtures, "published", `${name}.ndjson`))).split("\n");
      for (let count = 1; count <= log.length; count++) {
        const input = log.slice(0, count).map((event) => `${JSON.stringify(event)}\n`).join("");
        const { out, errors, code } = await run(["fold", "-"], { input });
        assert.equal(errors, "");
        assert.equal(code, 0);
        assert.equal(out, `${each[count - 1]}\n`, `after ${log[count - 1].id}`);
      }
    });
  }
});

describe("refused events", () => {
  const names = readdirSync(join(fixtures, "refusals"), { withFileTypes: true })
    .filter((entry) => entry.isDirectory()).map((entry) => entry.name).sort();
  const errorOf = (name) => read("fixtures/refusals", name, "error");

  test("fold says exactly what is wrong, and nothing else", async () => {
    assert.ok(names.length > 400);
    const left = [...names];
    const said = {};
    const worker = async () => {
      for (let name = left.shift(); name !== undefined; name = left.shift()) {
        const { code, out, errors } = await run(["fold", "log.ndjson"], { cwd: join(fixtures, "refusals", name) });
        said[name] = errors;
        assert.equal(out, "", name);
        assert.equal(code, 1, name);
      }
    };
    await Promise.all([worker(), worker(), worker(), worker()]);
    const otherwise = names.filter((name) => said[name] !== errorOf(name));
    const both = (text) => Object.fromEntries(otherwise.map((name) => [name, text(name)]));
    assert.deepEqual(both((name) => said[name]), both(errorOf));
  });

  test("check says the same of all of them", async () => {
    const { code, out, errors } = await run(["check", ...names.map((name) => `${name}/log.ndjson`)], { cwd: join(fixtures, "refusals") });
    const wanted = new Set(names.map((name) => `${name}/${errorOf(name)}`.trimEnd()));
    const lines = errors.trimEnd().split("\n");
    assert.deepEqual(lines.filter((line) => !wanted.has(line)), []);
    assert.equal(lines.length, names.length);
    assert.equal(out, "");
    assert.equal(code, 1);
  });

  test("the log is good up to its last line", async () => {
    for (const name of names) {
      const line = Number(/^log\.ndjson:(\d+): ./.exec(errorOf(name))[1]);
      const lines = readFileSync(join(fixtures, "refusals", name, "log.ndjson"), "latin1").split("\n");
      assert.equal(lines.length, line + 1, `${name}: the refused line is the last`);
    }
    const before = names.map((name) =>
      readFileSync(join(fixtures, "refusals", name, "log.ndjson"), "latin1").split("\n").slice(0, -2).join("\n"));
    for (const input of new Set(before)) {
      const { code, errors } = await run(["fold", "-"], { input: Buffer.from(input, "latin1") });
      assert.equal(errors, "", input);
      assert.equal(code, 0, input);
    }
  });

  test("keep-going skips the line and prints the states of the rest", async () => {
    const words = ["fold", "--keep-going", join(fixtures, "refusals", "score-points-missing", "log.ndjson")];
    const { code, out, errors } = await run(words);
    assert.equal(code, 1);
    assert.equal(rows(out).length, 1);
    assert.equal(rows(out)[0].seq, 1);
    assert.match(errors, /log\.ndjson:2: points: is missing\n$/);
  });
});

describe("fold", () => {
  const at = (seconds) => `2027-05-08T10:00:${String(seconds).padStart(2, "0")}.000Z`;
  const bout = {
    id: "e1", type: "bout", bout: "b", at: at(0), rules: "freestyle-2022", red: { name: "R" }, blue: { name: "B" },
  };
  const start = { id: "e2", type: "clock", bout: "b", at: at(10), do: "start" };
  const entry = { id: "e3", type: "entry", at: at(30), athlete: "a1" };
  const fold = async (events, ...words) => {
    const { code, out, errors } = await run(["fold", ...words, "-"], { input: ndjson(events) });
    assert.equal(errors, "");
    assert.equal(code, 0);
    return rows(out);
  };

  test("now is the at of the last event read, of whatever bout or day", async () => {
    assert.equal((await fold([bout, start]))[0].clock.t_ms, 0);
    assert.equal((await fold([bout, start, entry]))[0].clock.t_ms, 20000);
    const [one, other] = await fold([bout, start, { ...bout, id: "e4", bout: "c", at: at(50) }]);
    assert.deepEqual([one.bout, one.clock.t_ms, one.seq, other.bout, other.seq], ["b", 40000, 2, "c", 3]);
  });

  test("with each, now is that event's own at; the day's types print nothing", async () => {
    const states = await fold([bout, start, entry, { ...start, id: "e4", at: at(40), do: "stop" }], "--each");
    assert.deepEqual(states.map((state) => [state.seq, state.clock.t_ms]), [[1, 0], [2, 0], [4, 30000]]);
  });

  test("now given overrides it, but is never before the bout's latest moment", async () => {
    assert.equal((await fold([bout, start], "--now", at(25)))[0].clock.t_ms, 15000);
    assert.equal((await fold([bout, start, { ...bout, id: "e5", at: at(20) }], "--now", at(5)))[0].clock.t_ms, 10000);
  });

  test("until stops before the first event accepted later, with that time as now", async () => {
    const log = [bout, start, { ...start, id: "e4", at: at(40), do: "stop" }];
    const [state] = await fold(log, "--until", at(39));
    assert.deepEqual([state.seq, state.clock.t_ms, state.clock.running], [2, 29000, true]);
    assert.equal((await fold(log, "--until", at(40)))[0].clock.running, false);
    assert.equal((await fold(log, "--until", at(39), "--now", at(20)))[0].clock.t_ms, 10000);
  });

  test("an event that comes again prints nothing, and its at isn't read", async () => {
    const states = await fold([bout, start, { ...start, at: "whenever" }, { ...bout, at: at(59), seq: 9, by: "x" }], "--each");
    assert.deepEqual(states.map((state) => state.seq), [1, 2]);
    assert.equal((await fold([bout, start, { ...start, at: at(59) }]))[0].clock.t_ms, 0);
  });

  test("members of an object come in the order of their names, without spaces", async () => {
    const { out } = await run(["fold", "-"], { input: ndjson([bout, start]) });
    const sorted = (value) => (value === null || typeof value !== "object" || Array.isArray(value) ? value
      : Object.fromEntries(Object.keys(value).sort().map((name) => [name, sorted(value[name])])));
    assert.equal(out, `${JSON.stringify(sorted(JSON.parse(out)))}\n`);
  });
});

describe("the demo day", () => {
  const day = join(fixtures, "demo", "day.ndjson");
  const log = rows(read("fixtures/demo/day.ndjson"));

  test("is a valid log", async () => {
    assert.equal(await good("check", day), `${day}: a log, ${log.length} events of 14 bouts\n`);
  });

  test("its states are those that were reviewed, byte for byte", async () => {
    assert.equal(await good("fold", day), read("fixtures/demo/states.ndjson"));
  });

  test("every close agrees with the log but the one that is meant not to", async () => {
    const states = rows(await good("fold", "--each", day));
    const ofBouts = log.filter((event) => Object.hasOwn(event, "bout"));
    assert.equal(states.length, ofBouts.length);
    const contradicting = ofBouts.filter((event, place) => event.type === "close" && !states[place].result.consistent);
    assert.deepEqual(contradicting.map((event) => event.id), ["b3-053"]);
    assert.ok(states.every((state) => state.result === undefined || state.result.consistent || state.bout === "b3"));
  });

  test("no state says null, and no score is negative", async () => {
    const text = await good("fold", "--each", day);
    assert.ok(!text.includes("null"));
    for (const state of rows(text))
      for (const side of ["red", "blue"]) {
        assert.ok(state.score[side] >= state.unconfirmed[side] && state.unconfirmed[side] >= 0);
        assert.equal(state.confirmed[side], state.score[side] - state.unconfirmed[side], `${state.bout} ${state.seq}`);
      }
  });

  test("until: what was known then is the log cut off there, as it stood then", async () => {
    for (const place of [40, 333, 700]) {
      const cut = log.slice(0, place).map((event) => `${JSON.stringify(event)}\n`).join("");
      const until = log[place - 1].at;
      if (log[place].at === until) continue;
      const { out } = await run(["fold", "-"], { input: cut });
      assert.equal(await good("fold", "--until", until, day), out, until);
    }
  });
});

describe("editions", () => {
  const shipped = namesIn("daemon/rules/editions", ".json");

  test("each shipped one is printed as it is", async () => {
    assert.equal(shipped.length, 6);
    for (const name of shipped) assert.equal(await good("rules", name), read("daemon/rules/editions", `${name}.json`), name);
  });

  test("they are listed, one a line, in the order of their names", async () => {
    const lines = (await good("rules")).trimEnd().split("\n");
    assert.deepEqual(lines.map((line) => line.split(" ")[0]), shipped);
  });

  for (const name of namesIn("fixtures/editions", ".json")) {
    const file = join(fixtures, "editions", `${name}.json`);
    test(`${name} is valid, and is added by --rules`, async () => {
      assert.equal(await good("check", file), `${file}: an edition, ${name}\n`);
      assert.equal(await good("rules", "--rules", file, name), readFileSync(file, "utf8"));
      const { code, errors } = await run(["rules", name]);
      assert.equal(code, 1, "without --rules it isn't known");
      assert.equal(errors, `boutwire rules: no edition is named ${name}\n`);
    });
  }

  test("all of them are as docs/edition.schema.json says", () => {
    const validate = new Ajv({ strictTypes: false }).compile(JSON.parse(read("docs/edition.schema.json")));
    for (const [folder, names] of [["daemon/rules/editions", shipped], ["fixtures/editions", namesIn("fixtures/editions", ".json")]])
      for (const name of names) assert.ok(validate(JSON.parse(read(folder, `${name}.json`))), `${name}: ${JSON.stringify(validate.errors)}`);
  });
});

describe("docs/events.schema.json", () => {
  const schema = JSON.parse(read("docs/events.schema.json"));
  const ajv = new Ajv({ strictTypes: false });
  ajv.addSchema(schema, "events");
  const validate = ajv.compile({ $ref: "events#/$defs/logged" });
  const assertValid = (event, name) => assert.ok(validate(event), `${name} ${event.id}: ${JSON.stringify(validate.errors)}`);

  test("accepts every event of the demo day and of the published bouts", () => {
    for (const event of rows(read("fixtures/demo/day.ndjson"))) assertValid(event, "day");
    for (const name of namesIn("fixtures/published", ".ndjson"))
      for (const event of rows(read("fixtures/published", `${name}.ndjson`))) assertValid(event, name);
  });

  // What a schema can see: it knows neither the edition nor the other events, nor a number's spelling.
  const unseen = /ref|before|after|of-|attack-(itself|not-one|of|unknown)|reused|beyond|greco|style-unknown|age-group-unknown|rules-unknown|in-edition|of-another|bout-unknown|called-first|winner|how-unknown|amend-|action-unknown|no-such-day|fraction|exponent|^json-|points-zero|points-negative|huge|after-a-repeat/;

  test("refuses what it can see of the refused events", () => {
    const seen = readdirSync(join(fixtures, "refusals"), { withFileTypes: true })
      .filter((entry) => entry.isDirectory() && !unseen.test(entry.name)).map((entry) => entry.name);
    assert.ok(seen.length > 200);
    for (const name of seen) {
      const lines = read("fixtures/refusals", name, "log.ndjson").trimEnd().split("\n");
      assert.ok(!validate(JSON.parse(lines.at(-1))), `${name} is refused`);
    }
  });

  test("accepts the good lines before them", () => {
    for (const entry of readdirSync(join(fixtures, "refusals"), { withFileTypes: true })) {
      if (!entry.isDirectory()) continue;
      const lines = readFileSync(join(fixtures, "refusals", entry.name, "log.ndjson"), "latin1").trimEnd().split("\n");
      for (const line of lines.slice(0, -1).filter((text) => text.trim() !== "")) assertValid(JSON.parse(line), entry.name);
    }
  });
});
