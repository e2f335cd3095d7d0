/* What a page's address may say about its looks: `?lang=de&motion=off&scale=0.8`.
 * Never a key or a secret: addresses are shown on screens, and stay in histories and logs. */

/** One option's kind: an array lists the words allowed (the first is the default); a number is a
 *  default that `min` and `max` bound; a RegExp in `like` says which text is allowed.
 *  @typedef {string[] | {number: number, min: number, max: number}
 *      | {text: string, like: RegExp}} OptionKind */

/** The options, each with a value that its kind allows: what an address says wrongly is as good
 *  as not said, so that a slip in a compositor's settings never leaves the picture empty.
 *  @param {string} search  the address's query, `location.search`
 *  @param {Record<string, OptionKind>} kinds
 *  @returns {Record<string, any>} */
export function readOptions(search, kinds) {
    const given = new URLSearchParams(search);
    const read = ([name, kind]) => [name, readOption(given.get(name), kind)];
    return Object.fromEntries(Object.entries(kinds).map(read));
}

function readOption(text, kind) {
    if (Array.isArray(kind)) return kind.includes(text) ? text : kind[0];
    if ("number" in kind) return readNumber(text, kind);
    return text !== null && kind.like.test(text) ? text : kind.text;
}

function readNumber(text, { number, min, max }) {
    const value = text === null || text.trim() === "" ? NaN : Number(text);
    return Number.isFinite(value) ? Math.min(max, Math.max(min, value)) : number;
}

/** Names of mats and outputs: any text of up to 100 characters, as the daemon takes them. */
export const NAME = /^.{1,100}$/su;

/** Languages that have a file in words/, English first. */
export const LANGUAGES = ["en", "de"];

/** The language to show: the address's, else the first of the browser's that we have.
 *  @param {string} search
 *  @param {readonly string[]} [wished] the browser's, `navigator.languages`
 *  @returns {string} */
export function languageOf(search, wished = []) {
    const asked = new URLSearchParams(search).get("lang");
    const known = (tag) => LANGUAGES.find((name) => tag?.toLowerCase().split("-")[0] === name);
    return known(asked) ?? wished.map(known).find(Boolean) ?? LANGUAGES[0];
}

/** Sets what all pages share on the root element: `lang`, and `data-motion` and `data-theme`,
 *  which base.css reads.
 *  @param {Element} root
 *  @param {{lang: string, motion?: string, theme?: string}} looks */
export function dress(root, { lang, motion, theme }) {
    root.setAttribute("lang", lang);
    root.toggleAttribute("data-motion", motion === "off");
    if (motion === "off") root.setAttribute("data-motion", "off");
    if (theme === "dark" || theme === "light") root.setAttribute("data-theme", theme);
}
