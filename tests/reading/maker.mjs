/* Makes logs by chance, from a seed: several bouts interleaved, over every type of event.
 *
 * Most of a log reads like real bouts (a start, attacks, scores that finish them, confirmations,
 * a break, a close), because only then the deep states are reached; the odd things come in
 * between. In mode "valid" every line is one that the reading accepts. In mode "hostile" there are
 * lines among them that must be refused (spoiler.mjs), and no others are. */

import { NOT_AMENDABLE, checkForm, membersOf } from "./allowed.mjs";
import { Dice } from "./dice.mjs";
import { Log, standing } from "./reading.mjs";
import { spoil } from "./spoiler.mjs";

const SIDES = ["red", "blue"];
const TECHNIQUES = [
  "double_leg", "low_single", "high_crotch", "snap_down", "arm_drag", "gut_wrench", "leg_lace",
  "duck_under", "body_lock", "salto", "arm_throw", "home_made_9", "x",
];
const REASONS = ["fleeing_hold", "fleeing_mat", "fleeing_in_danger", "illegal_hold", "brutality",
  "other_7"];
const SETUPS = ["tie_up", "level_change", "push_pull", "own_setup"];
const DEFENCES = ["sprawl", "whizzer", "own_defence"];
const AWKWARD_TEXTS = [
  "Ünal Ö.", "李", "O\"B\\", "a/b", "🤼".repeat(100), "é".repeat(100), "tab\there", "z", "\u2028",
  "\u007f",
];

/** @param {number} seed
 *  @param {{editions: Object, events?: number, mode?: "valid"|"hostile"}} options
 *  @returns {{lines: (string|Buffer)[], bad: Map<number, string>}} the lines without their ends,
 *  and which of them (from 1) must be refused, with the name of what is wrong */
export function makeLog(seed, { editions, events = 120, mode = "valid" }) {
  return new Maker(seed, editions, mode).make(events);
}

/** The lines as a file: "\n" after each, some with a CR before it. */
export function fileOf(lines) {
  return Buffer.concat(lines.flatMap((line) => [Buffer.from(line), Buffer.from("\n")]));
}

class Maker {
  constructor(seed, editions, mode) {
    this.dice = new Dice(seed);
    this.editions = editions;
    this.hostile = mode === "hostile";
    this.log = new Log(editions);
    this.lines = [];
    this.bad = new Map();
    this.time = Date.parse("2027-05-08T10:00:00.000Z") + this.dice.integer(0, 20_000_000);
    this.names = 0;
    this.current = undefined; // the bout that is wrestled now, as far as the log is concerned
    // Some logs have bouts of seconds, so that whole bouts pass in few events.
    this.hurry = this.dice.one([1, 1, 4, 10]);
  }

  make(events) {
    for (let failures = 0; this.log.count < events;) {
      if (this.dice.chance(0.02)) this.lines.push(this.dice.one(["", " ", "\t", "\r", " \t \r"]));
      if (this.dice.chance(0.03) && this.#repeat()) continue;
      const event = this.#stamped(this.dice.chance(0.04) ? this.#ofTheDay() : this.#ofABout());
      if (event === undefined || !this.#isAccepted(event)) {
        if (++failures > events * 50) throw new Error("the maker finds no valid event");
        continue;
      }
      if (this.hostile && this.dice.chance(0.4)) this.#spoiled(event);
      this.#write(event);
      this.log.accept(event);
    }
    return { lines: this.lines, bad: this.bad };
  }

  // -------------------------------------------------------------------------------------------
  // Writing.

  #isAccepted(event) {
    try {
      this.log.check(JSON.stringify(event));
    } catch {
      return false;
    }
    return event.bout === undefined || event.type === "bout" || !this.#wouldBeStrange(event);
  }

  /** Whether an event would be left with members that no single event could have, which a void of
   * an amend can do: the contract says only of a few such what they mean. */
  #wouldBeStrange(event) {
    const records = [...this.log.bouts.get(event.bout), { event, moment: 0 }];
    const { edition } = this.#details(event.bout);
    return standing(records).some((stands) => {
      const has = (member) => stands[member] !== undefined;
      switch (stands.type) {
        case "clock":
          if (stands.do === "set") return !has("period") || !has("t_ms");
          return has("t_ms") || (has("period") && stands.do !== "start");
        case "position":
          if (stands.position === "par_terre" && !has("top")) return true;
          break;
        case "close":
          if (has("winner") !== edition.endings[stands.how]?.has_winner) return true;
          break;
      }
      return has("period") !== has("t_ms");
    });
  }

  #write(event) {
    this.lines.push(this.#text(event) + (this.dice.chance(0.03) ? "\r" : ""));
  }

  /** The same event is written in many ways. */
  #text(event) {
    const { dice } = this;
    const names = dice.chance(0.2) ? dice.shuffled(Object.keys(event)) : Object.keys(event);
    const ordered = Object.fromEntries(names.map((name) => [name, event[name]]));
    const text = JSON.stringify(ordered, undefined, dice.chance(0.1) ? " \t" : undefined)
      .replaceAll("\n", " ");
    if (dice.chance(0.05)) {
      return text.replace(/[\u0080-\uffff]/g,
        (unit) => `\\u${unit.charCodeAt(0).toString(16).padStart(4, "0")}`);
    }
    return dice.chance(0.05) ? text.replaceAll("/", "\\/") : text;
  }

  /** "The same id with the same content again … changes nothing" */
  #repeat() {
    const earlier = [...this.log.byId.values()];
    if (earlier.length === 0) return false;
    const event = { ...this.dice.one(earlier) };
    const moved = this.dice.integer(-3000, 900_000);
    if (this.dice.chance(0.5)) event.at = this.#clockTime(this.time + moved);
    if (this.dice.chance(0.3)) event.seq = this.dice.integer(1, 999);
    if (this.dice.chance(0.3)) event.by = "another desk";
    if (this.dice.chance(0.1)) delete event.at;
    this.#write(event);
    return true;
  }

  /** A line that must be refused, made of the next event or of another that could come. */
  #spoiled(next) {
    const another = this.dice.chance(0.6) ? this.#oneOfAnyType() : undefined;
    const event = another && this.#isAccepted(another) ? another : next;
    const { what, line } = spoil(event, {
      dice: this.dice,
      log: this.log,
      details: this.log.bouts.has(event.bout) ? this.#details(event.bout) : undefined,
    });
    this.lines.push(line);
    this.bad.set(this.lines.length, what);
  }

  // -------------------------------------------------------------------------------------------
  // Ids and times.

  #id() {
    this.names += 1;
    return this.dice.chance(0.03) ? `~${this.names}:${"x.y_z-".repeat(9)}` : `e${this.names}`;
  }

  #clockTime(ms) {
    return new Date(ms).toISOString();
  }

  #passTime() {
    const { dice } = this;
    const state = this.current && this.log.bouts.has(this.current) ? this.#state() : undefined;
    const step = {
      soon: () => dice.integer(200, 6000),
      atOnce: () => dice.integer(0, 200),
      later: () => dice.integer(6000, 30_000),
      muchLater: () => dice.integer(30_000, 400_000),
      aroundTheEnd: () => Math.max(0, (state?.clock.left_ms ?? 0) + dice.integer(-2000, 2000)),
      exactlyTheEnd: () => state?.clock.left_ms ?? 0,
      back: () => -dice.integer(1, 3000),
    }[dice.weighed({
      soon: 60, atOnce: 14, later: 12, muchLater: 2, aroundTheEnd: state?.phase === "live" ? 5 : 0,
      exactlyTheEnd: state?.phase === "live" ? 2 : 0, back: 3,
    })];
    this.time += Math.round(step() / (dice.chance(0.5) ? this.hurry : 1));
  }

  /** The event with what every event has. */
  #stamped(event) {
    if (event === undefined) return undefined;
    const { dice } = this;
    this.#passTime();
    const { type, bout, ...rest } = event;
    const common = { id: this.#id(), type };
    if (bout !== undefined) common.bout = bout;
    common.at = this.#clockTime(this.time);
    if (dice.chance(event.type === "clock" ? 0.4 : 0.2)) {
      const ago = dice.weighed({
        little: 60, more: 25, long: 8, ahead: 7,
      });
      common.keyed_at = this.#clockTime(this.time - {
        little: dice.integer(0, 900), more: dice.integer(900, 20_000),
        long: dice.integer(20_000, 300_000),
        ahead: -dice.integer(1, 5000),
      }[ago]);
    }
    if (dice.chance(0.1)) common.seq = dice.integer(0, 5000);
    if (dice.chance(0.1)) common.by = dice.one(["table 1", "daemon", ...AWKWARD_TEXTS]);
    if (bout !== undefined && type !== "clock" && type !== "bout" && dice.chance(0.08)) {
      Object.assign(common, this.#someBoutTime());
    }
    return { ...common, ...rest };
  }

  #someBoutTime() {
    const { dice } = this;
    const { periods, period_ms, forced_call_ms = 0 } = this.#details(this.current);
    const { clock } = this.#state();
    const period = dice.chance(0.7) ? Math.min(clock.period, periods) : dice.integer(1, periods);
    const t_ms = dice.chance(0.05) ? Math.min(forced_call_ms, period_ms)
      : this.#timeNear(clock.t_ms, period_ms);
    return { period, t_ms };
  }

  #timeNear(t_ms, period_ms) {
    const { dice } = this;
    const near = {
      before: () => t_ms - dice.integer(0, 15_000),
      after: () => t_ms + dice.integer(0, 15_000),
      same: () => t_ms,
      anywhere: () => dice.integer(0, period_ms),
      zero: () => 0,
      length: () => period_ms,
      almost: () => period_ms - 1,
    }[dice.weighed({ before: 40, after: 20, same: 10, anywhere: 10, zero: 4, length: 4,
      almost: 2 })]();
    return Math.max(0, Math.min(near, period_ms));
  }

  // -------------------------------------------------------------------------------------------
  // What stands, to choose by.

  #state() {
    return this.log.state(this.current, this.time);
  }

  #records() {
    return this.log.bouts.get(this.current).map(({ event }) => event);
  }

  #details(bout) {
    const details = this.log.bouts.get(bout).findLast(({ event }) => event.type === "bout").event;
    const edition = this.editions[details.rules];
    const group = edition.age_groups[details.age_group ?? "seniors"];
    return { edition, ...group, ...details.length };
  }

  /** Mostly one of the latest. */
  #recent(events) {
    if (events.length === 0) return undefined;
    return this.dice.chance(0.7) ? this.dice.one(events.slice(-6)) : this.dice.one(events);
  }

  // -------------------------------------------------------------------------------------------
  // The types of a bout.

  #ofABout() {
    const { dice } = this;
    const bouts = [...this.log.bouts.keys()];
    const over = this.current === undefined ||
      (this.#state().phase === "closed" && dice.chance(0.3));
    if (over && bouts.length < 6) return this.#newBout();
    if (dice.chance(0.01) && bouts.length < 6) return this.#newBout();
    if (bouts.length > 1 && dice.chance(0.08)) this.current = dice.one(bouts);

    const state = this.#state();
    const kind = dice.weighed(this.#weights(state));
    const made = this.#make(kind, state);
    return made && { bout: this.current, ...made };
  }

  /** What is likely to happen next. */
  #weights(state) {
    const seldom = {
      again: 1.2, restart: 0.35, note: 2, void: 4, amend: 4, confirm: 3, lost: 0.5, set: 1,
      end: 0.4, challenge: 1.2, stoppage: 1, position: 2, caution: 1.5, passivity: 2, attack: 1,
      score: 1, start: 1, stop: 1, close: 0.15,
    };
    const now = {
      called: { start: 25 },
      live: { attack: 22, score: 18, stop: 8, passivity: 12, caution: 4, confirm: 8, position: 3 },
      stopped: { start: 22, score: 4, confirm: 5, passivity: 3, caution: 2, position: 4,
        challenge: 4 },
      break: { start: 22, stop: 3, confirm: 3, challenge: 2, set: 2 },
      over: { close: 12, confirm: 6, challenge: 3, set: 2, stop: 2, void: 4 },
      closed: { close: 1 },
      off: { again: 15 },
    }[state.phase];
    return { ...seldom, ...now };
  }

  #make(kind, state) {
    switch (kind) {
      case "again": return this.#boutAgain();
      case "start": return this.#start(state);
      case "stop": case "end": case "lost": return { type: "clock", do: kind };
      case "set": return { type: "clock", do: "set", ...this.#someBoutTime() };
      case "score": return this.#score();
      case "attack": return this.#attack();
      case "caution": return this.#caution();
      case "passivity": return this.#passivity(state);
      case "position": return this.#position();
      case "challenge": return this.#challenge(state);
      case "stoppage": return this.#stoppage(state);
      case "confirm": return this.#confirm();
      case "void": return this.#void();
      case "amend": return this.#amend(state);
      case "restart": return this.#restart();
      case "close": return this.#close(state);
      case "note": return this.#note();
    }
    throw new Error(`the maker makes no ${kind}`);
  }

  /** Every type as often as another, without passing time. */
  #oneOfAnyType() {
    const { dice } = this;
    if (!this.log.bouts.has(this.current)) return undefined;
    const kind = dice.one([
      "again", "start", "set", "score", "attack", "caution", "passivity", "position", "challenge",
      "stoppage", "confirm", "void", "amend", "restart", "close", "note", "day",
    ]);
    const stamp = { id: this.#id(), at: this.#clockTime(this.time) };
    if (kind === "day") return { ...stamp, ...this.#ofTheDay() };
    const made = this.#make(kind, this.#state());
    return made && { ...stamp, bout: this.current, ...made };
  }

  #newBout() {
    const bout = this.dice.chance(0.1) ? `m~${this.log.bouts.size}:a.b_c-`
      : `bout-${this.log.bouts.size + 1}`;
    this.current = bout;
    return { bout, ...this.#detailsOfABout() };
  }

  #detailsOfABout() {
    const { dice } = this;
    const edition = this.editions[dice.one(Object.keys(this.editions))];
    const event = { type: "bout", rules: edition.name, red: this.#athlete(),
      blue: this.#athlete() };
    if (dice.chance(0.5)) event.mat = dice.one(["A", "B"]);
    if (dice.chance(0.3)) event.style = dice.one(edition.styles);
    if (dice.chance(0.5)) event.age_group = dice.one(Object.keys(edition.age_groups));
    for (const member of ["number", "weight", "stage", "slot"]) {
      if (dice.chance(0.2)) event[member] = dice.one(["57", "F 65", ...AWKWARD_TEXTS]);
    }
    const length = this.#length();
    if (length) event.length = length;
    if (dice.chance(0.1)) event.call = true;
    return event;
  }

  #length() {
    const { dice } = this;
    if (dice.chance(this.hurry === 1 ? 0.7 : 0.2)) return undefined;
    const length = {};
    if (dice.chance(0.4)) length.periods = dice.one([1, 2, 2, 3, 9]);
    if (dice.chance(0.8)) {
      length.period_ms = dice.one([10_000, 20_000, 45_000, 60_000, 119_999, 120_000, 120_001,
        180_000, 1]);
    }
    if (dice.chance(0.4)) length.break_ms = dice.one([0, 1, 5000, 30_000]);
    return Object.keys(length).length > 0 ? length : undefined;
  }

  #athlete() {
    const { dice } = this;
    const athlete = { name: dice.one(["Rot", "Blau", ...AWKWARD_TEXTS]) };
    for (const member of ["family", "given", "say", "team", "noc", "athlete"]) {
      if (dice.chance(0.1)) athlete[member] = dice.one(["AAA", ...AWKWARD_TEXTS]);
    }
    return athlete;
  }

  #boutAgain() {
    const { dice } = this;
    const last = this.#records().findLast(({ type }) => type === "bout");
    const { id, at, keyed_at, seq, by, bout, period, t_ms, off, call, ...details } = last;
    const again = dice.chance(0.3) ? this.#detailsOfABout() : { ...details };
    if (dice.chance(0.25)) again.off = true;
    if (dice.chance(0.25)) again.call = true;
    if (dice.chance(0.25)) again.mat = dice.one(["A", "C"]);
    if (dice.chance(0.2)) again.length = this.#length() ?? {};
    if (again.length && Object.keys(again.length).length === 0) delete again.length;
    return again;
  }

  #start(state) {
    const { dice } = this;
    const event = { type: "clock", do: "start" };
    const { periods } = this.#details(this.current);
    const next = Math.min(periods, state.clock.period + 1);
    if (state.phase === "break" ? dice.chance(0.9) : dice.chance(0.08)) event.period = next;
    else if (dice.chance(0.15)) event.period = dice.integer(1, periods);
    return event;
  }

  #withMaybe(event) {
    const { dice } = this;
    if (dice.chance(0.35)) event.unconfirmed = true;
    if (dice.chance(0.15)) event.before = this.#someBefore();
    if (event.before === undefined) delete event.before;
    return event;
  }

  /** Mostly an event that gives points, whether it stands or not. */
  #someBefore() {
    const giving = this.#records().filter(({ points }) => points > 0);
    return (this.dice.chance(0.85) ? this.#recent(giving) : this.#recent(this.#records()))?.id;
  }

  #score() {
    const { dice } = this;
    const { edition } = this.#details(this.current);
    const points = dice.one(dice.chance(0.7) ? edition.values.slice(0, 2) : edition.values);
    const action = dice.one(edition.actions[points]);
    const event = { type: "score", side: dice.one(SIDES), points, action };
    const attack = this.#recent(this.#records().filter(({ type }) => type === "attack"));
    if (attack && dice.chance(0.5)) {
      event.attack = attack.id;
      if (dice.chance(0.8)) event.side = attack.side;
    }
    if (dice.chance(0.5)) event.technique = dice.one(TECHNIQUES);
    if (dice.chance(0.3)) event.leg = dice.one(["lead", "trail"]);
    return this.#withMaybe(event);
  }

  #attack() {
    const { dice } = this;
    const event = {
      type: "attack", side: dice.one(SIDES), techniques: [dice.one(TECHNIQUES)],
      outcome: dice.weighed({ open: 30, scored: 15, stopped: 20, countered: 10, out: 8,
        stalemate: 5, slipped: 8 }),
    };
    while (dice.chance(0.2) && event.techniques.length < 8) {
      event.techniques.push(dice.one(TECHNIQUES));
    }
    if (dice.chance(0.4)) event.leg = dice.one(["lead", "trail"]);
    if (dice.chance(0.2)) event.setup = dice.some(SETUPS);
    if (dice.chance(0.15)) event.stopped_by = dice.one(DEFENCES);
    const earlier = this.#recent(this.#records().filter(({ type }) => type === "attack"));
    if (earlier && dice.chance(0.2)) event.after = earlier.id;
    return event;
  }

  #caution() {
    const { dice } = this;
    return this.#withMaybe({
      type: "caution", side: dice.one(SIDES), reason: dice.one(REASONS),
      points: dice.one([0, 1, 1, 1, 2, 2]),
    });
  }

  #passivity(state) {
    const { dice } = this;
    const { edition } = this.#details(this.current);
    const activity = edition.activity_ms ? (state.phase === "live" ? 12 : 3) : 0;
    const stage = dice.weighed({ warning: 3, activity, penalty: 3 });
    const event = { type: "passivity", side: dice.one(SIDES), stage };
    if (stage === "penalty") {
      event.points = dice.chance(0.85) ? 1 : 0;
      if (state.activity && dice.chance(0.7)) event.side = state.activity.side;
    }
    return this.#withMaybe(event);
  }

  #position() {
    const { dice } = this;
    const event = { type: "position", position: dice.one(["standing", "par_terre"]) };
    if (event.position === "par_terre") event.top = dice.one(SIDES);
    if (dice.chance(0.3)) event.ordered = true;
    if (dice.chance(0.2)) event.chosen_by = dice.one(SIDES);
    return event;
  }

  #challenge(state) {
    const { dice } = this;
    const open = SIDES.filter((side) => state.challenge[side].open !== undefined);
    const event = { type: "challenge", side: dice.one(SIDES), outcome: "asked" };
    if (open.length > 0 && dice.chance(0.8)) event.side = dice.one(open);
    const ends = dice.chance(open.length > 0 ? 0.8 : 0.2);
    if (ends) event.outcome = dice.one(["upheld", "rejected"]);
    if (event.outcome === "rejected") event.points = dice.chance(0.85) ? 1 : 0;
    if (dice.chance(0.5)) event.of = this.#recent(this.#records()).id;
    if (dice.chance(0.1)) event.before = this.#someBefore();
    if (event.before === undefined) delete event.before;
    return event;
  }

  #stoppage(state) {
    const { dice } = this;
    const event = {
      type: "stoppage", kind: dice.one(["injury", "blood", "review", "conference", "other"]),
      do: dice.chance(state.stoppage ? 0.7 : 0.1) ? "stop" : "start",
    };
    if (dice.chance(0.5)) event.side = dice.one(SIDES);
    return event;
  }

  #confirm() {
    const unconfirmed = this.#records().filter((event) => event.unconfirmed);
    if (this.dice.chance(0.4)) return { type: "confirm" };
    const named = this.dice.chance(0.85) ? this.#recent(unconfirmed)
      : this.#recent(this.#records());
    return named && { type: "confirm", ref: named.id };
  }

  #void() {
    const { dice } = this;
    const records = this.#records();
    const named = {
      any: () => this.#recent(records.filter(({ type }) => type !== "bout")),
      ofVoid: () => this.#recent(records.filter(({ type }) => type === "void")),
      ofPoints: () => this.#recent(records.filter(({ points }) => points > 0)),
      ofClock: () => this.#recent(records.filter(({ type }) => type === "clock")),
      ofAmend: () => this.#recent(records.filter(({ type }) => type === "amend")),
      ofRestart: () => this.#recent(records.filter(({ type }) => type === "restart")),
      ofClose: () => this.#recent(records.filter(({ type }) => type === "close")),
    }[dice.weighed({ any: 4, ofVoid: 3, ofPoints: 4, ofClock: 1, ofAmend: 2, ofRestart: 4,
      ofClose: 1 })]();
    if (named === undefined) return undefined;
    const event = { type: "void", ref: named.id };
    if (dice.chance(0.4)) event.why = dice.one(["keying", "officials", "challenge"]);
    return event;
  }

  /** The members of another event of the same type, set or taken away. */
  #amend(state) {
    const { dice } = this;
    const fixed = ["bout", "void", "confirm", "amend", "restart"];
    const amendable = this.#records().filter(({ type }) => !fixed.includes(type));
    const target = this.#recent(dice.chance(0.5) ? amendable.filter(({ type }) => type === "score")
      : amendable);
    if (target === undefined) return undefined;

    const kind = target.type === "clock" ? dice.one(["start", "stop", "end", "set"]) : target.type;
    const like = this.#make(kind, state);
    const event = { type: "amend", ref: target.id };
    const set = {};
    for (const member of dice.some(Object.keys(like ?? {}))) {
      if (member !== "type") set[member] = like[member];
    }
    if (target.type === "score" && (set.points || set.action)) {
      Object.assign(set, { points: like.points, action: like.action });
    }
    if (target.type !== "clock" && dice.chance(0.1)) Object.assign(set, this.#someBoutTime());
    if (["score", "caution", "passivity", "challenge"].includes(target.type) && dice.chance(0.15)) {
      set.before = this.#someBefore();
    }
    if (set.before === undefined) delete set.before;
    const required = ["side", "points", "action", "techniques", "outcome", "reason", "stage",
      "position", "kind", "do", "how", "text", "to"];
    const optional = Object.keys({ ...target, ...like, technique: 0 }).filter((member) =>
      ![...NOT_AMENDABLE, ...required].includes(member) && !(member in set));
    const unset = dice.chance(0.3) && optional.length > 0 ? dice.some(optional) : [];
    if (unset.includes("period") || unset.includes("t_ms")) {
      unset.push(...["period", "t_ms"].filter((member) => !(member in set)));
    }
    if (target.stage === "penalty" && set.stage && set.stage !== "penalty") unset.push("points");
    if (target.type === "challenge" && target.outcome === "rejected") {
      if (["asked", "upheld"].includes(set.outcome)) unset.push("points");
    }
    if (Object.keys(set).length > 0) event.set = set;
    if (unset.length > 0) event.unset = [...new Set(unset)];
    if (event.set && event.unset) for (const member of event.unset) delete event.set[member];
    if (event.set && Object.keys(event.set).length === 0) delete event.set;
    if (dice.chance(0.4)) event.why = dice.one(["keying", "officials", "challenge"]);
    return event;
  }

  #restart() {
    const event = { type: "restart" };
    if (this.dice.chance(0.5)) event.reason = "wrong_colours";
    return event;
  }

  #close(state) {
    const { dice } = this;
    const { edition } = this.#details(this.current);
    const leader = state.leader?.side;
    const event = { type: "close" };
    if (dice.chance(0.75) && leader) {
      const fewerCautions = state.due_against?.[0] === "red" ? "blue" : "red";
      event.how = { superiority: "superiority", cautions: "cautions", time: "points" }[state.due] ??
        dice.one(["fall", "points", "injury"]);
      event.winner = state.due === "cautions" ? fewerCautions : leader;
    } else {
      event.how = dice.one(Object.keys(edition.endings));
      if (edition.endings[event.how].has_winner) event.winner = dice.one(SIDES);
    }
    if (dice.chance(0.4)) {
      event.score = { ...state.score };
      if (dice.chance(0.15)) event.score[dice.one(SIDES)] += 1;
    }
    if (dice.chance(0.3)) event.code = dice.one(["VPO", "VPO1", "VSU", "VSU1", "VFA", "2DSQ",
      "XX"]);
    if (dice.chance(0.3)) event.unconfirmed = true;
    return event;
  }

  #note() {
    const { dice } = this;
    const event = {
      type: "note",
      text: dice.one(["He looks tired.", "🤼".repeat(280), ...AWKWARD_TEXTS]),
      to: dice.one(["booth", "public"]),
    };
    if (dice.chance(0.3)) event.side = dice.one(SIDES);
    return event;
  }

  // -------------------------------------------------------------------------------------------
  // The types of the day.

  #ofTheDay() {
    const { dice } = this;
    const athlete = () => dice.one(["a1", "a2", ...AWKWARD_TEXTS]);
    const event = {
      entry: () => ({
        type: "entry", athlete: athlete(), name: "Rot", seed: dice.integer(-1, 8),
        minor: dice.chance(0.5), consent: dice.chance(0.5), out: dice.chance(0.5),
        facts: ["Won in 2026.", "Left-handed."].slice(0, dice.integer(0, 2)),
        style: "no style at all", age_group: "u99", ipa: "ə", checked_by: "desk",
      }),
      slot: () => ({
        type: "slot", slot: dice.one(["F57-1", "F57-2"]), order: dice.integer(0, 50),
        rules: dice.one(Object.keys(this.editions)),
        starts_at: "after lunch", mat: "A", red: { athlete: athlete() },
        blue: { winner_of: "F57-9" },
      }),
      session: () => ({ type: "session", session: "s1", name: "Morning", mat: "A",
        do: dice.one(["start", "stop"]) }),
    }[dice.one(["entry", "slot", "session"])]();
    for (const member of Object.keys(event)) {
      if (!membersOf(event.type)[member].required && dice.chance(0.5)) delete event[member];
    }
    if (event.blue && dice.chance(0.3)) event.blue = { loser_of: "F57-3" };
    checkForm({ ...event, id: "x", at: "2027-05-08T10:00:00.000Z" });
    return event;
  }
}
