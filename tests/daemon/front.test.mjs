// A daemon that something stands in front of, as its owner says it: when it starts at all, whose
// pages may act, which hosts it answers to, what it prints, and what SIGHUP changes.
import assert from "node:assert/strict";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call } from "../support/bouts.mjs";
import { bearer, Daemon, daemonFor, makeKey } from "../support/daemon.mjs";
import { temporaryFolder } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

const newStore = () => join(temporaryFolder(), "day.sqlite");
const HALL = "https://hall.example/hall/";

const postFrom = (daemon, origin, headers = {}) =>
  daemon.ask("/api/v1/events", {
    method: "POST",
    headers: { "Content-Type": "application/json", Origin: origin, ...headers },
    body: JSON.stringify(call("x")),
  });

test("what brings others to it needs a key first", async (t) => {
  for (const words of [["--public-url", HALL], ["--trusted-proxy", "127.0.0.1"]]) {
    const store = newStore();
    const { code, errors } = await Daemon.startInVain({ store, words });
    assert.equal(code, 2);
    assert.match(errors, /others reach it through a proxy, and no key opens/);
    await makeKey(store, "table", "--name", "ann");
    await daemonFor(t, { store, words });
  }
  await daemonFor(t, { words: ["--public-url", "http://localhost:8080/hall/"] }); // nobody else's
});

test("without keys, a name that somebody points at this machine is answered 421, whatever is asked", async (t) => {
  const daemon = await daemonFor(t, { words: ["--public-url", "http://hall.localhost/"] });
  for (const path of ["/", "/table/", "/api/v1/rules", "/healthz", "/text/A", "/sse/mat/A/follow", "/ws"]) {
    const { status, headers, body } = await daemon.ask(path, { headers: { Host: `rebind.example:${daemon.port}` } });
    assert.equal(status, 421, path);
    assert.equal(headers["content-type"], "application/problem+json");
    assert.match(JSON.parse(body).detail, /--public-url/);
  }
  for (const host of ["localhost", `127.0.0.1:${daemon.port}`, "hall.localhost"])
    assert.equal((await daemon.ask("/healthz", { headers: { Host: host } })).status, 200, host);
  assert.equal((await postFrom(daemon, "http://rebind.example", { Host: "rebind.example" })).status, 421);
  await makeKey(daemon.store, "table", "--name", "ann"); // from now on a key is what protects it
  await until(
    async () => (await daemon.ask("/healthz", { headers: { Host: "rebind.example" } })).status === 200,
    "the key to be taken up",
  );
});

test("addresses are printed as others find them, by serve and by key add", async (t) => {
  const store = newStore();
  const config = join(temporaryFolder(), "hall.conf");
  writeFileSync(config, `public_url = ${HALL}\n`);
  const { addresses } = await makeKey(store, "table", "--name", "ann", "--mat", "A", "--config", config);
  assert.ok(addresses.length > 0);
  for (const address of addresses)
    assert.match(address, /^https:\/\/hall\.example\/hall\/(table|booth)\/\?mat=A#key=\w+$/);
  const daemon = await daemonFor(t, { store, words: ["--config", config] });
  assert.match(daemon.out, /^https:\/\/hall\.example\/hall\/ /m);
});

test("SIGHUP: another site's pages are let in and shut out while it runs", async (t) => {
  const store = newStore();
  const { key } = await makeKey(store, "table", "--name", "ann");
  const config = join(temporaryFolder(), "hall.conf");
  const write = (...lines) => writeFileSync(config, `${lines.join("\n")}\n`);
  write("allow_origin = https://score.example, https://two.example:8443");
  const daemon = await daemonFor(t, { store, words: ["--config", config] });
  const status = async (origin) => (await postFrom(daemon, origin, bearer(key))).status;
  assert.equal(await status("https://score.example"), 200);
  assert.equal(await status("https://three.example"), 403);
  write("allow_origin = https://three.example", "trusted_proxy = 192.0.2.1");
  daemon.child.kill("SIGHUP");
  await until(() => /the settings are read again" changed=1/.test(daemon.errors), "the reload");
  assert.match(daemon.errors, /changed by a restart only" setting=trusted_proxy/);
  assert.equal(await status("https://score.example"), 403);
  assert.equal(await status("https://three.example"), 200);
});
