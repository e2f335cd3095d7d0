// Several addresses of one daemon: all are served, all are printed, and all or none can be had.
import assert from "node:assert/strict";
import { createServer } from "node:net";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call } from "../support/bouts.mjs";
import { Daemon, daemonFor, makeKey } from "../support/daemon.mjs";
import { run, temporaryFolder } from "../support/program.mjs";

/** The printed bases, without repetition: ["http://127.0.0.1:40123/", …]. */
const bases = (out) => [...new Set([...out.matchAll(/^(https?:\/\/[^/]+\/)/gm)].map(([base]) => base))];
const store = () => join(temporaryFolder(), "day.sqlite");

test("every address is printed, and each shows what was keyed at another", async (t) => {
  const daemon = await daemonFor(t, { words: ["--listen", "127.0.0.2:0", "--listen", "127.0.0.3:0"] });
  const all = bases(daemon.out);
  assert.deepEqual(
    all.map((base) => new URL(base).hostname),
    ["127.0.0.1", "127.0.0.2", "127.0.0.3"],
  );
  const sent = await fetch(`${all[1]}api/v1/events`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(call("b1")),
  });
  assert.equal(sent.status, 200);
  for (const base of all)
    assert.equal((await (await fetch(`${base}api/v1/bouts/b1`)).json()).bout, "b1", base);
});

test("the environment and the config file have lists too, and the stronger takes the whole list's place", async (t) => {
  const config = join(temporaryFolder(), "boutwire.conf");
  writeFileSync(config, "listen = 127.0.0.4:0\nlisten = 127.0.0.5:0, 127.0.0.6:0\n");
  const hosts = (daemon) => bases(daemon.out).map((base) => new URL(base).hostname);
  const start = async (options) => {
    const daemon = await Daemon.start({ store: store(), listen: [], ...options });
    t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
    return daemon;
  };
  assert.deepEqual(hosts(await start({ words: ["--config", config] })), ["127.0.0.4", "127.0.0.5", "127.0.0.6"]);
  const env = { BOUTWIRE_CONFIG: config, BOUTWIRE_LISTEN: "127.0.0.7:0 127.0.0.8:0" };
  assert.deepEqual(hosts(await start({ env })), ["127.0.0.7", "127.0.0.8"]);
  assert.deepEqual(hosts(await start({ env, listen: ["127.0.0.9:0"] })), ["127.0.0.9"]);
});

test("one address that can't be had stops the start, and is named with the reason", async (t) => {
  const taken = createServer();
  await new Promise((resolve) => taken.listen(0, "127.0.0.1", resolve));
  t.after(() => taken.close());
  const { port } = taken.address();
  const { code, errors, out } = await Daemon.startInVain({
    store: store(),
    words: ["--listen", `127.0.0.1:${port}`, "--listen", "127.0.0.2:0"],
  });
  assert.equal(code, 2, errors);
  assert.equal(out, "");
  assert.match(errors, new RegExp(`message="can't listen" host=127\\.0\\.0\\.1 port=${port} reason="address already in use"`));
  const keyed = store();
  await makeKey(keyed, "table");
  const nowhere = await Daemon.startInVain({
    store: keyed,
    words: ["--listen", "192.0.2.1:0", "--plain-text-network"],
  });
  assert.equal(nowhere.code, 2);
  assert.match(nowhere.errors, /host=192\.0\.2\.1 port=0 reason="address not available"/);
});

test("what others reach is asked of each address by itself", async () => {
  const bare = await Daemon.startInVain({ store: store(), words: ["--listen", "0.0.0.0:0"] });
  assert.equal(bare.code, 2);
  assert.match(bare.errors, /host=0\.0\.0\.0 port=0 reason="others reach this address, and no key opens/);
  const keyed = store();
  await makeKey(keyed, "table");
  const plain = await Daemon.startInVain({ store: keyed, words: ["--listen", "0.0.0.0:0"] });
  assert.equal(plain.code, 2);
  assert.match(plain.errors, /host=0\.0\.0\.0 port=0 reason="others reach this address, and without TLS/);
  const daemon = await Daemon.start({ store: keyed, words: ["--listen", "0.0.0.0:0", "--plain-text-network"] });
  await daemon.stop();
});

test("seventeen addresses are too many, and none is no list", async () => {
  const many = Array.from({ length: 17 }, (_, i) => `127.0.0.${i + 1}:0`);
  for (const [words, said] of [
    [many.flatMap((one) => ["--listen", one]), /listen: 16 at most/],
    [["--listen", many.join(",")], /listen: 16 at most/],
    [["--listen", " ,"], /listen: at least one is wanted/],
    [["--listen", "127.0.0.1:0,x"], /listen: x is no HOST:PORT/],
  ]) {
    const { code, errors } = await run(["serve", ...words], { cwd: temporaryFolder() });
    assert.equal(code, 2, words.join(" "));
    assert.match(errors, said);
  }
});

test("a key's addresses are those that others reach", async () => {
  const { addresses } = await makeKey(store(), "table", "--listen", "127.0.0.1:7600", "--listen", "tls:192.168.7.2:7643");
  assert.match(addresses[0], /^https:\/\/192\.168\.7\.2:7643\/table\/#key=/);
});
