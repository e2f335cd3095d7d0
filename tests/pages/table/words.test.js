/* The words of the pages at work: every language says all that English says, with the same places. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { LANGUAGES } from "../../../overlay/lib/options.js";

const PARTS = ["working", "table", "booth", "gallery"];
const tree = async (lang, part) => (await import(`../../../overlay/words/${lang}-${part}.js`)).default;
const places = (text) => [...text.matchAll(/\{(\w+)\}/g)].map(([, name]) => name).sort();

function compare(english, other, path) {
    assert.equal(typeof other, typeof english, path);
    if (typeof english === "string") {
        for (const name of places(other)) assert.ok(places(english).includes(name), `${path}: {${name}}`);
        return;
    }
    if (english.by) assert.equal(other.by, english.by, path);
    for (const [name, message] of Object.entries(english)) {
        if (name !== "by") compare(message, other[name], `${path}.${name}`);
    }
}

for (const part of PARTS) {
    test(`every language has the words of ${part}`, async () => {
        const english = await tree("en", part);
        for (const lang of LANGUAGES.filter((name) => name !== "en")) {
            compare(english, await tree(lang, part), lang);
        }
    });
}
