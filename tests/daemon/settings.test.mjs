// The command line of every command: help, version, exit codes; and how serve is set.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { call } from "../support/bouts.mjs";
import { handshake, Raw, RawWebSocket, TEXT } from "./net/raw.mjs";
import { Daemon } from "../support/daemon.mjs";
import { demoDay, environment, program, root, rows, run, temporaryFolder } from "../support/program.mjs";
import { within } from "../support/wait.mjs";

const COMMANDS = ["serve", "demo", "rehearse", "key", "fold", "check", "rules"];

test("--help of the program names every command, and every command has its own", async () => {
  const { code, out, errors } = await run(["--help"]);
  assert.deepEqual([code, errors], [0, ""]);
  for (const command of COMMANDS) {
    assert.match(out, new RegExp(`^ {2}${command} +\\S`, "m"));
    const help = await run([command, "--help"]);
    assert.deepEqual([help.code, help.errors], [0, ""], command);
    assert.ok(help.out.startsWith(`usage: boutwire ${command} `), help.out);
    assert.match(help.out, /Exit codes: /, command);
    assert.deepEqual((await run([command, "-h"])).out, help.out);
    assert.ok(
      help.out.split("\n").every((line) => line.length <= 100),
      command,
    );
  }
});

test("--version is the same everywhere", async () => {
  const { code, out } = await run(["--version"]);
  assert.equal(code, 0);
  assert.match(out, /^boutwire \d+\.\d+\.\d+\n$/);
  for (const command of COMMANDS)
    assert.deepEqual(await run([command, "--version"]), { code: 0, out, errors: "" });
});

test("wrong use is 2, said in words on standard error", async () => {
  for (const words of [
    [],
    ["play"],
    ["serve", "--nonsense"],
    ["serve", "extra"],
    ["serve", "--listen"],
    ["serve", "--listen", "7600"],
    ["serve", "--listen", ":7600"],
    ["serve", "--listen", "127.0.0.1:70000"],
    ["serve", "--listen", "127.0.0.1:x"],
    ["serve", "--log-level", "loud"],
    ["serve", "--log-format", "xml"],
    ["serve", "--drain-seconds", "-1"],
    ["serve", "--drain-seconds", "601"],
    ["serve", "--drain-seconds", "5s"],
    ["serve", "--connections", "0"],
    ["serve", "--connections-per-address", "many"],
    ["serve", "--public-url", "hall.example"],
    ["serve", "--public-url", "https://hall.example/api/"],
    ["serve", "--public-url", "https://hall.example/ws"],
    ["serve", "--trusted-proxy", "192.0.2.1/24"],
    ["serve", "--trusted-proxy", "proxy.example"],
    ["serve", "--allow-origin", "https://score.example/"],
    ["serve", "--allow-origin", "null"],
    ["serve", "--store", ""],
    ["serve", "--speed", "2"],
    ["demo", "--speed", "0"],
    ["demo", "--speed", "fast"],
    ["fold"],
    ["fold", "a", "b"],
    ["fold", "--now", "noon", demoDay],
    ["fold", "/nowhere/log.ndjson"],
    ["check"],
    ["rehearse"],
    ["rehearse", "--speed", "61", demoDay],
    ["rehearse", "--to", "nowhere", demoDay],
    ["rehearse", "--exact", "--speed", "2", demoDay],
    ["serve", "--config", "/nowhere/boutwire.conf"],
    ["serve", "--rules", "/nowhere/edition.json"],
  ]) {
    const { code, out, errors } = await run(words);
    assert.equal(code, 2, `${words.join(" ")}: ${out} ${errors}`);
    assert.equal(out, "", words.join(" "));
    assert.ok(errors.length > 0, words.join(" "));
  }
});

test("an input that isn't valid is 1, with its place", async () => {
  const folder = temporaryFolder();
  const bad = join(folder, "bad.ndjson");
  writeFileSync(
    bad,
    `${JSON.stringify({ ...call("x"), at: "2027-05-08T10:00:00.000Z" })}\n{"id":"y"}\n`,
  );
  for (const words of [
    ["fold", bad],
    ["check", bad],
    ["rehearse", "--quiet", "--to", "127.0.0.1:1", bad],
  ]) {
    const { code, errors } = await run(words);
    assert.equal(code, 1, words[0]);
    assert.ok(errors.includes(`${bad}:2: `), errors);
  }
  const edition = join(folder, "edition.json");
  writeFileSync(edition, "{}");
  const { code, errors } = await run([
    "serve",
    "--listen",
    "127.0.0.1:0",
    "--store",
    join(folder, "s"),
    "--rules",
    edition,
  ]);
  assert.equal(code, 1, errors);
  assert.ok(errors.includes(edition), errors);
  assert.ok(!existsSync(join(folder, "s")));
});

/** Where a daemon listens and what it stores to, by nothing but what it is told here; then it ends. */
async function served(words, { env = {}, cwd = temporaryFolder() } = {}) {
  const child = spawn(program, ["serve", ...words], {
    cwd,
    env: environment(env),
    stdio: ["ignore", "pipe", "pipe"],
  });
  let out = "";
  let errors = "";
  child.stderr.setEncoding("utf8").on("data", (text) => (errors += text));
  const ended = new Promise((resolve) => child.on("close", resolve));
  try {
    await within(
      new Promise((resolve, reject) => {
        child.stdout.setEncoding("utf8").on("data", (text) => {
          out += text;
          if (out.includes("\n")) resolve();
        });
        ended.then((code) => reject(new Error(`ended with ${code}: ${errors}`)));
      }),
      "an address",
    );
  } finally {
    child.kill("SIGTERM");
    await within(ended, "the end");
  }
  const [, host] = /^http:\/\/(.+):\d+\/ /.exec(out);
  return { host, errors, cwd };
}

test("an option is stronger than the environment, the environment than the config file", async () => {
  const folder = temporaryFolder();
  const config = join(folder, "boutwire.conf");
  const stores = Object.fromEntries(
    ["option", "environment", "config"].map((name) => [name, join(folder, name)]),
  );
  writeFileSync(
    config,
    `# where\nlisten = 127.0.0.4:0   # any port\r\n\n  store=${stores.config}\nlog_level = error\npages = ${folder}\n`,
  );
  const env = {
    BOUTWIRE_LISTEN: "127.0.0.3:0",
    BOUTWIRE_STORE: stores.environment,
    BOUTWIRE_CONFIG: config,
  };
  const words = ["--listen", "127.0.0.2:0", "--store", stores.option];
  const all = await served(words, { env });
  assert.equal(all.host, "127.0.0.2");
  assert.ok(
    existsSync(stores.option) && !existsSync(stores.environment) && !existsSync(stores.config),
  );
  assert.equal(all.errors, "", "log_level of the config file");
  const two = await served([], { env: { ...env, BOUTWIRE_LOG_LEVEL: "info" } });
  assert.equal(two.host, "127.0.0.3");
  assert.match(two.errors, /level=info/);
  assert.ok(existsSync(stores.environment) && !existsSync(stores.config));
  const one = await served(["--config", config], { env: { BOUTWIRE_CONFIG: "/nowhere" } });
  assert.equal(one.host, "127.0.0.4");
  assert.ok(existsSync(stores.config));
});

test("a store is boutwire.sqlite where it is started, unless said otherwise", async () => {
  const { cwd } = await served(["--listen", "127.0.0.1:0"]);
  assert.ok(existsSync(join(cwd, "boutwire.sqlite")));
});

test("a config file's wrong line is named", async () => {
  const config = join(temporaryFolder(), "boutwire.conf");
  for (const [text, line, words] of [
    ["listen = 127.0.0.1:0\nstroe = x\n", 2, /stroe is no setting/],
    ["\n\nlisten 127.0.0.1:0", 3, /no setting/],
    ["log_level = loud", 1, /loud is none of error, warning, info, debug/],
    ["listen = 7600", 1, /7600 is no HOST:PORT/],
    ["store =\n", 1, /a path/],
    ["# fine\nlisten = 127.0.0.1:99999", 2, /no HOST:PORT/],
  ]) {
    writeFileSync(config, text);
    const { code, errors } = await run(["serve", "--config", config], { cwd: temporaryFolder() });
    assert.equal(code, 2, text);
    assert.ok(errors.startsWith(`${config}:${line}: `), errors);
    assert.match(errors, words);
  }
});

test("a wrong environment variable is named", async () => {
  for (const [name, value] of [
    ["BOUTWIRE_LISTEN", "x"],
    ["BOUTWIRE_LOG_LEVEL", "x"],
    ["BOUTWIRE_STORE", ""],
    ["BOUTWIRE_CONFIG", "/nowhere"],
  ]) {
    const { code, errors } = await run(["serve"], {
      env: { [name]: value },
      cwd: temporaryFolder(),
    });
    assert.equal(code, 2, name);
    assert.ok(errors.includes(name === "BOUTWIRE_CONFIG" ? value : name), errors);
  }
});

test("what it says about itself is logfmt, as much as is asked for, and no event's words", async (t) => {
  for (const [level, lines] of [
    ["info", true],
    ["warning", false],
  ]) {
    const daemon = await Daemon.start({
      store: join(temporaryFolder(), "s"),
      words: ["--log-level", level],
    });
    t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
    await daemon.post(call("secret", { red: { name: "Wren Unsaid" } }));
    await daemon.postText('{"id":"Wren-Unsaid","type":"no"}');
    await daemon.stop();
    assert.equal(daemon.errors.length > 0, lines, daemon.errors);
    for (const line of daemon.errors.split("\n").filter(Boolean))
      assert.match(
        line,
        /^at=\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z level=(error|warning|info|debug) message="[^"]*"( [a-z_]+=("[^"]*"|\S*))*$/,
      );
    assert.ok(!/Wren/.test(daemon.errors));
  }
});

test("as JSON lines it says the same, each an object of its own", async (t) => {
  const store = join(temporaryFolder(), 'a "store" = s');
  const daemon = await Daemon.start({ store, words: ["--log-format", "json"] });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const vain = await Daemon.startInVain({ store, words: ["--log-format", "json"] });
  await daemon.stop();
  const [read, ...more] = rows(daemon.errors);
  assert.equal(read.message, "the log is read");
  assert.deepEqual([read.store, read.events, read.level], [store, 0, "info"]);
  for (const line of [read, ...more]) assert.ok(Date.parse(line.at) > 0 && line.message, line);
  const [refused] = rows(vain.errors);
  assert.equal(refused.level, "error");
  assert.match(refused.reason, /another daemon holds this store/);
});

test("nothing that strangers send gets into its log", async (t) => {
  const store = join(temporaryFolder(), "s");
  const daemon = await Daemon.start({ store, words: ["--log-level", "debug"] });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const word = "Wren-Unsaid";
  const host = `Host: ${daemon.host}:${daemon.port}\r\n`;
  const said = [
    `${word} / HTTP/1.1\r\n${host}\r\n`,
    `GET /${word}%zz HTTP/1.1\r\n${host}\r\n`,
    `GET /api/${word}?${word}=${word}&& HTTP/1.1\r\n${host}\r\n`,
    `GET / ${word}\r\n${host}\r\n`,
    `GET /${word.repeat(2000)} HTTP/1.1\r\n${host}\r\n`,
    `GET / HTTP/1.1\r\n${word}\r\n\r\n`,
    `GET / HTTP/1.1\r\n${host}${word}: ${word.repeat(900)}\r\n\r\n`,
    `GET / HTTP/1.1\r\n${host}Authorization: Bearer ${word}\r\n\r\n`,
    `POST /api/v1/events HTTP/1.1\r\n${host}Content-Type: ${word}\r\nContent-Length: ${word}\r\n\r\n`,
    `CONNECT ${word} HTTP/1.1\r\n${host}\r\n`,
    `PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n${word}`,
    `\x16\x03\x01${word}\r\n\r\n`,
    ...["Protocol", "Extensions", "Version"].map((name) =>
      handshake(daemon.port, { [`Sec-WebSocket-${name}`]: word }),
    ),
    handshake(daemon.port, { Origin: word }),
    handshake(daemon.port, { Host: word }),
  ];
  for (const text of said) {
    const raw = await Raw.open(daemon.port);
    raw.socket.end(text);
    await raw.end();
  }
  const line = await RawWebSocket.open(daemon.port);
  line.send(TEXT, JSON.stringify({ hello: { key: word }, [word]: word }));
  line.send(TEXT, word);
  line.send(3, word); // no opcode
  await line.raw.end();
  await daemon.stop();
  assert.match(daemon.errors, /of the network/, "the library did complain");
  assert.ok(!/wren|unsaid/i.test(daemon.errors), daemon.errors);
});

test("IPv6: the address is printed as it is written in a browser", async (t) => {
  const daemon = new Daemon({ store: join(temporaryFolder(), "s"), host: "::1" });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const first = await Promise.race([
    daemon.ended,
    new Promise((resolve) => daemon.child.stdout.once("data", resolve)),
  ]);
  if (first.code !== undefined) return t.skip("this machine has no IPv6");
  assert.match(daemon.out, /^http:\/\/\[::1\]:\d+\/ /);
  return undefined;
});

test("--rules adds an edition, and bouts can name it", async (t) => {
  const edition = join(root, "fixtures/editions/league.json");
  const folder = temporaryFolder();
  mkdirSync(join(folder, "deep"));
  const daemon = await Daemon.start({
    store: join(folder, "deep", "s"),
    words: ["--rules", edition],
  });
  t.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  const known = JSON.parse(await daemon.get("/api/v1/rules"));
  const names = known.map(({ name }) => name);
  const shipped = (await run(["rules"])).out;
  assert.ok(
    names.some((name) => !shipped.includes(name)),
    `${names}`,
  );
  const added = known.find(({ name }) => !shipped.includes(name));
  await daemon.post(call("league", { rules: added.name, style: added.styles[0] }));
  assert.equal((await daemon.topic("mat/A/table")).state.bout.details.rules, added.name);
});
