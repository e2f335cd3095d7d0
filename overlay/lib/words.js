/* The pages' words. Each language is one file in words/, English first: a tree of messages.
 *
 * A message is a text with places: "{name} leads {score}". Where a word depends on a value, the
 * message is an object whose `by` names that value:
 *     {by: "count", one: "{count} sentence", other: "{count} sentences"}   by plural rule
 *     {by: "side", red: "red", blue: "blue"}                               by the value itself
 * The value itself is tried first ("0", "1", "red"), then, for a number, its plural category in
 * the language (Intl.PluralRules), then `other`. The texts inside may be messages again. */

/** Says a message: `say("screen.period", {period: 2})`.
 *  @typedef {((key: string, values?: Record<string, any>) => string)
 *      & {lang: string, has: (key: string) => boolean}} Say */

/** @param {string} lang  one of options.js's LANGUAGES
 *  @returns {Promise<Say>} */
export async function loadWords(lang) {
    const english = (await import("../words/en.js")).default;
    const messages = lang === "en" ? english : (await import(`../words/${lang}.js`)).default;
    return createWords(messages, lang, english);
}

/** @param {object} messages  the tree of one language
 *  @param {string} lang
 *  @param {object} [fallback]  the tree for what that language lacks: a word in English is better
 *      than a hole
 *  @returns {Say} */
export function createWords(messages, lang, fallback = {}) {
    const plural = new Intl.PluralRules(lang);
    const ordinal = new Intl.PluralRules(lang, { type: "ordinal" });
    const find = (key) => lookUp(messages, key) ?? lookUp(fallback, key);
    const say = (key, values = {}) => {
        const message = find(key);
        if (message === undefined) throw new Error(`no words for ${key}`);
        return fill(message, values, { plural, ordinal });
    };
    return Object.assign(say, { lang, has: (key) => find(key) !== undefined });
}

function lookUp(tree, key) {
    return key
        .split(".")
        .reduce((node, part) => (node && Object.hasOwn(node, part) ? node[part] : undefined), tree);
}

function fill(message, values, rules) {
    if (typeof message === "object")
        return fill(choose(message, values[message.by], rules), values, rules);
    return message.replace(/\{(\w+)\}/g, (place, name) => String(values[name] ?? ""));
}

function choose(message, value, { plural, ordinal }) {
    if (Object.hasOwn(message, String(value))) return message[String(value)];
    const category =
        typeof value === "number" && (message.ordinal ? ordinal : plural).select(value);
    return message[category] ?? message.other ?? "";
}

/** A catalogue's name made readable, where no words are known for it: "low_single" → "low single".
 *  @param {string} slug
 *  @returns {string} */
export function spoken(slug) {
    return slug.replaceAll("_", " ");
}
