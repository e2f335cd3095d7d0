/* Makes of a valid event a line that must be refused, in one of many ways.
 * Every way is sure by the contract's text: what the text leaves open is not tried here. */

import { isOfTheDay, membersOf } from "./allowed.mjs";

const json = (event) => JSON.stringify(event);

function without(event, ...members) {
  return Object.fromEntries(Object.entries(event).filter(([name]) => !members.includes(name)));
}

/** The text of an event with one member, its own or a new one, written in a way of its own. */
function written(event, member, text) {
  const value = (name) => (name === member ? text : json(event[name]));
  const names = Object.keys({ ...event, [member]: 0 });
  return `{${names.map((name) => `${json(name)}:${value(name)}`).join(",")}}`;
}

const has = (event, member) => Object.hasOwn(membersOf(event.type), member);
const hasNoBoutTime = (event) => event.type === "clock" || isOfTheDay(event.type);

// ---------------------------------------------------------------------------------------------
// Ways to spoil any event: each takes it and what is known, and gives a line, or nothing where it
// does not apply.

const NO_TIMES = [
  "2027-05-08T10:00:00Z", "2027-05-08T10:00:00.00Z", "2027-05-08T10:00:00.0000Z",
  "2027-05-08 10:00:00.000Z", "2027-05-08T10:00:00.000", "2027-05-08T10:00:00.000+00:00",
  "2027-02-29T10:00:00.000Z", "2100-02-29T10:00:00.000Z", "2027-04-31T10:00:00.000Z",
  "2027-05-32T10:00:00.000Z", "2027-13-08T10:00:00.000Z", "2027-00-08T10:00:00.000Z",
  "2027-05-08T24:00:00.000Z", "2027-05-08T10:60:00.000Z", "2027-05-08T10:00:61.000Z",
  "2027-5-8T10:00:00.000Z", "2027-05-08T10:00:00.000Z ", "yesterday", "",
];
const NO_UTF8 = [[0xff], [0xc3], [0xc0, 0xaf], [0xed, 0xa0, 0x80], [0xf4, 0x90, 0x80, 0x80]];
const OTHER_KINDS = {
  string: [5, true, ["red"], {}], number: ["1", true, [1], {}], boolean: ["true", 1, {}],
  object: ["red", 1, true],
};

const OF_ANY_EVENT = {
  // No JSON object.
  cutOff: (event, { dice }) => json(event).slice(0, -dice.integer(1, 20)),
  moreAfterIt: (event, { dice }) =>
    json(event) + dice.one([",", "{}", "x", "]", "//", json(event)]),
  inAnArray: (event) => `[${json(event)}]`,
  otherValue: (event, { dice }) => dice.one(["null", "true", "17", '"event"', "[]", "{}"]),
  trailingComma: (event) => json(event).replace(/\}$/, ",}"),
  singleQuotes: (event) => json(event).replaceAll('"', "'"),
  comment: (event) => `/* late */ ${json(event)}`,
  byteOrderMark: (event) => `\ufeff${json(event)}`,
  notUtf8(event, { dice }) {
    const [before, after] = written(event, "id", '"e<>"').split("<>");
    return Buffer.concat([Buffer.from(before), Buffer.from(dice.one(NO_UTF8)), Buffer.from(after)]);
  },
  controlCharacter: (event, { dice }) =>
    written(event, "by", `"a${dice.one(["\x00", "\x01", "\t", "\x1f"])}b"`),
  unknownEscape: (event) => written(event, "by", '"a\\x41"'),
  halfSurrogate: (event) => written(event, "by", '"\\ud83e"'),
  noNumber: (event, { dice }) => written(event, "seq", dice.one(["01", "+1", "NaN", "1.", ".5"])),

  // Members.
  unknownMember: (event, { dice }) =>
    json({ ...event, [dice.one(["colour", "Side", "ID", "", "__proto__x", "at_"])]: 1 }),
  memberOfAnotherType(event, { dice }) {
    const all = ["do", "side", "points", "text", "ref", "how", "winner", "stage", "seed", "slot"];
    return json({ ...event, [dice.one(all.filter((member) => !has(event, member)))]: "red" });
  },
  memberTwice(event, { dice }) {
    const member = dice.one(Object.keys(event));
    const code = member.charCodeAt(0).toString(16).padStart(4, "0");
    const name = dice.chance(0.3) ? `"\\u${code}${member.slice(1)}"` : json(member);
    return json(event).replace(/\}$/, `,${name}:${json(event[member])}}`);
  },
  memberTwiceInside(event) {
    if (event.type === "bout") return written(event, "red", '{"name":"Rot","name":"Rot"}');
    return event.score && written(event, "score", '{"red":1,"blue":1,"red":1}');
  },
  requiredMissing(event, { dice }) {
    const members = Object.entries(membersOf(event.type));
    const required = members.filter(([, kind]) => kind.required).map(([name]) => name);
    return json(without(event, dice.one(required)));
  },
  aNull: (event, { dice }) => json({ ...event, [dice.one([...Object.keys(event), "by"])]: null }),
  otherKind(event, { dice }) {
    const member = dice.one(Object.keys(event));
    return json({ ...event, [member]: dice.one(OTHER_KINDS[typeof event[member]]) });
  },
  fraction(event, { dice }) {
    const numbers = Object.keys(event).filter((name) => typeof event[name] === "number");
    if (numbers.length === 0) return undefined;
    const name = dice.one(numbers);
    return written(event, name, event[name] + dice.one([".0", "e0", "E+0", ".5", "0e-1"]));
  },
  falseFlag(event, { dice }) {
    const flags = ["unconfirmed", "ordered", "call", "off"].filter((name) => has(event, name));
    return flags.length > 0 ? json({ ...event, [dice.one(flags)]: false }) : undefined;
  },

  // Members of every event.
  badId: (event, { dice }) => json({
    ...event, id: dice.one(["", "a b", "ä", "x".repeat(65), "a/b", "a\n", "a\u0000"]),
  }),
  badBout: (event, { dice }) =>
    event.bout && json({ ...event, bout: dice.one(["", "a b", "x".repeat(65), "nowhere!"]) }),
  unknownBout: (event) =>
    event.bout && event.type !== "bout" && json({ ...event, bout: "no-such-bout" }),
  badTime: (event, { dice }) =>
    json({ ...event, [dice.one(["at", "keyed_at"])]: dice.one(NO_TIMES) }),
  unknownType: (event, { dice }) =>
    json({ ...event, type: dice.one(["Score", "scores", "", "hold", "toString"]) }),
  badSeq: (event, { dice }) =>
    written(event, "seq", dice.one(["1.0", "1e0", '"1"', "true", "1.5"])),
  badBy: (event, { dice }) =>
    json({ ...event, by: dice.one([1, "", "x".repeat(101), "🤼".repeat(101), true]) }),
  idOfAnother(event, { dice, log }) {
    const earlier = [...log.byId.values()].filter(({ type }) => type !== event.type);
    return earlier.length > 0 && json({ ...event, id: dice.one(earlier).id });
  },
  repeatWithOtherContent(event, { dice, log }) {
    if (log.byId.size === 0) return undefined;
    const one = dice.one([...log.byId.values()]);
    return json({ ...one, keyed_at: one.keyed_at === undefined ? one.at : undefined });
  },
  halfABoutTime(event, { dice }) {
    if (hasNoBoutTime(event)) return undefined;
    return json({ ...without(event, "period", "t_ms"), [dice.one(["period", "t_ms"])]: 1 });
  },
  badBoutTime(event, { dice, details }) {
    if (hasNoBoutTime(event) || event.type === "bout") return undefined;
    return json({
      ...event,
      ...dice.one([
        { period: details.periods + 1, t_ms: 0 }, { period: 0, t_ms: 0 }, { period: -1, t_ms: 0 },
        { period: 1, t_ms: details.period_ms + 1 }, { period: 1, t_ms: -1 },
      ]),
    });
  },

  // Names of other events.
  namesNothing(event, { dice }) {
    const members = ["ref", "attack", "after", "of", "before"].filter((name) => has(event, name));
    if (members.length === 0) return undefined;
    return json({ ...event, [dice.one(members)]: dice.one(["no-such-event", event.id]) });
  },
  namesAnotherBout(event, { dice, log }) {
    const members = ["ref", "of", "before"].filter((name) => has(event, name));
    const foreign = [...log.byId.values()].filter(({ bout }) => bout !== event.bout);
    if (members.length === 0 || foreign.length === 0) return undefined;
    return json({ ...event, [dice.one(members)]: dice.one(foreign).id });
  },
  namesNoAttack(event, { dice, log }) {
    const member = { score: "attack", attack: "after" }[event.type];
    if (member === undefined) return undefined;
    const others = recordsOf(event, log).filter(({ type }) => type !== "attack");
    return json({ ...event, [member]: dice.one(others).id });
  },
};

const recordsOf = (event, log) => log.bouts.get(event.bout).map((record) => record.event);

// ---------------------------------------------------------------------------------------------
// Ways to spoil one type: members, any of which makes the event wrong. `undefined` takes one away.

const badWord = (member) =>
  ["", "nothing", "Start", "toString"].map((word) => ({ [member]: word }));
const badSide = ["green", "Red", "", "both"].map((side) => ({ side }));
const badName = (make) => ["", "Double", "double-leg", "x".repeat(41), "ä"].map(make);
const LONG = "🤼".repeat(101);

const WRONG = {
  bout: () => [
    { rules: "no-such-edition" }, { rules: "" }, { style: "no_style" }, { style: "toString" },
    { age_group: "u99" }, { age_group: "toString" }, { mat: 3 }, { mat: "" }, { mat: LONG },
    { weight: 57 }, { red: "Rot" }, { red: {} }, { red: { team: "AAA" } }, { red: { name: "" } },
    { blue: { name: "x", age: "17" } }, { blue: { name: "x", team: LONG } },
    { length: 3 }, { length: { minutes: 3 } }, { length: { periods: 0 } },
    { length: { periods: 10 } }, { length: { period_ms: 0 } }, { length: { period_ms: 3600001 } },
    { length: { break_ms: -1 } }, { length: { break_ms: 3600001 } },
  ],
  clock: (event, { details: { periods, period_ms } }) => [
    ...badWord("do"),
    ...[
      { do: "set" }, { do: "set", period: 1 }, { do: "set", t_ms: 1 }, { do: "start", t_ms: 1 },
      { do: "start", period: 1, t_ms: 1 }, { do: "stop", period: 1 }, { do: "stop", t_ms: 1 },
      { do: "end", period: 1, t_ms: 0 }, { do: "lost", period: 1 }, { do: "start", period: 0 },
      { do: "set", period: periods + 1, t_ms: 0 }, { do: "set", period: 1, t_ms: period_ms + 1 },
      { do: "start", period: periods + 1 },
    ].map((members) => ({ period: undefined, t_ms: undefined, ...members })),
  ],
  score: (event, { details: { edition } }) => [
    ...badSide, ...badWord("action"), ...badName((technique) => ({ technique })),
    { points: 0 }, { points: -1 }, { points: 6 }, { points: 4294967297 },
    { points: edition.values.includes(3) ? 4 : 3, action: "throw" }, { points: 1, action: "throw" },
    { points: 2, action: "step_out" }, { points: 5, action: "takedown" }, { leg: "left" },
  ],
  attack: () => [
    ...badSide, ...badWord("outcome"), ...badName((bad) => ({ techniques: ["x", bad] })),
    { techniques: [] }, { techniques: Array(9).fill("x") }, { techniques: "x" },
    { techniques: [1] }, { setup: Array(5).fill("x") }, { setup: "x" }, { stopped_by: "" },
    { leg: "both" },
  ],
  caution: () => [
    ...badSide, ...badName((reason) => ({ reason })), { points: 3 }, { points: -1 },
  ],
  passivity: (event, { details: { edition } }) => [
    ...badSide, ...badWord("stage"), { stage: "penalty", points: undefined },
    { stage: "penalty", points: 2 }, { stage: "warning", points: 0 },
    { stage: "activity", points: 1 },
    ...(edition.activity_ms ? [] : [{ stage: "activity", points: undefined }]),
  ],
  position: () => [
    ...badWord("position"), { position: "par_terre", top: undefined }, { top: "green" },
    { chosen_by: "green" },
  ],
  challenge: () => [
    ...badSide, ...badWord("outcome"), { outcome: "rejected", points: undefined },
    { outcome: "rejected", points: 2 }, { outcome: "asked", points: 0 },
    { outcome: "upheld", points: 1 },
  ],
  stoppage: () => [...badSide, ...badWord("kind"), ...badWord("do")],
  confirm: () => [{ ref: "" }, { ref: 1 }],
  void: (event, { log }) => [
    { ref: recordsOf(event, log)[0].id }, { why: "mistake" }, { why: "" },
  ],
  amend(event, { dice, log }) {
    const records = recordsOf(event, log);
    const target = records.find(({ id }) => id === event.ref);
    const fixed = records.filter(({ type }) =>
      ["bout", "void", "confirm", "amend", "restart"].includes(type));
    const invalid = {
      clock: { unset: ["do"] }, score: { set: { points: 17 } }, attack: { set: { techniques: [] } },
      caution: { unset: ["reason"] }, passivity: { unset: ["side"] },
      position: { unset: ["position"] }, challenge: { set: { points: 2 } },
      stoppage: { unset: ["kind"] }, close: { set: { how: "tiredness" } },
      note: { set: { text: "" } },
    }[target.type];
    return [
      { why: "sorry" },
      ...[
        {}, { set: {} }, { unset: [] }, { set: {}, unset: ["period", "t_ms"] },
        { set: { period: 1, t_ms: 0 }, unset: ["period"] }, { set: [] }, { set: "side" },
        { unset: "leg" }, { unset: [1] }, { unset: ["keyed_at"] }, { unset: ["colour"] },
        { set: { id: "other" } }, { set: { type: "note" } }, { set: { bout: event.bout } },
        { set: { at: event.at } }, { set: { keyed_at: event.at } }, { set: { seq: 1 } },
        { set: { by: "me" } }, { set: { colour: "blue" } }, { set: { side: "green" } },
        { set: { before: event.id } }, { set: { before: event.ref } },
        { ref: dice.one(fixed).id, set: { why: "keying" } }, invalid, invalid,
      ].map((members) => ({ set: undefined, unset: undefined, ...members })),
    ];
  },
  restart: () => [{ reason: "" }, { reason: 1 }],
  close: () => [
    ...badWord("how"), { how: "fall", winner: undefined }, { how: "both_injured", winner: "red" },
    { how: "points", winner: "nobody" }, { score: { red: 1 } }, { score: [1, 2] },
    { score: { red: 1, blue: 2, green: 0 } }, { score: { red: "1", blue: 2 } }, { code: "" },
    { code: 5 },
  ],
  note: () => [
    { side: "green" }, ...badWord("to"), { text: "" }, { text: "x".repeat(281) },
    { text: "🤼".repeat(281) },
  ],
  entry: () => [
    ...OF_NO_DAY, { minor: "yes" }, { consent: 1 }, { out: "no" }, { seed: "1" }, { name: 5 },
    { facts: "one" }, { facts: [1] }, { facts: Array(21).fill("x") }, { athlete: undefined },
  ],
  slot: () => [
    ...OF_NO_DAY, { rules: "no-such-edition" }, { order: "1" }, { red: {} }, { blue: "a" },
    { red: { athlete: "a", winner_of: "b" } }, { red: { athlete: 5 } }, { blue: { loser: "x" } },
    { slot: undefined },
  ],
  session: () => [...OF_NO_DAY, ...badWord("do"), { name: undefined }, { session: 3 }],
};

const OF_NO_DAY = [
  { bout: "bout-1" }, { period: 1, t_ms: 0 }, { period: 1 }, { unconfirmed: true },
];

// ---------------------------------------------------------------------------------------------

/** @param event one that would be accepted
 *  @param {{dice, log, details?}} known `details` of its bout, where it has one already
 *  @returns {{what: string, line: string|Buffer}} a line that must be refused in its place */
export function spoil(event, known) {
  const { dice, log } = known;
  for (;;) {
    const ofItsType = dice.chance(0.5);
    const what = ofItsType ? event.type : dice.one(Object.keys(OF_ANY_EVENT));
    const line = ofItsType
      ? json({ ...event, ...dice.one(WRONG[event.type](event, known)) })
      : OF_ANY_EVENT[what](event, known);
    if (!line) continue;
    // The reading must agree that it is wrong, or this file or the reading is.
    if (!isRefused(line, log)) throw new Error(`${what} is accepted: ${line}`);
    return { what, line };
  }
}

function isRefused(line, log) {
  if (typeof line !== "string") return true; // bytes that are no UTF-8 are no string
  try {
    log.check(line);
    return false;
  } catch {
    return true;
  }
}
