/* What an audience with a delay is shown, read a second time and in another way than the program
 * does it: not by hiding anything, but by putting each correction of a slip that came in time right
 * behind what it corrects. Source: docs/wire.md, "Delay". */

import { fileOf } from "./maker.mjs";
import { reading } from "./reading.mjs";

const NAMING = ["attack", "after", "of", "before"];
const ms = (time) => Date.parse(time);
const iso = (time_ms) => new Date(time_ms).toISOString();

/** The events of the file up to that time, each once, with the moment at which it counts. */
function eventsUntil(lines, until) {
  const events = [];
  const known = new Set();
  const clocks = new Map(); // by bout: the moment of its last clock event
  for (const line of lines) {
    if (/^[ \t\r]*$/.test(String(line))) continue;
    const event = JSON.parse(String(line));
    if (known.has(event.id)) continue;
    known.add(event.id);
    if (ms(event.at) > ms(until)) break;
    const keyed_ms = Math.min(ms(event.keyed_at ?? event.at), ms(event.at));
    const moment_ms = Math.max(keyed_ms, clocks.get(event.bout) ?? -Infinity);
    if (event.type === "clock") clocks.set(event.bout, moment_ms);
    events.push({ event, moment_ms });
  }
  return events;
}

class Delayed {
  constructor(events, until, delay_ms) {
    Object.assign(this, { events, until, delay_ms, placed: new Set(), log: [], moved: 0 });
  }

  due({ event, moment_ms }) {
    const lost = event.type === "clock" && event.do === "lost";
    return Math.max((lost ? moment_ms : ms(event.at)) + this.delay_ms, ms(event.at));
  }

  /** What corrects it as a slip or otherwise, and is there before that time. */
  correctionsOf(place, before_ms) {
    const { id } = this.events[place].event;
    return this.events.flatMap(({ event }, i) =>
      i > place && ["void", "amend"].includes(event.type) && event.ref === id
        && ms(event.at) < before_ms ? [i] : []);
  }

  isOfSlip(place) {
    return (this.events[place].event.why ?? "keying") === "keying";
  }

  isOut(place, before_ms) {
    return this.correctionsOf(place, before_ms).some((i) =>
      this.events[i].event.type === "void" && this.isOfSlip(i) && !this.isOut(i, before_ms));
  }

  put(place, moment_ms, at) {
    const { event } = this.events[place];
    this.placed.add(event.id);
    this.log.push(at ? { ...event, at, keyed_at: iso(moment_ms) } : event);
  }

  putBehind(place, before_ms) {
    const { event, moment_ms } = this.events[place];
    let amends = !this.isOut(place, before_ms);
    for (const i of this.correctionsOf(place, before_ms)) {
      const correction = this.events[i].event;
      if (this.isOut(i, before_ms)) continue;
      if (correction.type === "amend") {
        const names = NAMING.map((member) => correction.set?.[member]).filter(Boolean);
        amends &&= this.isOfSlip(i) && names.every((id) => this.placed.has(id));
        if (!amends) continue;
      } else if (!this.isOfSlip(i)) continue;
      this.put(i, moment_ms, event.at);
      this.moved++;
    }
  }

  /** The log as the audience may know it. */
  make() {
    let reached_ms = -Infinity;
    for (const [place, one] of this.events.entries()) {
      reached_ms = Math.max(reached_ms, this.due(one));
      if (reached_ms > ms(this.until)) break;
      if (this.placed.has(one.event.id)) continue;
      this.put(place);
      if (one.event.bout !== undefined) this.putBehind(place, reached_ms);
    }
    return this.log;
  }
}

/** @returns {undefined | {states: Object[], moved: number}} the states, without `seq`; undefined
 *  where a correction wouldn't be valid so early: then this way can't tell. `moved`: so many came
 *  early. */
export function delayedReading(lines, editions, { until, delay_ms }) {
  const delayed = new Delayed(eventsUntil(lines, until), until, delay_ms);
  const log = delayed.make();
  const { states, errors } = reading(fileOf(log.map((event) => JSON.stringify(event))), editions, {
    now: iso(ms(until) - delay_ms),
  });
  if (errors.length > 0) return undefined;
  return { states, moved: delayed.moved };
}
