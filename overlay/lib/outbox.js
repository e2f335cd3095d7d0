/* Events on their way to the daemon. A key once pressed is never lost: an event stays here, and in
 * the browser's store (IndexedDB, where there is one), until the daemon has acknowledged or refused
 * it. It is sent once a connection; after a break of the line it is sent again with the same id,
 * which the daemon acknowledges without counting it twice. Order is the order of the keys.
 *
 * Failing: without a store (a private window) the queue lives as long as the page; an event whose
 * bookkeeping in the store fails is still sent. */

/** @typedef {{id: string, event: object, place: number}} Entry
 *  @typedef {{all(): Promise<Entry[]>, put(entry: Entry): Promise<void>,
 *      remove(id: string): Promise<void>}} Store */

export class Outbox {
    #entries = new Map(); /* id → {entry, promise, resolve, reject, sent}, in order */
    #store;
    #changed;
    #transmit;
    #place = 0;

    /** @param {Store} store
     *  @param {() => void} [changed]  called when the number waiting has changed */
    constructor(store, changed = () => {}) {
        this.#store = store;
        this.#changed = changed;
        this.ready = this.#load();
    }

    /** How many events the daemon has not answered yet. */
    get waiting() {
        return this.#entries.size;
    }

    /** The events that wait, oldest first. */
    get events() {
        return [...this.#entries.values()].map(({ entry }) => entry.event);
    }

    /** Takes an event and sends it as soon as there is a way. The event must have its `id`, and
     *  must not change afterwards.
     *  @param {object} event
     *  @returns {Promise<{id: string, seq: number}>} rejected with a Refusal when the daemon
     *      refuses */
    add(event) {
        const known = this.#entries.get(event.id);
        if (known) return known.promise;
        const entry = { id: event.id, event, place: this.#nextPlace() };
        const waiting = this.#keep(entry);
        this.#store.put(entry).catch(() => {});
        this.#changed();
        this.ready.then(() => this.again());
        return waiting.promise;
    }

    /** The line is up: everything that waits goes out, in order.
     *  @param {(event: object) => void} transmit */
    async opened(transmit) {
        this.#transmit = transmit;
        for (const waiting of this.#entries.values()) waiting.sent = false;
        await this.ready;
        this.again();
    }

    /** The line is down. */
    closed() {
        this.#transmit = undefined;
    }

    /** The daemon has the event on disk.
     *  @param {{id: string, seq: number}} ack */
    acknowledged(ack) {
        this.#settle(ack.id)?.resolve(ack);
    }

    /** The daemon does not take the event. A problem of the daemon's own (a full disk, status 500
     *  and up) is no answer, nor is it that a key is wanted first (401) or that too many came at
     *  once (429): the event stays, and goes out with the next `again` or connection.
     *  @param {{id?: string, status: number, title: string, detail?: string}} problem
     *  @returns {"settled" | "kept" | "not ours"} */
    refused(problem) {
        const waiting = this.#entries.get(problem.id);
        if (!waiting) return "not ours";
        if (problem.status >= 500 || problem.status === 401 || problem.status === 429) {
            waiting.sent = false;
            return "kept";
        }
        this.#settle(problem.id).reject(new Refusal(problem));
        return "settled";
    }

    /** Sends what has not been sent on this line, or could not be taken, in order. */
    again() {
        for (const waiting of this.#entries.values()) this.#send(waiting);
    }

    async #load() {
        const stored = await this.#store.all().catch(() => []);
        const fresh = [...this.#entries.values()];
        this.#entries.clear();
        for (const entry of stored.sort((a, b) => a.place - b.place)) this.#keep(entry);
        for (const waiting of fresh) this.#entries.set(waiting.entry.id, waiting);
        if (stored.length) this.#changed();
    }

    #keep(entry) {
        const waiting = { entry, sent: false };
        waiting.promise = new Promise((resolve, reject) =>
            Object.assign(waiting, { resolve, reject }),
        );
        waiting.promise.catch(() => {}); /* of an earlier page's life nobody listens any more */
        this.#entries.set(entry.id, waiting);
        return waiting;
    }

    #send(waiting) {
        if (waiting.sent || !this.#transmit) return;
        waiting.sent = true;
        this.#transmit(waiting.entry.event);
    }

    #settle(id) {
        const waiting = this.#entries.get(id);
        if (!waiting) return undefined;
        this.#entries.delete(id);
        this.#store.remove(id).catch(() => {});
        this.#changed();
        return waiting;
    }

    /* Times of day, so that keys of one page's life come after those of the life before. */
    #nextPlace() {
        this.#place = Math.max(this.#place + 1, Date.now());
        return this.#place;
    }
}

/** The daemon's "no" to an event: `problem` is the whole answer (RFC 9457). */
export class Refusal extends Error {
    constructor(problem) {
        super(problem.detail ?? problem.title);
        this.name = "Refusal";
        this.problem = problem;
    }
}

/** A store as long as the page.
 *  @returns {Store} */
export function memoryStore() {
    const entries = new Map();
    return {
        all: async () => [...entries.values()],
        put: async (entry) => void entries.set(entry.id, entry),
        remove: async (id) => void entries.delete(id),
    };
}

/** A store in the browser, under a name; in memory where the browser has none.
 *  @param {string} name
 *  @returns {Store} */
export function browserStore(name) {
    if (!globalThis.indexedDB) return memoryStore();
    const opened = openDatabase(name);
    opened.catch(() => {});
    const within = async (mode, act) => {
        const database = await opened;
        const transaction = database.transaction("events", mode);
        return finished(transaction, act(transaction.objectStore("events")));
    };
    return {
        all: () => within("readonly", (events) => events.getAll()),
        put: (entry) => within("readwrite", (events) => void events.put(entry)),
        remove: (id) => within("readwrite", (events) => void events.delete(id)),
    };
}

function openDatabase(name) {
    return new Promise((resolve, reject) => {
        const request = indexedDB.open(name, 1);
        request.onupgradeneeded = () =>
            request.result.createObjectStore("events", { keyPath: "id" });
        request.onsuccess = () => resolve(request.result);
        request.onerror = () => reject(request.error);
    });
}

function finished(transaction, request) {
    return new Promise((resolve, reject) => {
        transaction.oncomplete = () => resolve(request?.result);
        transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
}
