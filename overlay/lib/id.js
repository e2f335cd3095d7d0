/* Ids for events. A venue's laptop serves plain http, which is no secure context, and
 * crypto.randomUUID exists only in one; getRandomValues exists everywhere. */

const LETTERS = "0123456789abcdefghijkmnpqrstuvwx"; /* 32 of them: five bits each */

/** A new id: 20 letters, 100 random bits, all of them allowed in an event's id.
 *  @param {(bytes: Uint8Array) => Uint8Array} [fill] where the random bytes come from
 *  @returns {string} */
export function newId(fill = (bytes) => crypto.getRandomValues(bytes)) {
    return Array.from(fill(new Uint8Array(20)), (byte) => LETTERS[byte & 31]).join("");
}
