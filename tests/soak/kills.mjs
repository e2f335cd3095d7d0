// kill -9 at random points of a daemon that takes events by HTTP, in batches and by WebSocket.
import assert from "node:assert/strict";
import { join } from "node:path";
import { call, score } from "../support/bouts.mjs";
import { Daemon } from "../support/daemon.mjs";
import { Line } from "../support/listeners.mjs";
import { ndjson, rows, run, temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

const BOUTS = ["v0", "v1", "v2", "v3"];
const EVENTS_MAX = 30000; // of a store: then a new one is begun, for a bout has at most 10,000

/** A store that lives through one kill after the other. */
export const newVictim = () => ({
  store: join(temporaryFolder(), "day.sqlite"),
  acknowledged: new Map(),
});

function renew(victim) {
  if (victim.acknowledged.size > EVENTS_MAX) Object.assign(victim, newVictim());
}

/** By HTTP, one or a batch, until nobody answers. Notes what was acknowledged. */
async function postUntilDead(daemon, bout, random, acknowledged) {
  for (;;) {
    const count = random() < 0.3 ? 2 + Math.floor(random() * 20) : 1;
    const events = Array.from({ length: count }, () => score(bout, "red", 1));
    const [body, type] =
      count > 1 ? [ndjson(events), "application/x-ndjson"] : [JSON.stringify(events[0])];
    const answer = await daemon.postText(body, type).catch(() => undefined);
    if (answer?.status !== 200) return;
    for (const { id, seq } of rows(answer.body)) acknowledged.set(id, seq);
  }
}

/** By WebSocket, several on their way at a time. */
async function sayUntilDead(daemon, bout, random, acknowledged) {
  const line = await Line.open(daemon).catch(() => undefined);
  if (!line) return;
  const room = 1 + Math.floor(random() * 16);
  for (let waiting = 0, from = 0; ; waiting--) {
    for (; waiting < room; waiting++) line.say({ event: score(bout, "blue", 1) });
    const answer = await line.heard.find(({ ack }) => ack, "an ack", from).catch(() => undefined);
    if (!answer) return;
    acknowledged.set(answer.item.ack.id, answer.item.ack.seq);
    from = answer.place + 1;
  }
}

function assertAllThere(events, acknowledged) {
  assert.deepEqual(
    events.map(({ seq }) => seq),
    events.map((_, i) => i + 1),
    "1, 2, 3 … without a gap",
  );
  const kept = new Map(events.map(({ id, seq }) => [id, seq]));
  assert.equal(kept.size, events.length, "none twice");
  for (const [id, seq] of acknowledged) assert.equal(kept.get(id), seq, id);
}

/** One life: started, everything looked at, then killed while events come in. Answers in words how
 *  much there was. */
export async function killAndLook(victim, random) {
  renew(victim);
  const { store, acknowledged } = victim;
  const daemon = await Daemon.start({ store });
  const { code, out, errors } = await run(["export", "--store", store]);
  assert.equal(code, 0, errors);
  const found = rows(out);
  assertAllThere(found, acknowledged);
  for (const bout of found.length === 0 ? BOUTS : []) {
    const event = call(bout, { mat: bout });
    acknowledged.set(event.id, await daemon.post(event));
  }
  const enough = acknowledged.size + Math.floor(random() * 120);
  const wait_ms = random() * 5; // the kill comes between any two instructions
  const senders = BOUTS.map((bout, i) =>
    (i % 2 === 0 ? postUntilDead : sayUntilDead)(daemon, bout, random, acknowledged),
  );
  await until(() => acknowledged.size >= enough, "answers");
  await new Promise((resume) => setTimeout(resume, wait_ms));
  await daemon.kill();
  await Promise.all(senders);
  const { code: sound, errors: told } = await run(["check", store]);
  assert.equal(sound, 0, told);
  return `${found.length} events at the start, ${acknowledged.size} acknowledged in the end`;
}
