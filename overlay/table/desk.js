/**
 * A desk that keys: one mat's topic, what this page has keyed on top of it, and the strokes between.
 * The table is one, the booth of somebody who works alone is another.
 *
 *     const desk = new Desk({ line, say });
 *     desk.take(topicState);                    each time that the topic has a new version
 *     desk.addEventListener("change", draw);
 *     desk.give({ do: "whistle" });             a stroke; what it sends goes out at once
 *
 * Nothing is lost silently: an event waits until the daemon has acknowledged it, and one that the
 * daemon refuses is kept under `problems` with its reason until somebody has seen it. */

import { activityLeft, clockNow, forcedCallLeft } from "../lib/clock.js";
import { newId } from "../lib/id.js";
import { TECHNIQUES } from "../lib/techniques.js";
import { fieldOf } from "./field.js";
import { rowsOf, stillOwn, withOwnClock } from "./ledger.js";
import { techniquesOf } from "./options.js";
import { NOTHING, stroke } from "./strokes.js";

const EDITIONS_AGAIN_MS = 5000;

export class Desk extends EventTarget {
    #line;
    #say;
    #own = [];
    #mine = new Set();
    #bout;
    #events = {};

    /** What the daemon says of the bout, or undefined. */
    view;
    /** The strokes so far (strokes.js). */
    strokes = NOTHING;
    /** The editions that the daemon knows. */
    editions = [];
    /** Events that were refused: `{event, detail}`, oldest first. */
    problems = [];
    /** The keys by their place, of the bout's edition. */
    field = new Map();

    constructor({ line, say }) {
        super();
        this.#line = line;
        this.#say = say;
        line.addEventListener("change", () => this.#adopt());
        line.addEventListener("problem", ({ detail }) => this.#problem(undefined, detail));
        this.#adopt();
    }

    /** Asks the daemon for its editions, again and again until it answers. */
    async loadEditions(address = new URL("../api/v1/rules", import.meta.url)) {
        try {
            const answer = await fetch(address);
            if (!answer.ok) throw new Error(answer.statusText);
            this.editions = await answer.json();
            this.#layOut();
            this.#tell();
        } catch {
            setTimeout(() => this.loadEditions(address), EDITIONS_AGAIN_MS);
        }
    }

    /** A new version of the mat's topic. Another bout begins with nothing struck. */
    take(state) {
        const { bout, events } = state;
        this.#events = events ?? {};
        if (bout?.bout !== this.#bout?.bout) this.strokes = NOTHING;
        const relaid = bout?.details.rules !== this.#bout?.details.rules;
        this.#bout = bout;
        this.view = bout;
        if (bout) this.#own = stillOwn(this.#own, bout.seq).filter(({ event, seq }) =>
            seq === undefined || event.bout === bout.bout);
        if (relaid) this.#layOut();
        this.#tell();
    }

    get edition() {
        return this.editions.find(({ name }) => name === this.#bout?.details.rules);
    }

    get waiting() {
        return this.#line.waiting;
    }

    /** All that the grammar and the words need, as of now. */
    get context() {
        const at_ms = this.#line.now();
        const own = this.#own.filter(({ event }) =>
            event.bout === this.#bout.bout && event.type !== "bout");
        const view = withOwnClock(this.#bout, own);
        const clock = clockNow(view, at_ms);
        return {
            view, edition: this.edition, rows: rowsOf(this.#events, own, this.#mine),
            techniques: techniquesOf(TECHNIQUES, view.details.style), say: this.#say, newId,
            now: {
                at_ms, period: clock.period, t_ms: Math.round(clock.t_ms), left_ms: clock.left_ms,
                running: clock.running, activity: activityLeft(view, at_ms),
                forced_call_left_ms: forcedCallLeft(view, at_ms),
                ...(this.#line.clockError_ms === undefined ? {} : { keyed_at: this.#line.stamp() }),
            },
        };
    }

    /** A stroke. What it opens (a form, say) is told by an "effect". */
    give(input) {
        if (!this.#bout || !this.edition) return;
        const { context } = this;
        const { state, events, effects } = stroke(this.strokes, input, context);
        this.strokes = state;
        for (const event of events) this.#send(event, context.now);
        for (const effect of effects) this.dispatchEvent(new CustomEvent("effect", { detail: effect }));
        this.#tell();
    }

    /** An event that a form made: what every event carries is added. */
    send(event) {
        const { now } = this.#bout ? this.context : { now: {} };
        const { keyed_at } = now;
        const whole = { id: newId(), bout: this.#bout?.bout, ...event, ...(keyed_at ? { keyed_at } : {}) };
        const ofThisBout = this.edition && whole.bout === this.#bout?.bout && whole.type !== "bout";
        if (ofThisBout) return this.give({ do: "event", event: whole });
        this.#send(whole, now);
        return this.#tell();
    }

    /** A refusal has been seen. */
    dismiss() {
        this.problems = [];
        this.#tell();
    }

    #send(event, now) {
        const entry = { event, period: now.period, t_ms: now.t_ms };
        this.#mine.add(event.id);
        this.#own.push(entry);
        this.#await(entry);
    }

    #await(entry) {
        this.#line.send(entry.event).then(
            ({ seq }) => this.#acknowledged(entry, seq),
            ({ problem, message }) => this.#refused(entry, problem ?? { detail: message }));
    }

    #acknowledged(entry, seq) {
        entry.seq = seq;
        if (this.#bout) this.#own = stillOwn(this.#own, this.#bout.seq);
        if (entry.event.type === "bout") this.#own = this.#own.filter((one) => one !== entry);
        this.#tell();
    }

    #refused(entry, problem) {
        this.#own = this.#own.filter((one) => one !== entry);
        this.#problem(entry.event, problem);
    }

    /* What is tried again and again, as while the disk is full, is said once. */
    #problem(event, { id, detail, title }) {
        const problem = { event, id: event?.id ?? id, detail: detail ?? title };
        const same = (one) => one.id === problem.id && one.detail === problem.detail;
        this.problems = [...this.problems.filter((one) => !same(one)), problem];
        this.#tell();
    }

    /** What an earlier life of this page left waiting is ours again, so that its answer is heard. */
    #adopt() {
        for (const event of this.#line.waitingEvents) {
            if (this.#mine.has(event.id)) continue;
            const entry = { event };
            this.#mine.add(event.id);
            this.#own.push(entry);
            this.#await(entry);
        }
        this.#tell();
    }

    #layOut() {
        const { edition } = this;
        this.field = new Map((edition ? fieldOf(edition) : []).map((key) => [key.code, key]));
    }

    #tell() {
        this.dispatchEvent(new Event("change"));
    }
}
