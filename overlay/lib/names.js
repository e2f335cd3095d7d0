/* How a wrestler's name is shown. `name` is the whole, as the athlete gives it, in the athlete's
 * own order; `family` and `given` say which part is which, and are never put together anew. */

/** The name in parts, in the order in which it is said, the family name marked.
 *  @param {{name: string, family?: string, given?: string}} person
 *  @returns {{text: string, family: boolean}[]} joined, the texts are the name again */
export function nameParts(person) {
    const at = person.family ? person.name.indexOf(person.family) : -1;
    if (at < 0) return [{ text: person.name, family: false }];
    const end = at + person.family.length;
    return [
        { text: person.name.slice(0, at), family: false },
        { text: person.name.slice(at, end), family: true },
        { text: person.name.slice(end), family: false },
    ].filter((part) => part.text !== "");
}

/** The family name where it is known, else the whole.
 *  @param {{name: string, family?: string}} person
 *  @returns {string} */
export function shortName(person) {
    return person.family ?? person.name;
}

/** A `bdi` with the name: isolated, so that a name written from right to left moves nothing
 *  beside it. The family name is in a `b`, for a page that shows it stronger, or alone where there
 *  is no room for the whole.
 *  @param {{name: string, family?: string}} person
 *  @returns {HTMLElement} */
export function nameElement(person) {
    const bdi = document.createElement("bdi");
    for (const part of nameParts(person)) {
        const node = document.createElement(part.family ? "b" : "span");
        node.textContent = part.text;
        bdi.append(node);
    }
    return bdi;
}

/** A text that isolates a name inside a sentence (FIRST STRONG ISOLATE … POP), for attributes and
 *  labels, where no element can.
 *  @param {string} name
 *  @returns {string} */
export function isolated(name) {
    return `\u2068${name}\u2069`;
}
