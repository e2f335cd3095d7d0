// A strict reader of OpenMetrics text 1.0.0, written from the specification alone (OpenMetrics 1.0,
// "Text format"; the section stands beside each check). Refuses whatever an ingestor may refuse.
import assert from "node:assert/strict";

const TYPES = ["counter", "gauge", "histogram", "gaugehistogram", "stateset", "info", "summary", "unknown"];
// "ABNF"
const NAME = "[a-zA-Z_:][a-zA-Z_:0-9]*";
const LABEL = "[a-zA-Z_][a-zA-Z_0-9]*";
const ESCAPED = '(?:[^\\n"\\\\]|\\\\[^\\n])*';
const REAL = "[+-]?(?:\\d+(?:\\.\\d*)?(?:[eE][+-]?\\d+)?|\\d*\\.\\d+(?:[eE][+-]?\\d+)?)";
const NUMBER = `(?:${REAL}|[+-]?(?:[iI][nN][fF]|[iI][nN][fF][iI][nN][iI][tT][yY])|[nN][aA][nN])`;
const LABELS = `\\{(?:${LABEL}="${ESCAPED}"(?:,${LABEL}="${ESCAPED}")*)?\\}`;
const descriptor = new RegExp(`^# (TYPE|UNIT|HELP) (${NAME}) (.*)$`, "s");
const sampleLine = new RegExp(`^(${NAME})(${LABELS})? (${NUMBER})(?: (${REAL}))?$`);
const oneLabel = new RegExp(`(${LABEL})="(${ESCAPED})"`, "g");

/** Which sample names a family of a type may have ("Metric types"). */
const SUFFIXES = {
  gauge: [""],
  unknown: [""],
  stateset: [""],
  counter: ["_total", "_created"],
  info: ["_info"],
  histogram: ["_bucket", "_count", "_sum", "_created"],
  gaugehistogram: ["_bucket", "_gcount", "_gsum"],
  summary: ["", "_count", "_sum", "_created"],
};

const number = (text) => {
  if (/^[+-]?inf(inity)?$/i.test(text)) return text.startsWith("-") ? -Infinity : Infinity;
  return /^nan$/i.test(text) ? NaN : Number(text);
};
const unescaped = (text) =>
  text.replace(/\\(.)/gs, (both, one) => ({ n: "\n", '"': '"', "\\": "\\" })[one] ?? both);

function readLabels(text = "{}") {
  const labels = {};
  for (const [, name, value] of text.matchAll(oneLabel)) {
    assert.ok(!(name in labels), `a label twice: ${text}`); // "LabelSet": names are unique
    labels[name] = unescaped(value);
  }
  return labels;
}

/** "Overall Structure": UTF-8 without a byte order mark, line feeds, EOF at the end. */
function linesOf(bytes) {
  const text = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  assert.ok(!text.startsWith("\uFEFF"), "no byte order mark");
  assert.ok(!text.includes("\r"), "no carriage return");
  assert.ok(text.endsWith("\n# EOF\n"), `ends with EOF: ${text.slice(-40)}`);
  return text.slice(0, -"# EOF\n".length).split("\n").slice(0, -1);
}

/** "MetricFamily metadata": one of each, in this order, before the samples. */
function takeDescriptor(families, line) {
  const [, kind, name, rest] = descriptor.exec(line) ?? assert.fail(`no metadata line: ${line}`);
  let family = families.at(-1);
  if (kind === "TYPE") {
    assert.ok(!families.some((other) => other.name === name), `interleaved or twice: ${name}`);
    assert.ok(TYPES.includes(rest), line);
    family = { name, type: rest, samples: [] };
    families.push(family);
    return;
  }
  assert.equal(family?.name, name, `not under its TYPE: ${line}`);
  assert.equal(family.samples.length, 0, `behind a sample: ${line}`);
  const key = kind.toLowerCase();
  assert.ok(!(key in family), `twice: ${line}`);
  if (kind === "UNIT") {
    assert.ok(!("help" in family), `UNIT behind HELP: ${line}`);
    assert.ok(name.endsWith(`_${rest}`), `the unit ends the name: ${line}`);
    assert.match(rest, /^[a-zA-Z_:0-9]*$/);
  } else {
    assert.match(rest, new RegExp(`^${ESCAPED}$`, "s"), line);
  }
  family[key] = unescaped(rest);
}

function takeSample(families, line) {
  const [, name, labels, value, timestamp] =
    sampleLine.exec(line) ?? assert.fail(`no sample: ${line}`);
  const family = families.at(-1);
  assert.ok(family, `without a family: ${line}`);
  const suffix = SUFFIXES[family.type].find((end) => family.name + end === name);
  assert.notEqual(suffix, undefined, `${line} in ${family.name}, a ${family.type}`);
  assert.equal(timestamp, undefined, `of now: ${line}`); // "Timestamps": not needed for what is now
  family.samples.push({ name, suffix, labels: readLabels(labels), value: number(value), text: value });
}

const key = (labels) => JSON.stringify(Object.entries(labels).sort());

/** "Histogram": sorted by le, cumulative, +Inf is the count, canonical numbers. */
function checkHistogram({ name, samples }) {
  const of = (suffix) => samples.filter((sample) => sample.suffix === suffix);
  const buckets = of("_bucket");
  let [bound, count] = [-Infinity, 0];
  for (const { labels, value, text } of buckets) {
    assert.match(labels.le, /^(\+Inf|\d+\.\d+|\d(\.\d+)?e[+-]\d\d+)$/, `${name} le=${labels.le}`);
    assert.ok(number(labels.le) > bound, `${name} le=${labels.le} is not sorted`);
    assert.match(text, /^\d+$/, "a bucket is an integer");
    assert.ok(value >= count, `${name} is not cumulative`);
    [bound, count] = [number(labels.le), value];
  }
  assert.equal(bound, Infinity, `${name} has no +Inf`);
  assert.deepEqual(of("_count").map(({ value }) => value), [count], name);
  assert.equal(of("_sum").length, 1, name);
  assert.ok(of("_sum")[0].value >= 0, name);
}

function checkFamily(family) {
  const seen = new Set();
  for (const { name, labels, value, suffix } of family.samples) {
    assert.ok(!seen.has(name + key(labels)), `${name} ${key(labels)} twice`);
    seen.add(name + key(labels));
    if (family.type === "info") assert.equal(value, 1, name); // "Info"
    if (family.type === "counter") assert.ok(value >= 0, name); // "Counter"
    if (family.type !== "histogram") assert.ok(!("le" in labels), name);
    if (suffix === "" && family.type === "gauge") assert.ok(!Number.isNaN(value), name);
  }
  if (family.type === "histogram") checkHistogram(family);
}

/** @param {Buffer | string} text  @returns {Map<string, {type, unit?, help?, samples}>} by name */
export function readOpenMetrics(text) {
  const families = [];
  for (const line of linesOf(Buffer.from(text))) {
    if (line.startsWith("#")) takeDescriptor(families, line);
    else takeSample(families, line);
  }
  families.forEach(checkFamily);
  for (const { name, type } of families) // a name must not be another's sample ("MetricFamily")
    for (const other of families)
      for (const end of SUFFIXES[other.type])
        assert.ok(other.name === name || other.name + end !== name, `${name} ${type}`);
  return new Map(families.map((family) => [family.name, family]));
}

/** One sample's value: valueOf(families, "boutwire_inputs", {outcome: "taken"}). */
export function valueOf(families, name, labels = {}, suffix = undefined) {
  const family = families.get(name) ?? assert.fail(`there is no ${name}`);
  const end = suffix ?? { counter: "_total", info: "_info" }[family.type] ?? "";
  const found = family.samples.filter(
    (sample) => sample.suffix === end && key(sample.labels) === key(labels),
  );
  assert.equal(found.length, 1, `${name} ${JSON.stringify(labels)}`);
  return found[0].value;
}
