/**
 * The cards as the commentator has them before the eyes: three fixed places, what was pinned, and
 * what was used or sent away. The daemon offers; the shelf decides when the eye may be given
 * something else. A card stays at least 2 s + 0.2 s a word, never moves, and doesn't come back once
 * it was used until its fact has another id. A card whose fact was corrected goes at once.
 * Pure: the time is an argument.
 */

/**
 * @typedef {object} Card as the topic has it (docs/wire.md)
 * @typedef {{card: Card, since_ms: number, facts: Record<string, string>}} Shown `facts`: what the
 *   events that it rests on were when it came
 * @typedef {{shown: Record<string, Shown>, gone: string[], pinned: {card: Card,
 *   facts: Record<string, string>}[]}} Shelf
 */

export const PLACES = ["1", "2", "3"];
const PINNED_MOST = 4;
const GONE_KEPT = 500;

/** @type {Shelf} */
export const EMPTY = Object.freeze({ shown: {}, gone: [], pinned: [] });

/** How long a card is not to be taken from under the eye.
 *  @param {Card} card */
export function holdOf({ headline, line = "" }) {
    const words = `${headline} ${line}`.split(/\s+/).filter(Boolean).length;
    return 2000 + 200 * words;
}

/** The shelf after the daemon's cards of now.
 *  @param {Shelf} shelf
 *  @param {Record<string, Card>} cards by place
 *  @param {Record<string, object>} events the log (EVENTS of docs/wire.md)
 *  @param {number} now_ms
 *  @returns {Shelf} the same one when nothing changes */
export function shelve(shelf, cards, events, now_ms) {
    const facts = factsOf(events);
    const pinned = shelf.pinned.filter((one) => !isCorrected(one, facts));
    const shown = {};
    for (const place of PLACES) {
        const next = nextAt(shelf, cards?.[place], shelf.shown[place], facts, now_ms);
        if (next) shown[place] = next;
    }
    const same = pinned.length === shelf.pinned.length
        && PLACES.every((place) => shown[place] === shelf.shown[place]);
    return same ? shelf : { ...shelf, shown, pinned };
}

function nextAt(shelf, card, current, facts, now_ms) {
    const offered = card && isWanted(shelf, card) ? card : undefined;
    if (current && card?.id === current.card.id) {
        const told = card.changed === current.card.changed;
        return told ? current : { ...current, card };
    }
    const held = current && now_ms - current.since_ms < holdOf(current.card)
        && !offered?.changed && !isCorrected(current, facts);
    if (held) return current;
    return offered && { card: offered, since_ms: now_ms, facts: restsOn(offered, facts) };
}

function isWanted({ gone, pinned }, { id }) {
    return !gone.includes(id) && !pinned.some(({ card }) => card.id === id);
}

/** What each event says that a card could rest on: taken out, or another value, is a correction. */
function factsOf(events = {}) {
    return Object.fromEntries(Object.values(events).map((event) =>
        [event.id, event.out ? "out" : JSON.stringify([event.side, event.points, event.outcome])]));
}

function restsOn({ evidence = [] }, facts) {
    return Object.fromEntries(evidence.filter((id) => id in facts).map((id) => [id, facts[id]]));
}

function isCorrected({ facts: then }, facts) {
    return Object.entries(then).some(([id, said]) => facts[id] !== undefined && facts[id] !== said);
}

const without = (shown, place) =>
    Object.fromEntries(Object.entries(shown).filter(([name]) => name !== place));

/** A card was used, or sent away: its place is empty until there is another fact.
 *  @returns {Shelf} */
export function putAway(shelf, place) {
    const current = shelf.shown[place];
    if (!current) return shelf;
    const gone = [...shelf.gone, current.card.id].slice(-GONE_KEPT);
    return { ...shelf, gone, shown: without(shelf.shown, place) };
}

/** A card goes to the pinned ones; beyond four the oldest goes.
 *  @returns {Shelf} */
export function pin(shelf, place) {
    const current = shelf.shown[place];
    if (!current) return shelf;
    const pinned = [...shelf.pinned, { card: current.card, facts: current.facts }].slice(-PINNED_MOST);
    return { ...shelf, pinned, shown: without(shelf.shown, place) };
}

/** A pinned card goes, and isn't offered again. */
export function unpin(shelf, id) {
    const pinned = shelf.pinned.filter(({ card }) => card.id !== id);
    return { ...shelf, pinned, gone: [...shelf.gone, id].slice(-GONE_KEPT) };
}

/** All cards away: the places stay empty until there are new facts. The pinned ones stay. */
export function clearCards(shelf) {
    return PLACES.reduce(putAway, shelf);
}
