// docs/wire.md as it is printed: every request and every message in it is sent to a daemon, in the
// order of the document, and what comes back is what is printed there.
//
// Free is only what time makes: a time of day stands for any other, milliseconds that count from one
// for any others (TIMES; and HASTE may be missing), times of a clock for any others (CLOCKS), an epoch for this run's, a topic's
// version (what comes quickly may share one) for one of the same order. `…` stands
// for what was left out: as a value for any value, within an object or at an array's end for any more
// of it, as a line for any lines. All else is the same, byte by byte.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { connect } from "node:net";
import { join } from "node:path";
import { test } from "node:test";
import WebSocket from "ws";
import { daemonFor } from "../support/daemon.mjs";
import { Reading } from "../support/listeners.mjs";
import { root } from "../support/program.mjs";
import { until } from "../support/wait.mjs";

const TIMES = /^(t0_ms|t1_ms|t2_ms|t_ms|left_ms|elapsed_ms|time_ms|clock_left_ms)$/;
const CLOCKS = /^(clock|clock_elapsed|result_time)$/;
const HASTE = "cut_short"; // on a slow machine the panel before has had its time
const TIME_OF_DAY = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/;
const EPOCH = /\b[0-9a-f]{16}\.[0-9a-f]{8}\b/g;

/* ---- the document ---- */

/** Its examples, in their order: {kind, text, line}. A block that is none of these shows a shape, and
 *  is not sent. */
export function examplesOf(document) {
  const examples = [];
  let section = "";
  let open;
  document.split("\n").forEach((line, i) => {
    if (open && line === "```") {
      const kind = kindOf(open, section);
      if (kind) examples.push({ kind, text: open.lines.join("\n"), line: open.line });
      open = undefined;
    } else if (open) open.lines.push(line);
    else if (line.startsWith("```")) open = { lang: line.slice(3), lines: [], line: i + 1 };
    else if (line.startsWith("## ")) section = line.slice(3);
  });
  return examples;
}

function kindOf({ lang, lines }, section) {
  if (lang === "http") return "http";
  if (/^event: /.test(lines[0])) return "stream";
  if (/^[<>] /.test(lines[0])) return section === "Events as lines" ? "lines" : "socket";
  return undefined;
}

/** A printed JSON text, with `…` as a member, an element or a value of that name. */
function printedJson(text) {
  let out = "";
  let inString = false;
  const open = [];
  for (let i = 0; i < text.length; i++) {
    const at = text[i];
    if (at === '"' && text[i - 1] !== "\\") inString = !inString;
    if (!inString && (at === "{" || at === "[")) open.push(at);
    if (!inString && (at === "}" || at === "]")) open.pop();
    const isMember = open.at(-1) === "{" && /[{,]\s*$/.test(out);
    out += inString || at !== "…" ? at : isMember ? '"…":"…"' : '"…"';
  }
  return JSON.parse(out);
}

/* ---- comparing ---- */

/** How `got` differs from what is printed; undefined: not at all. */
function difference(printed, got, run, path = "", name = "") {
  const differs = () =>
    `${path || "/"}: printed ${JSON.stringify(printed)}, got ${JSON.stringify(got)}`;
  if (printed === "…") return undefined;
  if (printed === null || got === null) return printed === got ? undefined : differs();
  if (typeof printed !== typeof got || Array.isArray(printed) !== Array.isArray(got))
    return differs();
  if (typeof printed === "object") return partsDifference(printed, got, run, path);
  return valueIs(printed, got, run, name) ? undefined : differs();
}

function valueIs(printed, got, run, name) {
  const isText = typeof printed === "string";
  if (isText && TIME_OF_DAY.test(printed)) return TIME_OF_DAY.test(got);
  if (!isText && TIMES.test(name)) return Number.isInteger(got);
  if (isText && CLOCKS.test(name)) return /^\d+:\d\d$/.test(got);
  if (name === "epoch") return run.epochIs(printed, got);
  return printed === got;
}

function partsDifference(printed, got, run, path) {
  const isList = Array.isArray(printed);
  const isOpen = isList ? printed.at(-1) === "…" : Object.hasOwn(printed, "…");
  const names = Object.keys(printed).filter(
    (name) => printed[name] !== "…" || (!isList && name !== "…"),
  );
  const more = Object.keys(got).filter((name) => !names.includes(name));
  const told = () => more.map((name) => `${name}: ${JSON.stringify(got[name])}`).join(", ");
  if (more.length && !isOpen) return `${path || "/"}: not printed: ${told()}`;
  for (const name of names) {
    if (!Object.hasOwn(got, name) && name === HASTE) continue;
    if (!Object.hasOwn(got, name)) return `${path}/${name}: printed, but not there`;
    const found = isVersion(printed, name)
      ? versionDifference(printed, got, run, name)
      : difference(printed[name], got[name], run, `${path}/${name}`, isList ? "" : name);
    if (found) return found;
  }
  return undefined;
}

const isVersion = (printed, name) =>
  (name === "seq" || name === "from") && "epoch" in printed && "topic" in printed;

function versionDifference(printed, got, run, name) {
  const same = run.versionIs(printed.topic, printed[name], got[name]);
  return same ? undefined : `${name}: version ${got[name]} for ${printed[name]}`;
}

/** As the daemon writes it: members in sorted order, no spaces. */
function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join()}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  const names = Object.keys(value).sort((one, other) =>
    Buffer.compare(Buffer.from(one), Buffer.from(other)),
  );
  return `{${names.map((name) => `${JSON.stringify(name)}:${canonical(value[name])}`).join()}}`;
}

function jsonDifference(printed, text, run) {
  return run.trying(() => difference(printedJson(printed), JSON.parse(text), run));
}

/** Lines of text or of JSON; a line `…` is any number of lines. */
function linesDifference(printed, got, run, isJson) {
  let i = 0;
  let gap = false;
  for (const line of printed) {
    if (line === "…") {
      gap = true;
      continue;
    }
    const same = (one) => (isJson ? !jsonDifference(line, one, run) : one === line);
    const from = i;
    while (gap && i < got.length && !same(got[i])) i++;
    if (i >= got.length) return `printed, but not there: ${line}`;
    if (!same(got[i])) return isJson ? jsonDifference(line, got[i], run) : `printed ${line}, got ${got[from]}`;
    i++;
    gap = false;
  }
  return gap || i === got.length ? undefined : `not printed: ${got.slice(i).join("\n")}`;
}

/* ---- one run through the document ---- */

class Run {
  #epoch;
  #versions = new Map();
  #socket;
  #heard = [];
  #stream;

  constructor(daemon, linesPort) {
    Object.assign(this, { daemon, linesPort });
  }

  /** The first epoch printed is this run's, wherever it stands. */
  epochIs(printed, got) {
    this.#epoch ??= { printed, got };
    return printed === this.#epoch.printed && got === this.#epoch.got;
  }

  /** The same version of a topic for the same one printed, a later one for a later one. */
  versionIs(topic, printed, got) {
    const known = this.#versions.get(topic) ?? [];
    if (!Number.isInteger(got)) return false;
    this.#versions.set(topic, [...known, [printed, got]]);
    return known.every(([one, other]) => Math.sign(one - printed) === Math.sign(other - got));
  }

  /** What wasn't the same has taught nothing. */
  trying(compare) {
    const [epoch, versions] = [this.#epoch, new Map(this.#versions)];
    const found = compare();
    if (found) [this.#epoch, this.#versions] = [epoch, versions];
    return found;
  }

  #versionOf(topic, printed) {
    return String((this.#versions.get(topic) ?? []).find(([one]) => one === Number(printed))?.[1] ?? printed);
  }

  /** What is sent: with this run's epoch and versions, and as if it were keyed now. */
  #sent(text, topic) {
    const now = new Date().toISOString();
    return text
      .replace(/("topic":"([^"]+)","epoch":"[^"]+","seq":)(\d+)/g, (all, head, name, seq) => head + this.#versionOf(name, seq))
      .replace(/([0-9a-f]{8}-)(\d+)/g, (all, head, seq) => head + this.#versionOf(topic, seq))
      .replace(EPOCH, (epoch) => (epoch === this.#epoch?.printed ? this.#epoch.got : epoch))
      .replace(/\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z/g, now);
  }

  async http(text) {
    const [head, ...rest] = text.split("\n\n");
    const at = rest.findIndex((part) => part.startsWith("HTTP/1.1 "));
    const body = rest.slice(0, at).join("\n\n");
    const [answerHead, ...answerBody] = rest.slice(at);
    const request = headOf(head);
    const [, method, path] = /^(\S+) (\S+) HTTP\/1\.1$/.exec(request.first);
    const headers = Object.fromEntries(Object.entries(request.headers).map(([name, value]) => [name, this.#sent(value, path.slice("/sse/".length))]));
    const wanted = headOf(answerHead);
    if (wanted.headers["content-type"] === "text/event-stream")
      return this.#openStream(path, headers, answerBody.join("\n\n"));
    const end = body.includes("\n") ? "\n" : "";
    const answer = await (/^\/text\/[^?]*$/.test(path)
      ? this.#readText(path, answerBody.join("\n\n"))
      : this.daemon.ask(path, { method, headers, ...(body && { body: this.#sent(body) + end }) }));
    assert.equal(answer.status, Number(wanted.first.split(" ")[1]), answer.body);
    for (const [name, value] of Object.entries(wanted.headers)) assert.equal(answer.headers[name], value, name);
    this.#compareBody(wanted.headers["content-type"], answerBody.join("\n\n"), answer.body);
  }

  #compareBody(type, printed, got) {
    const lines = (text) => text.replace(/\n$/, "").split("\n");
    const isLines = !/json$/.test(type) || /ndjson$/.test(type);
    const found = isLines
      ? linesDifference(lines(printed), lines(got), this, /ndjson$/.test(type))
      : jsonDifference(printed, got, this);
    assert.equal(found, undefined);
    if (type === "application/json") assert.equal(got.trim(), canonical(JSON.parse(got)));
  }

  /* It stays open: so much of it as is printed. */
  async #readText(path, printed) {
    const reading = await Reading.open(this.daemon, path);
    await reading.until((text) => text.split("\n").length > printed.split("\n").length, printed);
    reading.close();
    return { status: reading.status, headers: reading.headers, body: reading.text };
  }

  async #openStream(path, headers, printed) {
    this.#stream?.reading.close();
    this.#stream = { topic: path.slice("/sse/".length), reading: await Reading.open(this.daemon, path, headers), read: 0 };
    assert.equal(this.#stream.reading.status, 200);
    await this.stream(printed);
  }

  /** What comes next on the stream that was opened last. A comment is only a sign of life. */
  async stream(printed) {
    const parts = printed.split("\n\n");
    const all = () => this.#stream.reading.text.split("\n\n").slice(0, -1);
    const now = () => all().filter((part) => !part.startsWith(":")).slice(this.#stream.read);
    await this.#stream.reading.until(() => now().length >= parts.length, printed);
    parts.forEach((part, i) => assert.equal(this.#eventDifference(part, now()[i]), undefined));
    this.#stream.read += parts.length;
  }

  #eventDifference(printed, got) {
    const [wanted, found] = [fieldsOf(printed), fieldsOf(got)];
    const data = wanted.data && found.data && jsonDifference(wanted.data, found.data, this);
    if (data) return data;
    const rest = ({ data: _, ...others }) => JSON.stringify(others);
    const same = "data" in wanted === "data" in found &&
      this.#sent(rest(wanted), this.#stream.topic) === rest(found);
    return same ? undefined : `printed ${printed}, got ${got}`;
  }

  async socket(text) {
    if (!this.#socket) await this.#openSocket();
    let printed = [];
    for (const line of text.split("\n")) {
      if (line.startsWith("< ")) printed.push(line.slice(2));
      else {
        await this.#hear(printed);
        printed = [];
        this.#socket.send(this.#sent(line.slice(2)));
      }
    }
    await this.#hear(printed);
  }

  async #openSocket() {
    this.#socket = new WebSocket(this.daemon.url("/ws").replace("http", "ws"), "boutwire.v1", { perMessageDeflate: false });
    this.#socket.on("message", (data) => this.#heard.push(String(data)));
    await new Promise((resolve, reject) => this.#socket.once("open", resolve).once("error", reject));
  }

  /** All that is printed, in any order (a patch may come before or after the answer), and nothing else
   *  but beats. */
  async #hear(printed) {
    const wanted = [...printed];
    const counts = (one) => !isBeat(one) || printed.some(isBeat);
    await until(
      () => this.#heard.filter(counts).length >= wanted.length,
      () => `${printed.join("\n")}\nheard so far: ${this.#heard.join("\n")}`,
    );
    for (const one of this.#heard.splice(0)) {
      const at = wanted.findIndex((line) => !jsonDifference(line, one, this));
      if (at >= 0) wanted.splice(at, 1);
      else if (!isBeat(one)) this.#failsAt(one, wanted);
    }
    assert.deepEqual(wanted, []);
  }

  #failsAt(heard, wanted) {
    const differences = wanted.map((line) => jsonDifference(line, heard, this));
    assert.fail(`not printed: ${differences.join("\n")}\n${heard}`);
  }

  /** Changes that an example of another kind has made are told here too; they are printed where they
   *  are asked for. */
  async settle() {
    if (!this.#socket) return;
    this.#socket.send('{"clock":{"t0_ms":7}}');
    const isAnswer = (one) => one.includes('"clock":{"t0_ms":7,');
    await until(() => this.#heard.some(isAnswer), "the clock");
    this.#heard = [];
  }

  async lines(text) {
    const socket = connect(this.linesPort, "127.0.0.1");
    let got = "";
    socket.setEncoding("utf8").on("data", (piece) => (got += piece));
    const all = text.split("\n");
    const [sent, printed] = [">", "<"].map((sign) =>
      all.filter((line) => line.startsWith(sign)).map((line) => line.slice(2)),
    );
    socket.write(sent.map((line) => `${this.#sent(line)}\n`).join(""));
    await until(() => got.split("\n").length > printed.length, () => got);
    assert.equal(linesDifference(printed, got.trimEnd().split("\n"), this, true), undefined);
    socket.destroy();
  }

  close() {
    this.#socket?.close();
    this.#stream?.reading.close();
  }
}

const isBeat = (text) => text.startsWith('{"beat"');

function headOf(text) {
  const [first, ...lines] = text.split("\n");
  const named = Object.entries(fieldsOf(lines.join("\n")));
  return { first, headers: Object.fromEntries(named.map(([name, value]) => [name.toLowerCase(), value])) };
}

/** "name: value" on each line. */
function fieldsOf(text) {
  const lines = text.split("\n").filter(Boolean);
  const split = (line) => [line.split(": ")[0], line.slice(line.indexOf(": ") + 2)];
  return Object.fromEntries(lines.map(split));
}

/* ---- the tests ---- */

test("docs/wire.md: each example comes back as it is printed", async (t) => {
  const examples = examplesOf(readFileSync(join(root, "docs/wire.md"), "utf8"));
  const daemon = await daemonFor(t);
  const lined = await daemonFor(t, { words: ["--lines", "tcp:127.0.0.1:0"] });
  const [, port] = await until(() => /tcp:127\.0\.0\.1:(\d+)/.exec(lined.out), "where lines are taken");
  const run = new Run(daemon, Number(port));
  t.after(() => run.close());
  for (const { kind, text, line } of examples) {
    await t.test(`line ${line}: ${text.split("\n")[0]}`, async () => {
      await run[kind](text);
      await run.settle();
    });
  }
  const kinds = (kind) => examples.filter((one) => one.kind === kind).length;
  assert.ok(kinds("http") >= 20 && kinds("socket") >= 5 && kinds("stream") >= 2 && kinds("lines") >= 1, "examples were found");
});

test("what isn't as printed is seen", () => {
  const run = new Run();
  const sees = (printed, got) => assert.ok(jsonDifference(printed, got, run), `${printed} ${got}`);
  const same = (printed, got) => assert.equal(jsonDifference(printed, got, run), undefined);
  same('{"a":{…},"b":[1,…],…}', '{"a":{"x":1},"b":[1,2,3],"c":4}');
  same('{"at":"2026-11-25T17:06:20.255Z","t_ms":5,"text":"an … in a text"}', '{"at":"2027-01-01T00:00:00.000Z","t_ms":9,"text":"an … in a text"}');
  sees('{"a":{…}}', '{"a":1,"b":2}');
  sees('{"a":1,…}', '{"b":1}');
  sees('{"b":[1,…]}', '{"b":[2,3]}');
  sees('{"b":[1]}', '{"b":[1,2]}');
  sees('{"at":"2026-11-25T17:06:20.255Z"}', '{"at":"now"}');
  sees('{"points":2}', '{"points":3}');
  sees('{"seq":2}', '{"seq":3}');
  sees('{"t_ms":2}', '{"t_ms":2.5}');
  same('{"epoch":"edd0a5790bbf2ea1.ab27ada6"}', '{"epoch":"0000000000000000.00000001"}');
  sees('{"epoch":"edd0a5790bbf2ea1.ab27ada6"}', '{"epoch":"0000000000000000.00000002"}');
  assert.ok(linesDifference(["one", "…", "two"], ["one", "x", "three"], run, false));
  assert.equal(linesDifference(["one", "…", "two", "…"], ["one", "x", "two", "y"], run, false), undefined);
});
