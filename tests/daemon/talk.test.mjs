// One line each way between a booth and the gallery: seen at once, acknowledged, and nowhere else:
// not in the log, not in what is public, not in another booth, not after a restart.
import assert from "node:assert/strict";
import { join } from "node:path";
import { test } from "node:test";
import { call, score } from "../support/bouts.mjs";
import { assertProblem, bearer, daemonFor, makeKey } from "../support/daemon.mjs";
import { Line, topicsOf } from "../support/listeners.mjs";
import { run, temporaryFolder } from "../support/program.mjs";

const TEXT = "Fill 30 seconds, the replay isn't ready";

const post = (daemon, body, headers = {}) =>
  daemon.ask("/api/v1/talk", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...headers },
    body: typeof body === "string" ? body : JSON.stringify(body),
  });

const of = (state) => Object.values(state.talk ?? {});

test("a line is seen at once at the other end, acknowledged and answered", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([call("a"), call("b", { mat: "B" })]);
  const booth = await Line.open(daemon, "mat/A/booth", "mat/B/booth");
  const gallery = await Line.open(daemon, "gallery");
  t.after(() => (booth.close(), gallery.close()));
  gallery.say({ say: { to: "booth", mat: "A", text: TEXT }, id: "g1" });
  const { said } = await gallery.find((message) => message.said?.id === "g1", "said");
  const heard = await booth.state("mat/A/booth", ({ talk }) => talk[said.talk]);
  const line = heard.talk[said.talk];
  assert.deepEqual(line, { from: "gallery", text: TEXT, at: line.at });
  booth.say({ seen: said.talk, id: "b1" });
  await booth.find((message) => message.seen?.id === "b1", "the answer");
  const known = await gallery.state("gallery", ({ talk }) => talk[said.talk]?.seen);
  assert.deepEqual(known.talk[said.talk].mat, "A");
  booth.say({ seen: said.talk });
  await booth.find((message) => message.seen && !message.seen.id, "once more, the same");
  booth.say({ say: { to: "gallery", mat: "A", text: "Taken" } });
  const back = await gallery.state("gallery", ({ talk }) =>
    Object.values(talk).some(({ from, text }) => from === "booth" && text === "Taken"),
  );
  assert.equal(back.talk[said.talk].seen, known.talk[said.talk].seen, "the first time counts");
  assert.deepEqual(of(await booth.state("mat/B/booth", () => true)), [], "no other booth's");
});

test("what is said is in no log and in nothing public, and ends with the run", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const gallery = (await makeKey(store, "gallery", "--name", "guido")).key;
  const table = (await makeKey(store, "table")).key;
  const daemon = await daemonFor(t, { store });
  const events = await daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...bearer(table) },
    body: JSON.stringify(call("a")),
  });
  assert.equal(events.status, 200, events.body);
  const answer = await post(daemon, { say: { to: "booth", mat: "A", text: TEXT } }, bearer(gallery));
  assert.equal(answer.status, 200, answer.body);
  const topic = async (name, key) =>
    (await daemon.ask(`/api/v1/topics/${name}`, { headers: bearer(key) })).body;
  assert.match(await topic("mat/A/booth", table), /"by":"guido".*Fill 30 seconds/);
  for (const name of topicsOf("A").filter((name) => name !== "mat/A/booth"))
    assert.ok(!(await topic(name, gallery)).includes("Fill 30"), name);
  for (const path of ["/text/A?since=0", "/api/v1/bouts/a", "/api/v1/flat/main"])
    assert.ok(!(await daemon.ask(path)).body.includes("Fill 30"), path);
  const { out } = await run(["export", "--store", store]);
  assert.ok(out.includes('"a"') && !out.includes("Fill 30"));
  await daemon.stop();
  const again = await daemonFor(t, { store });
  const { body } = await again.ask("/api/v1/topics/mat/A/booth", { headers: bearer(table) });
  assert.deepEqual(JSON.parse(body).state.talk, {});
});

test("no delay holds it back", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("a"));
  const delayed = await daemon.ask("/api/v1/outputs/main", {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ delay: { ms: 120000, of: "mat/A/booth" } }),
  });
  assert.equal(delayed.status, 200, delayed.body);
  const booth = await Line.open(daemon, "mat/A/booth");
  t.after(() => booth.close());
  await daemon.post(score("a", "red", 2));
  await post(daemon, { say: { to: "booth", mat: "A", text: TEXT } });
  const state = await booth.state("mat/A/booth", (now) => of(now).length > 0);
  assert.deepEqual(state.bout?.score ?? { red: 0, blue: 0 }, { red: 0, blue: 0 }, "the bout is late");
});

test("a booth has its latest six lines, the gallery sixteen, and 64 are kept", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.postAll([call("a"), call("b", { mat: "B" })]);
  for (let i = 1; i <= 70; i++)
    await post(daemon, { say: { to: "booth", mat: i % 10 ? "A" : "B", text: `Line ${i}` } });
  const topic = async (name) =>
    JSON.parse((await daemon.ask(`/api/v1/topics/${name}`)).body).state.talk;
  assert.deepEqual(Object.keys(await topic("mat/A/booth")), ["64", "65", "66", "67", "68", "69"]);
  assert.deepEqual(Object.keys(await topic("mat/B/booth")), ["10", "20", "30", "40", "50", "60", "70"].slice(1));
  assert.equal(Object.keys(await topic("gallery")).length, 16);
  assertProblem(await post(daemon, { seen: 6 }), { status: 404, type: "not-found", pointer: "/seen" });
  assert.equal((await post(daemon, { seen: 7 })).status, 200);
});

const line = (more) => ({ say: { to: "booth", mat: "A", text: "Hi", ...more } });
const REFUSED = [
  ["no JSON", "{", { status: 400, type: "not-json" }],
  ["nothing said", {}, { status: 400, type: "message" }],
  ["to nobody", line({ to: "table" }), { status: 400, type: "message", pointer: "/say/to" }],
  ["no mat", line({ mat: undefined }), { status: 400, type: "message", pointer: "/say/mat" }],
  ["no such mat", line({ mat: "Z" }), { status: 404, type: "not-found", pointer: "/say/mat" }],
  ["no text", line({ text: "" }), { status: 400, type: "message", pointer: "/say/text" }],
  ["too long", line({ text: "ö".repeat(141) }), { status: 400, type: "message", pointer: "/say/text" }],
  ["two lines", line({ text: "a\nb" }), { status: 400, type: "message", pointer: "/say/text" }],
  ["seen by name", { seen: "1" }, { status: 400, type: "message", pointer: "/seen" }],
  ["seen before it was said", { seen: 99 }, { status: 404, type: "not-found", pointer: "/seen" }],
]; // prettier-ignore

test("what isn't one line to somebody is refused, and nothing has changed", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("a"));
  for (const [what, body, problem] of REFUSED) {
    const answer = await post(daemon, body);
    try {
      assertProblem(answer, problem);
    } catch (error) {
      error.message = `${what}: ${error.message}`;
      throw error;
    }
  }
  const longest = await post(daemon, line({ text: "ö".repeat(140) }));
  assert.equal(longest.status, 200, longest.body);
  assert.deepEqual(JSON.parse(longest.body), { said: { talk: 1 } });
});
