// GET /metrics: read strictly, compared with what was really done, and closed to the public.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { connect } from "node:net";
import { join } from "node:path";
import { test } from "node:test";
import { call, score } from "../support/bouts.mjs";
import { assertProblem, bearer, daemonFor, makeKey } from "../support/daemon.mjs";
import { Line, Stream } from "../support/listeners.mjs";
import { readOpenMetrics, valueOf } from "../support/openmetrics.mjs";
import { root, temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";
import { FaultyDisk } from "./shims/faulty-disk.mjs";

async function metrics(daemon, headers = {}) {
  const { status, headers: got, body } = await daemon.ask("/metrics", { headers });
  assert.equal(status, 200, body);
  assert.equal(got["content-type"], "application/openmetrics-text; version=1.0.0; charset=utf-8");
  return readOpenMetrics(body);
}

test("the reader of these tests refuses what isn't OpenMetrics", () => {
  const good = "# TYPE a counter\n# HELP a x\na_total 1\n# EOF\n";
  assert.equal(valueOf(readOpenMetrics(good), "a"), 1);
  for (const bad of [
    "# TYPE a counter\na_total 1\n", // no EOF
    "# TYPE a counter\na_total 1\n# EOF\n\n",
    "# TYPE a counter\r\na_total 1\r\n# EOF\n",
    "# TYPE a counter\na 1\n# EOF\n", // no _total
    "# TYPE a counter\na_total -1\n# EOF\n",
    "# TYPE a_total counter\n# TYPE a counter\n# EOF\n",
    "# TYPE a gauge\n# TYPE b gauge\na 1\n# EOF\n", // interleaved
    "# TYPE a gauge\na 1\na 1\n# EOF\n",
    "# TYPE a gauge\na  1\n# EOF\n",
    "# TYPE a gauge\na 1 \n# EOF\n",
    "# TYPE a gauge\na{b=c} 1\n# EOF\n",
    '# TYPE a gauge\na{b="c",b="d"} 1\n# EOF\n',
    '# TYPE a gauge\na{b="c",} 1\n# EOF\n',
    '# TYPE a gauge\na{b="c\nd"} 1\n# EOF\n',
    "# TYPE a gauge\na 0x1\n# EOF\n",
    "# TYPE a bar\n# EOF\n",
    "# TYPE a gauge\n# UNIT a seconds\n# EOF\n",
    "# TYPE a gauge\n# HELP a x\n# HELP a x\n# EOF\n",
    "# a comment\n# EOF\n",
    '# TYPE a histogram\na_bucket{le="1.0"} 1\na_count 1\na_sum 1.0\n# EOF\n', // no +Inf
    '# TYPE a histogram\na_bucket{le="1.0"} 2\na_bucket{le="+Inf"} 1\na_count 1\na_sum 1.0\n# EOF\n',
    '# TYPE a histogram\na_bucket{le="1"} 1\na_bucket{le="+Inf"} 1\na_count 1\na_sum 1.0\n# EOF\n',
    '# TYPE a histogram\na_bucket{le="+Inf"} 1\na_count 2\na_sum 1.0\n# EOF\n',
    "# TYPE a info\na_info 2\n# EOF\n",
  ])
    assert.throws(() => readOpenMetrics(bad), assert.AssertionError, bad);
  assert.throws(() => readOpenMetrics(Buffer.from([0xff, 10])), TypeError);
});

test("what is counted is what was done", async (t) => {
  const daemon = await daemonFor(t);
  const before = await metrics(daemon);
  assert.equal(valueOf(before, "boutwire_inputs", { outcome: "taken" }), 0);
  assert.equal(valueOf(before, "boutwire_store_failed"), 0);
  const { out } = { out: await daemon.ask("/metrics") };
  assert.match(out.body, /boutwire_build_info\{version="\d+\.\d+\.\d+"\} 1\n/);

  await daemon.post(call("a"));
  const batch = [score("a", "red", 2), score("a", "blue", 1)];
  await daemon.postAll(batch);
  await daemon.postAll(batch); // once more
  await daemon.postText('{"id":"x","type":"no"}');
  const line = await Line.open(daemon, "mat/A/table", "out/main");
  const stream = await Stream.open(daemon.url(), "mat/A/follow");
  await daemon.post(score("a", "red", 1));
  await line.state("mat/A/table", (state) => state.bout.score.red === 3);
  await stream.state((state) => state.bout.score.red === 3);
  const { place } = line.topics.get("mat/A/table");
  line.say({ subscribe: [place, { topic: "out/main", epoch: "other.1", seq: 1 }] });
  await line.clock();

  const after = await metrics(daemon);
  const want = [
    ["boutwire_inputs", { outcome: "taken" }, 4],
    ["boutwire_inputs", { outcome: "refused" }, 1],
    ["boutwire_events", { known: "no" }, 4],
    ["boutwire_events", { known: "yes" }, 2],
    ["boutwire_log_events", {}, 4],
    ["boutwire_log_bouts", {}, 1],
    ["boutwire_store_waiting", {}, 0],
    ["boutwire_connections", { audience: "anyone" }, 1],
    ["boutwire_connections", { audience: "follow" }, 1],
    ["boutwire_resumes", { got: "missed" }, 1],
    ["boutwire_resumes", { got: "snapshot" }, 1],
    ["boutwire_snapshots", {}, 4], // three to begin with, and one anew
    ["boutwire_patches", {}, 3],
    ["boutwire_draining", {}, 0],
  ];
  for (const [name, labels, value] of want)
    assert.equal(valueOf(after, name, labels), value, `${name} ${JSON.stringify(labels)}`);
  assert.equal(valueOf(after, "boutwire_commit_seconds", {}, "_count"), 3);
  assert.equal(valueOf(after, "boutwire_answer_seconds", {}, "_count"), 4);
  assert.equal(valueOf(after, "boutwire_fold_seconds", {}, "_count"), 4);
  assert.ok(valueOf(after, "boutwire_deliveries") >= 7);
  assert.ok(valueOf(after, "boutwire_uptime_seconds") > valueOf(before, "boutwire_uptime_seconds"));
  stream.close();
  await line.close();
  await until(
    async () => valueOf(await metrics(daemon), "boutwire_connections", { audience: "anyone" }) === 0,
    "the connection to be counted no more",
  );
});

test("who sends lines is counted, and what they send", async (t) => {
  const path = join(temporaryFolder(), "lines");
  const daemon = await daemonFor(t, { words: ["--lines", `unix:${path}`] });
  const talk = connect(path);
  t.after(() => talk.destroy());
  talk.write(`${JSON.stringify(call("a"))}\nnonsense\n`);
  const counted = async () => {
    const now = await metrics(daemon);
    const inputs = (outcome) => valueOf(now, "boutwire_inputs", { outcome });
    const lines = valueOf(now, "boutwire_connections", { audience: "lines" });
    return [lines, inputs("taken"), inputs("refused")].join() === "1,1,1";
  };
  await until(counted, "one who sends lines");
});

test("what an audience with a delay isn't shown yet is to be seen", async (t) => {
  const daemon = await daemonFor(t);
  await daemon.post(call("a"));
  const delayed = async (audience) =>
    valueOf(await metrics(daemon), "boutwire_delayed_events", { audience });
  const delay = async (ms, of) => {
    const { status, body } = await daemon.ask("/api/v1/outputs/main", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ delay: { ms, ...(of && { of }) } }),
    });
    assert.equal(status, 200, body);
  };
  for (const audience of ["output", "follow", "booth"]) assert.equal(await delayed(audience), 0);
  await delay(120000, "mat/A/follow");
  const batch = [score("a", "red", 2), score("a", "blue", 1), score("a", "red", 1)];
  await daemon.postAll(batch);
  assert.ok((await delayed("follow")) >= 3, "two minutes haven't gone by");
  assert.equal(await delayed("output"), 0);
  await delay(0, "mat/A/follow");
  await until(async () => (await delayed("follow")) === 0, "all to be shown");
});

test("a store that fails is to be seen", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const disk = new FaultyDisk({ files: `${store}-wal`, calls: "sync", from: 1, error: "EIO" });
  const daemon = await daemonFor(t, { store, env: disk.env });
  await daemon.post(call("a"));
  disk.arm();
  assert.equal((await daemon.postText(JSON.stringify(score("a", "red", 1)))).status, 503);
  const after = await metrics(daemon);
  assert.equal(valueOf(after, "boutwire_store_failed"), 1);
  assert.equal(valueOf(after, "boutwire_inputs", { outcome: "stopped" }), 1);
  assert.equal(valueOf(after, "boutwire_commit_seconds", {}, "_count"), 1);
});

test("as soon as there are keys, only the gallery's reads it; and it names nobody", async (t) => {
  const store = join(temporaryFolder(), "day.sqlite");
  const gallery = await makeKey(store, "gallery", "--name", "Unsaid-Gallery");
  const table = await makeKey(store, "table", "--name", "Unsaid-Table");
  const daemon = await daemonFor(t, { store });
  const name = "Wren Unsaid";
  const event = call("Unsaid-Bout", { red: { name }, mat: "Unsaid-Mat" });
  const sent = await daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...bearer(table.key) },
    body: JSON.stringify(event),
  });
  assert.equal(sent.status, 200, sent.body);
  const line = await Line.openWith(daemon, table.key, "mat/Unsaid-Mat/table");
  assertProblem(await daemon.ask("/metrics"), { status: 401, type: "key-needed" });
  assertProblem(await daemon.ask("/metrics", { headers: bearer(table.key) }), {
    status: 403,
    type: "forbidden",
  });
  const { body } = await daemon.ask("/metrics", { headers: bearer(gallery.key) });
  assert.equal(valueOf(readOpenMetrics(body), "boutwire_connections", { audience: "table" }), 1);
  for (const said of ["Unsaid", "Wren", gallery.key, table.key]) assert.ok(!body.includes(said), said);
  await line.close();
});

test("docs/wire.md lists every family, with its type", async (t) => {
  const page = readFileSync(join(root, "docs/wire.md"), "utf8");
  const rows = [...page.matchAll(/^\| `(boutwire_\w+)`[^|]* \| (\w+) \|/gm)];
  const listed = Object.fromEntries(rows.map(([, name, type]) => [name, type]));
  const families = await metrics(await daemonFor(t));
  assert.deepEqual(
    listed,
    Object.fromEntries([...families.values()].map(({ name, type }) => [name, type])),
  );
});
