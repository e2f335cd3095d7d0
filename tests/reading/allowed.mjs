/* Sections 1, 2 and 5 of the contract, read as: what may an event be?
 * "Refused: whatever these tables don't allow".
 * Each rule stands beside the sentence that it restates (in quotation marks). */

import { Decimal, isObject } from "./json.mjs";

export class Refusal extends Error {}

export function refuse(reason) {
  throw new Refusal(reason);
}

// ---------------------------------------------------------------------------------------------
// Kinds of values: each takes a value and the place where it stands, and refuses or returns.

/** "Text is strings of 1–100 characters (code points) unless said" */
const textUpTo = (most) => (value, place) => {
  if (typeof value !== "string") refuse(`${place} is not a string`);
  const length = [...value].length;
  if (length < 1 || length > most) refuse(`${place} has ${length} characters, not 1 to ${most}`);
};
const text = textUpTo(100);

const oneOf = (...words) => (value, place) => {
  if (!words.includes(value)) refuse(`${place} is none of ${words.join(", ")}`);
};
/** "`side` is always `red` or `blue`" */
const side = oneOf("red", "blue");

/** "a number with a fraction or exponent where an integer is asked" is refused */
const integer = (least = -Infinity, most = Infinity) => (value, place) => {
  if (value instanceof Decimal) refuse(`${place} is written with a fraction or an exponent`);
  if (typeof value !== "number") refuse(`${place} is not an integer`);
  if (value < least || value > most) refuse(`${place} is not from ${least} to ${most}`);
};

/** "In events, a flag is `true` or left out." */
const flag = (value, place) => {
  if (value !== true) refuse(`${place} is not true`);
};
/** Of the types of the day: "`minor`, `consent` and `out` are true or false" */
const trueOrFalse = (value, place) => {
  if (typeof value !== "boolean") refuse(`${place} is neither true nor false`);
};

/** "1–64 of `A-Z a-z 0-9 . _ ~ : -`" */
const id = (value, place) => {
  if (typeof value !== "string" || !/^[A-Za-z0-9._~:-]{1,64}$/.test(value)) {
    refuse(`${place} is not 1 to 64 of the characters of an id`);
  }
};

/** "Technique, setup and reason names outside the catalogue are accepted if they match
 * `[a-z0-9_]{1,40}`": and those inside match too. */
const name = (value, place) => {
  if (typeof value !== "string" || !/^[a-z0-9_]{1,40}$/.test(value)) {
    refuse(`${place} is not 1 to 40 of a-z, 0-9 and _`);
  }
};

const listOf = (each, least, most) => (value, place) => {
  if (!Array.isArray(value)) refuse(`${place} is not an array`);
  if (value.length < least || value.length > most) {
    refuse(`${place} has ${value.length} items, not ${least} to ${most}`);
  }
  value.forEach((item, i) => each(item, `${place}/${i}`));
};

/** "Times of day are RFC 3339, UTC with `Z`, milliseconds" */
const time = (value, place) => {
  const form = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}\.\d{3}Z$/;
  // A day that the month does not have is carried over by Date, so it reads back differently.
  const exists = (given) => {
    const instant = new Date(given);
    return !Number.isNaN(instant.getTime()) && instant.toISOString() === given;
  };
  if (typeof value !== "string" || !form.test(value) || !exists(value)) {
    refuse(`${place} is not a time such as 2027-05-08T10:00:00.000Z`);
  }
};

/** An object of the named members, `must` or `may` have them. */
const objectOf = (members) => (value, place) => {
  if (!isObject(value)) refuse(`${place} is not an object`);
  for (const member of Object.keys(value)) {
    if (!Object.hasOwn(members, member)) refuse(`${place} has no member ${member}`);
    members[member].kind(value[member], `${place}/${member}`);
  }
  for (const [member, { required }] of Object.entries(members)) {
    if (required && value[member] === undefined) refuse(`${place} lacks ${member}`);
  }
};

const must = (kind) => ({ kind, required: true });
const may = (kind) => ({ kind, required: false });

// ---------------------------------------------------------------------------------------------
// Section 1: members of every event.

const COMMON = {
  id: must(id),
  type: must(text),
  at: must(time), // "required in a log"
  keyed_at: may(time),
  seq: may(integer()), // "`fold` ignores a `seq` that it reads (an integer)"
  by: may(text),
};
const OF_A_BOUT = {
  ...COMMON,
  bout: must(id), // "the bout's id, 1–64 of the same characters"
  period: may(integer(1)), // "period from 1"
  t_ms: may(integer(0)),
};

/** An amend's `set` may have any members that the type has, "but `id`, `type`, `bout`, `at`,
 * `keyed_at`, `seq`, `by`". */
export const NOT_AMENDABLE = ["id", "type", "bout", "at", "keyed_at", "seq", "by"];

// ---------------------------------------------------------------------------------------------
// Section 2: the types.

const athlete = objectOf({
  name: must(text), family: may(text), given: may(text), say: may(text), team: may(text),
  noc: may(text), athlete: may(text),
});
const sheetScore = objectOf({ red: must(integer(0)), blue: must(integer(0)) });
const why = oneOf("keying", "officials", "challenge");

const BOUT_TYPES = {
  bout: {
    rules: must(text), red: must(athlete), blue: must(athlete), mat: may(text), number: may(text),
    style: may(text), age_group: may(text), weight: may(text), stage: may(text), slot: may(text),
    // "`length?` `{periods?, period_ms?, break_ms?}` (1–9, 1–3600000, 0–3600000)"
    length: may(objectOf({
      periods: may(integer(1, 9)),
      period_ms: may(integer(1, 3600000)),
      break_ms: may(integer(0, 3600000)),
    })),
    call: may(flag), off: may(flag),
  },
  clock: { do: must(oneOf("start", "stop", "end", "set", "lost")) },
  score: {
    side: must(side), points: must(integer()), action: must(text), technique: may(name),
    leg: may(oneOf("lead", "trail")), attack: may(id), unconfirmed: may(flag), before: may(id),
  },
  attack: {
    side: must(side),
    techniques: must(listOf(name, 1, 8)), // "1–8 names"
    leg: may(oneOf("lead", "trail")),
    setup: may(listOf(name, 0, 4)), // "up to 4 names"
    outcome: must(oneOf("open", "scored", "stopped", "countered", "out", "stalemate", "slipped")),
    after: may(id), stopped_by: may(name),
  },
  caution: {
    side: must(side), reason: must(name), points: must(integer(0, 2)), unconfirmed: may(flag),
    before: may(id),
  },
  passivity: {
    side: must(side), stage: must(oneOf("warning", "activity", "penalty")),
    points: may(integer(0, 1)), unconfirmed: may(flag), before: may(id),
  },
  position: {
    position: must(oneOf("standing", "par_terre")), top: may(side), ordered: may(flag),
    chosen_by: may(side),
  },
  challenge: {
    side: must(side), outcome: must(oneOf("asked", "upheld", "rejected")), of: may(id),
    points: may(integer(0, 1)), before: may(id),
  },
  stoppage: {
    kind: must(oneOf("injury", "blood", "review", "conference", "other")), side: may(side),
    do: must(oneOf("start", "stop")),
  },
  confirm: { ref: may(id) },
  void: { ref: must(id), why: may(why) },
  amend: {
    ref: must(id), set: may((value, place) => isObject(value) || refuse(`${place} is no object`)),
    unset: may(listOf(text, 1, Infinity)), why: may(why),
  },
  restart: { reason: may(name) },
  close: {
    how: must(text), winner: may(side), score: may(sheetScore), code: may(text),
    unconfirmed: may(flag),
  },
  note: {
    text: must(textUpTo(280)), // "`text` (1–280 characters)"
    to: must(oneOf("booth", "public")), side: may(side),
  },
};

/** "each `{athlete}`, `{winner_of: SLOT}` or `{loser_of: SLOT}`" */
const comesFrom = (value, place) => {
  objectOf({ athlete: may(text), winner_of: may(text), loser_of: may(text) })(value, place);
  if (Object.keys(value).length !== 1) refuse(`${place} is not exactly one of the three`);
};

/** "Types of the day carry no `bout`"; "`seed` and `order` integers, `facts` an array of up to 20
 * strings; the rest strings"; "They carry no `period` and `t_ms`" */
const DAY_TYPES = {
  entry: {
    athlete: must(text), name: may(text), family: may(text), given: may(text), say: may(text),
    ipa: may(text), checked_by: may(text), team: may(text), noc: may(text), style: may(text),
    age_group: may(text), weight: may(text), seed: may(integer()),
    facts: may(listOf(text, 0, 20)), minor: may(trueOrFalse), consent: may(trueOrFalse),
    out: may(trueOrFalse),
  },
  slot: {
    slot: must(text), number: may(text), mat: may(text), order: may(integer()), stage: may(text),
    style: may(text), age_group: may(text), weight: may(text), rules: may(text),
    starts_at: may(text), red: may(comesFrom), blue: may(comesFrom),
  },
  session: {
    session: must(text), name: must(text), mat: may(text), do: must(oneOf("start", "stop")),
  },
};

export const isOfTheDay = (type) => Object.hasOwn(DAY_TYPES, type);

/** The members that a type has, the common ones included. */
export function membersOf(type) {
  if (isOfTheDay(type)) return { ...COMMON, ...DAY_TYPES[type] };
  return { ...OF_A_BOUT, ...BOUT_TYPES[type] };
}

// ---------------------------------------------------------------------------------------------
// Section 5: what a bout's details say.

/** What the latest `bout` event makes of a bout: its edition and its lengths.
 * "Without an `age_group`, `seniors` holds." "`length` overrides the edition's" */
export function detailsOf(bout, editions) {
  const edition = Object.hasOwn(editions, bout.rules) ? editions[bout.rules] : undefined;
  if (edition === undefined) refuse(`there is no edition ${bout.rules}`);
  const group = bout.age_group ?? "seniors";
  if (!Object.hasOwn(edition.age_groups, group)) refuse(`the edition has no age group ${group}`);
  const { periods, period_ms, break_ms, forced_call_ms } = edition.age_groups[group];
  return { edition, periods, period_ms, break_ms, forced_call_ms, ...bout.length };
}

// ---------------------------------------------------------------------------------------------
// What else the tables say of one type.

/** Each takes the event and `{editions, details, earlier}`: all editions, what the bout's details
 * are, and the earlier event of the bout with an id, if there is one. */
const MORE = {
  bout(event, { editions }) {
    const { edition } = detailsOf(event, editions);
    // "a `style` or `age_group` that the edition doesn't have" is refused
    if (event.style !== undefined && !edition.styles.includes(event.style)) {
      refuse(`the edition has no style ${event.style}`);
    }
  },

  /** "`period`, `t_ms` (required with `set`; `period` alone allowed with `start`; neither with
   * the others)" */
  clock(event) {
    const has = (member) => event[member] !== undefined;
    if (event.do === "set") {
      if (!has("period") || !has("t_ms")) refuse("a set needs period and t_ms");
    } else {
      if (has("t_ms")) refuse(`a ${event.do} has no t_ms`);
      if (has("period") && event.do !== "start") refuse(`a ${event.do} has no period`);
    }
  },

  /** "a score's `points` that the edition's values don't have or an `action` not of that value" */
  score(event, { details: { edition } }) {
    if (!edition.values.includes(event.points)) refuse(`no action gives ${event.points}`);
    if (!edition.actions[event.points]?.includes(event.action)) {
      refuse(`${event.action} is no action of ${event.points}`);
    }
  },

  /** "required with `penalty`, not allowed with the others" */
  passivity(event, { details: { edition } }) {
    if ((event.points !== undefined) !== (event.stage === "penalty")) {
      refuse("points come with a penalty, and with it alone");
    }
    // "stage `activity` in an edition without activity time"
    if (event.stage === "activity" && !edition.activity_ms) {
      refuse("the edition has no activity time");
    }
  },

  /** "`top?` (a side; required with `par_terre`)" */
  position(event) {
    if (event.position === "par_terre" && event.top === undefined) refuse("par_terre needs top");
  },

  /** "required with `rejected`, not allowed with the others" */
  challenge(event) {
    if ((event.points !== undefined) !== (event.outcome === "rejected")) {
      refuse("points come with a rejected challenge, and with it alone");
    }
  },

  /** "A `bout` event can't be voided or amended" */
  void(event, { earlier }) {
    if (earlier(event.ref)?.type === "bout") refuse("a bout event can't be voided");
  },

  /** "a `winner` where the ending has none or none where it has one" */
  close(event, { details: { edition } }) {
    if (!Object.hasOwn(edition.endings, event.how)) refuse(`there is no ending ${event.how}`);
    if ((event.winner !== undefined) !== edition.endings[event.how].has_winner) {
      refuse("the ending has a winner and none is named, or the reverse");
    }
  },
};

/** "A `ref`, `attack`, `after`, `of` or `before` must name an event of the same bout that is
 * earlier than the one that carries it (…; `attack` and `after`: an attack; …)" */
function checkNames(event, { earlier }) {
  for (const member of ["ref", "attack", "after", "of", "before"]) {
    if (event[member] === undefined) continue;
    const named = earlier(event[member]);
    if (named === undefined) refuse(`${member} names no earlier event of this bout`);
    if (["attack", "after"].includes(member) && named.type !== "attack") {
      refuse(`${member} names no attack`);
    }
  }
}

/** "`period`, `t_ms`: optional, together; not with `clock` (but see there)";
 * "a `period` beyond the bout's, a `t_ms` beyond the period's length" is refused */
function checkBoutTime(event, { details }) {
  const { period, t_ms } = event;
  if (event.type !== "clock" && (period === undefined) !== (t_ms === undefined)) {
    refuse("period and t_ms come together");
  }
  if (period > details.periods) refuse(`the bout has ${details.periods} periods`);
  if (t_ms > details.period_ms) refuse(`a period lasts ${details.period_ms} ms`);
}

// ---------------------------------------------------------------------------------------------

/** "an unknown type": known before anything else of the event is looked at. */
export function checkType(event) {
  if (!isObject(event)) refuse("not a JSON object");
  const { type } = event;
  if (type === undefined) refuse("the event lacks type");
  const known = typeof type === "string" &&
    (Object.hasOwn(BOUT_TYPES, type) || Object.hasOwn(DAY_TYPES, type));
  if (!known) refuse("there is no such type");
}

/** The form of an event, by itself: "a member that its type doesn't have or of another JSON type,
 * a missing required member" */
export function checkForm(event) {
  checkType(event);
  objectOf(membersOf(event.type))(event, event.type);
}

/** The rest of it, by its bout. An amended event is checked by this too, in full. */
export function checkInBout(event, context) {
  const details = event.type === "bout" ? detailsOf(event, context.editions) : context.details;
  checkNames(event, context);
  MORE[event.type]?.(event, { ...context, details });
  checkBoutTime(event, { details });
}

/** Types of the day: "`rules` must be a known edition, the other strings aren't checked" */
export function checkOfTheDay(event, editions) {
  if (event.rules !== undefined && !Object.hasOwn(editions, event.rules)) {
    refuse(`there is no edition ${event.rules}`);
  }
}

/** "an `amend` can't name a `void`, `confirm`, `amend` or `restart`", nor a `bout` */
export function checkAmend(amend, target) {
  if (["bout", "void", "confirm", "amend", "restart"].includes(target.type)) {
    refuse(`a ${target.type} can't be amended`);
  }
  const set = Object.keys(amend.set ?? {});
  const unset = amend.unset ?? [];
  // "at least one of the two, neither empty, no name in both"
  if (amend.set === undefined && amend.unset === undefined) refuse("neither set nor unset");
  if (amend.set !== undefined && set.length === 0) refuse("set is empty");
  if (set.some((member) => unset.includes(member))) refuse("a name in both set and unset");
  for (const member of [...set, ...unset]) {
    const has = Object.hasOwn(membersOf(target.type), member);
    if (!has || NOT_AMENDABLE.includes(member)) {
      refuse(`${member} of a ${target.type} can't be amended`);
    }
  }
}
