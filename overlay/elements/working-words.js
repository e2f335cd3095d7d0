/* The words of the pages at work: the shared ones, the head's and the page's own, each a file of
 * its own, so that viewers' pages don't carry them. */

import { createWords } from "../lib/words.js";

const FILES = ["", "-working", "-table", "-booth", "-gallery"];

/** @param {string} lang
 *  @param {string[]} [files]  of which files, by the ends of their names
 *  @returns {Promise<import("../lib/words.js").Say>} a language that lacks one of the files says
 *      those words in English */
export async function loadWorkingWords(lang, files = FILES) {
    const english = await treeOf("en", files);
    return createWords(lang === "en" ? english : await treeOf(lang, files), lang, english);
}

async function treeOf(lang, parts) {
    const files = await Promise.all(parts.map((part) =>
        import(`../words/${lang}${part}.js`).catch(() => ({ default: {} }))));
    return Object.assign({}, ...files.map((file) => file.default));
}
