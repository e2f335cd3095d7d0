/* A page's line to the daemon: topics in, events out, and the daemon's clock.
 *
 *     const line = connect({audience: "desk", outbox: "table"});
 *     line.follow("mat/A/table", (state) => draw(state));
 *     line.addEventListener("change", () => showLine(line.connected, line.trust, line.waiting));
 *     await line.send({id: newId(), type: "score", …});       rejected with a Refusal
 *     await line.act("main", {take: {panel: "who"}});         the same; never kept for later
 *     clockNow(view, line.now());
 *
 * Normal course: open, hello, subscribe with the last version seen, take what was missed as patches
 * or a snapshot, send what waits in the outbox, measure the clock.
 * Failing: the line breaks, or is silent for so long that it must be broken; the page keeps its
 * last state, `trust` falls with the silence, and the line is tried again with full jitter, so that
 * a hall full of pages doesn't come back all at once. A patch that doesn't fit what we have makes
 * us ask for a snapshot. The page never has to do anything.
 * Refused: where a key is needed, or ours has ended, `access` says which, what was keyed waits, and
 * the line is tried again more and more slowly, until it opens or the page's address has another
 * key. */

import { hasKey, pageKey, refusalOf } from "./access.js";
import { Acts } from "./acts.js";
import { bestSample, clockSample, keepSample, SAMPLES_KEPT } from "./clock-sync.js";
import { mergePatch } from "./merge-patch.js";
import { browserStore, memoryStore, Outbox } from "./outbox.js";
import { ownName } from "./own-name.js";

export { Refusal } from "./outbox.js";

/** What an audience can expect: the longest pause between two tries, how much silence makes the
 *  clock unsure and hidden, and how much breaks the line. The daemon beats every second for desks
 *  and screens, every 15 s for viewers. */
export const AUDIENCES = {
    desk: { retry_ms_max: 15000, unsure_ms: 3000, hidden_ms: 10000, broken_ms: 10000 },
    viewer: { retry_ms_max: 30000, unsure_ms: 30000, hidden_ms: 60000, broken_ms: 45000 },
};

const RETRY_FIRST_MS = 500;
const CLOCK_EVERY_MS = 30000;
const AGAIN_MS = 2000; /* after the daemon could not take an event, until it gets it again */

/** How long to wait before a try: anything up to a bound that doubles (full jitter).
 *  @param {number} tries  tries that failed since the line last worked
 *  @param {number} most_ms
 *  @param {() => number} random
 *  @returns {number} */
export function retryDelay(tries, most_ms, random = Math.random) {
    return random() * Math.min(most_ms, RETRY_FIRST_MS * 2 ** tries);
}

/** How far a state can be trusted after so much silence.
 *  @param {number} silent_ms  since the last word from the daemon; Infinity before the first
 *  @param {{unsure_ms: number, hidden_ms: number}} audience
 *  @returns {"sure" | "unsure" | "hidden"} */
export function trustAfter(silent_ms, { unsure_ms, hidden_ms }) {
    if (silent_ms >= hidden_ms) return "hidden";
    return silent_ms >= unsure_ms ? "unsure" : "sure";
}

/** Where a page's daemon listens: the page's own origin and base path.
 *  @param {string} [module]  this module's own address, which is BASE/lib/connection.js
 *  @returns {string} */
export function wireAddress(module = import.meta.url) {
    const address = new URL("../ws", module);
    address.protocol = address.protocol === "https:" ? "wss:" : "ws:";
    return address.href;
}

/** Milliseconds since 1970 on this machine's clock, but never going backwards: the clock may be set
 *  while we measure. */
const localNow = () => performance.timeOrigin + performance.now();

/** Events: "change" (connected, access, granted, trust or waiting changed), "problem" (`detail`: one that settles
 *  no event of ours: a topic we may not have, a disk that is full). */
export class Connection extends EventTarget {
    #options;
    #audience;
    #outbox;
    #acts = new Acts();
    #socket;
    #topics = new Map(); /* topic → {epoch?, seq?, state?, listeners: Set} */
    #tries = 0;
    #heard_ms = -Infinity;
    #trust = "hidden";
    #samples = [];
    #guess_ms = 0;
    #asked = new Map(); /* t0_ms as sent → the exact t0 */
    #refusal; /* of our key, or of our having none */
    #barred = new Set(); /* topics that our key doesn't open */
    #timers = new Set();
    #again; /* the timer of the next try */
    #closed = false;

    constructor({
        audience = "desk",
        outbox,
        key,
        address = wireAddress(),
        makeSocket = (url) => new WebSocket(url, "boutwire.v1"),
        store,
        now = localNow,
        random = Math.random,
    } = {}) {
        super();
        this.#options = { address, makeSocket, key, now, random };
        this.#audience = AUDIENCES[audience];
        const place = store ?? (outbox ? browserStore(ownName(`boutwire-${outbox}`)) : memoryStore());
        this.#outbox = new Outbox(place, () => this.#tell());
        this.#every(250, () => this.#watch());
        this.#every(CLOCK_EVERY_MS, () => this.#measure());
        this.#open();
    }

    /** Whether the line is up and the daemon has spoken on it. */
    connected = false;

    /** What keeps us from what we ask for.
     *  @returns {import("./access.js").Access} */
    get access() {
        return this.#refusal ?? (this.#barred.size ? "forbidden" : "open");
    }

    /** What the daemon has answered to our greeting: {role, mat?, name?, until?}. */
    granted;

    /** "sure", "unsure" or "hidden": what the daemon's silence makes of a running clock. */
    get trust() {
        return this.#trust;
    }

    /** How many events the daemon has not answered yet. */
    get waiting() {
        return this.#outbox.waiting;
    }

    /** The events that wait, oldest first: for a page that lists what it has keyed. */
    get waitingEvents() {
        return this.#outbox.events;
    }

    /** Milliseconds since 1970 on the daemon's clock, as well as this page knows it. */
    now() {
        const best = bestSample(this.#samples);
        return this.#options.now() + (best ? best.offset_ms : this.#guess_ms);
    }

    /** How well it knows it: at most this far off, or undefined before the first answer. */
    get clockError_ms() {
        const best = bestSample(this.#samples);
        return best && best.round_trip_ms / 2;
    }

    /** The daemon's now, as an event's `keyed_at` is written. */
    stamp() {
        return new Date(Math.round(this.now())).toISOString();
    }

    /** Follows a topic. `listener` gets each version's state, the first as soon as there is one,
     *  and must not change it. Several listeners of one topic share it.
     *  @param {string} topic
     *  @param {(state: object, about: {fresh: boolean}) => void} listener  `fresh`: a snapshot
     *  @returns {() => void} ends it */
    follow(topic, listener) {
        const known = this.#topics.get(topic);
        const entry = known ?? { listeners: new Set() };
        entry.listeners.add(listener);
        if (known?.state) listener(known.state, { fresh: true });
        if (!known) {
            this.#topics.set(topic, entry);
            this.#say({ subscribe: [{ topic }] });
        }
        return () => this.#leave(topic, listener);
    }

    /** Sends an event, now or as soon as the line is back.
     *  @param {object} event  complete, with its `id`; not to be changed afterwards
     *  @returns {Promise<{id: string, seq: number}>} */
    send(event) {
        return this.#outbox.add(event);
    }

    /** Does something to an output (docs/wire.md, "Producing"). Needs the line to be up.
     *  @param {string} output
     *  @param {object} action  `{take: {…}}`
     *  @returns {Promise<{do: string, output: string, version: number}>} rejected with a Refusal;
     *      its `problem` says `unsent` where there is no line, `unknown` where it broke meanwhile */
    act(output, action) {
        return this.#acts.begin((id) => this.#say({ output, do: action, id }));
    }

    /** Lets go of somebody who is connected, and ends their key. The gallery's topic shows it.
     *  @param {string} connected  a number of that topic
     *  @returns {boolean} whether it was sent */
    cutOff(connected) {
        return this.#say({ cut: { connected } });
    }

    /** Goes on with another key: the page's address has got a new one.
     *  @param {string} key */
    useKey(key) {
        this.#options.key = key;
        this.#tries = 0;
        clearTimeout(this.#again);
        if (this.#socket?.readyState === 0) return; /* it greets with this key when it opens */
        if (this.#socket) this.#break();
        else this.#open();
    }

    /** What booth and gallery say to each other, `{say: {to, mat, text}}` or `{seen: number}`
     *  (docs/wire.md, "Talk"). The topics show it; it is never kept for later.
     *  @param {object} message
     *  @returns {boolean} whether it was sent */
    talk(message) {
        return this.#say(message);
    }

    /** Ends it for good. What waits stays in the browser's store. */
    close() {
        this.#closed = true;
        for (const timer of this.#timers) clearInterval(timer);
        this.#socket?.close();
    }

    #open() {
        if (this.#closed) return;
        const socket = this.#options.makeSocket(this.#options.address);
        const opened_ms = this.#options.now();
        this.#socket = Object.assign(socket, { opened_ms });
        socket.onopen = () => this.#greet(socket);
        socket.onmessage = ({ data }) => this.#socket === socket && this.#hear(JSON.parse(data));
        socket.onclose = () => this.#socket === socket && this.#lost();
    }

    #greet(socket) {
        const { key } = this.#options;
        this.#barred.clear();
        this.#say({ hello: key ? { key } : {} });
        const wanted = [...this.#topics].map(([topic, { epoch, seq }]) =>
            epoch === undefined ? { topic } : { topic, epoch, seq },
        );
        if (wanted.length) this.#say({ subscribe: wanted });
        this.#outbox.opened((event) => this.#socket === socket && this.#say({ event }));
        this.#samples = []; /* a machine that slept may have lost its count */
        this.#measure();
    }

    #lost() {
        this.#socket = undefined;
        this.#outbox.closed();
        this.#acts.lost();
        this.#asked.clear();
        this.connected = false;
        this.#tell();
        const delay = retryDelay(this.#tries, this.#audience.retry_ms_max, this.#options.random);
        this.#tries += 1;
        if (!this.#closed) this.#again = setTimeout(() => this.#open(), delay);
    }

    #say(message) {
        if (this.#socket?.readyState !== 1) return false;
        this.#socket.send(JSON.stringify(message));
        return true;
    }

    #hear(message) {
        this.#heard_ms = this.#options.now();
        if ("hello" in message) return this.#takeHello(message.hello);
        const ours = "problem" in message && this.#acts.refused(message.problem);
        if ("problem" in message && refusalOf(message.problem))
            return this.#takeRefusal(message.problem);
        this.#tries = 0;
        if (!this.connected) {
            this.connected = true;
            this.#tell();
        }
        this.#watch();
        if ("state" in message) this.#takeState(message);
        else if ("patch" in message) this.#takePatch(message);
        else if ("ack" in message) this.#outbox.acknowledged(message.ack);
        else if ("done" in message) this.#acts.done(message.done);
        else if ("clock" in message) this.#takeClock(message.clock);
        else if ("beat" in message) this.#guess_ms = Date.parse(message.beat.now) - this.#heard_ms;
        else if ("problem" in message && !ours) this.#takeProblem(message.problem);
    }

    /* It says who we are, not yet that what we ask for is open to us. */
    #takeHello(hello) {
        this.granted = hello;
        if (hello.role !== "public") this.#refusal = undefined;
        this.#tell();
    }

    /* Our key opens nothing, or not this. What is keyed stays until one does. */
    #takeRefusal(problem) {
        const refusal = refusalOf(problem);
        if (refusal === "forbidden") this.#barred.add(problem.detail);
        else this.#refusal = refusal;
        this.#outbox.refused(problem);
        this.#tell();
    }

    #takeState({ topic, epoch, seq, state }) {
        const entry = this.#topics.get(topic);
        if (entry) this.#publish(Object.assign(entry, { epoch, seq, state }), true);
    }

    #takePatch({ topic, epoch, from, seq, patch }) {
        const entry = this.#topics.get(topic);
        if (!entry || (epoch === entry.epoch && seq <= entry.seq))
            return; /* left, or seen before */
        if (epoch !== entry.epoch || from !== entry.seq) {
            Object.assign(entry, { epoch: undefined, seq: undefined });
            this.#say({ unsubscribe: [topic] });
            this.#say({ subscribe: [{ topic }] });
            return;
        }
        this.#publish(Object.assign(entry, { seq, state: mergePatch(entry.state, patch) }), false);
    }

    #publish(entry, fresh) {
        for (const listener of [...entry.listeners]) listener(entry.state, { fresh });
    }

    #takeProblem(problem) {
        const answer = this.#outbox.refused(problem);
        if (answer === "kept") setTimeout(() => this.#outbox.again(), AGAIN_MS);
        if (answer === "settled") return;
        this.dispatchEvent(new CustomEvent("problem", { detail: problem }));
    }

    /* Eight samples, one after the other: in a burst they would delay each other. */
    #measure(left = SAMPLES_KEPT) {
        if (this.#socket?.readyState !== 1) return;
        const exact = this.#options.now();
        const t0_ms = Math.round(exact);
        this.#asked.clear();
        this.#asked.set(t0_ms, { exact, left });
        this.#say({ clock: { t0_ms } });
    }

    #takeClock({ t0_ms, t1_ms, t2_ms }) {
        const asked = this.#asked.get(t0_ms);
        if (!asked) return;
        const sample = clockSample({
            t0_ms: asked.exact,
            t1_ms,
            t2_ms,
            t3_ms: this.#options.now(),
        });
        this.#samples = keepSample(this.#samples, sample);
        this.#asked.clear();
        if (asked.left > 1) setTimeout(() => this.#measure(asked.left - 1), 100);
    }

    /* What the silence means by now. A socket that never opened is given the same time. */
    #watch() {
        const now_ms = this.#options.now();
        const trust = trustAfter(now_ms - this.#heard_ms, this.#audience);
        if (trust !== this.#trust) {
            this.#trust = trust;
            this.#tell();
        }
        const silent_ms = now_ms - Math.max(this.#heard_ms, this.#socket?.opened_ms ?? now_ms);
        if (silent_ms >= this.#audience.broken_ms) this.#break();
    }

    /* close() may wait for an answer that never comes, so the socket is dropped at once. */
    #break() {
        const socket = this.#socket;
        this.#lost();
        socket.close();
    }

    #leave(topic, listener) {
        const entry = this.#topics.get(topic);
        entry?.listeners.delete(listener);
        if (!entry || entry.listeners.size) return;
        this.#topics.delete(topic);
        this.#barred.delete(topic);
        this.#say({ unsubscribe: [topic] });
    }

    #every(ms, act) {
        this.#timers.add(setInterval(act, ms));
    }

    #tell() {
        this.dispatchEvent(new Event("change"));
    }
}

/** Opens the line. `audience`: "desk" (screen, booth, table: a beat every second) or "viewer".
 *  `outbox`: the name under which unsent events survive a reload, for a page that sends; without it
 *  they live as long as the page. The key is the page's own: see access.js.
 *  @param {{audience?: "desk" | "viewer", outbox?: string}} options
 *  @returns {Connection} */
export function connect(options) {
    const line = new Connection({ key: pageKey(window), ...options });
    addEventListener("hashchange", () => {
        if (hasKey(location)) line.useKey(pageKey(window));
    });
    return line;
}
