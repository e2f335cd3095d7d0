/* Messages and their plurals, and that every language says what English says. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { LANGUAGES, languageOf, readOptions } from "../../../overlay/lib/options.js";
import { nameParts, shortName } from "../../../overlay/lib/names.js";
import { createWords, loadWords, spoken } from "../../../overlay/lib/words.js";
import english from "../../../overlay/words/en.js";

test("places, plurals, and words by a value", () => {
    const say = createWords(
        {
            left: {
                by: "count",
                0: "nothing left",
                one: "{count} second left",
                other: "{count} seconds left",
            },
            who: {
                by: "side",
                red: "red has {points}",
                blue: { by: "points", one: "blue has one", other: "blue has {points}" },
            },
            place: {
                by: "period",
                ordinal: true,
                one: "{period}st",
                two: "{period}nd",
                other: "{period}th",
            },
        },
        "en",
    );
    assert.equal(say("left", { count: 0 }), "nothing left");
    assert.equal(say("left", { count: 1 }), "1 second left");
    assert.equal(say("left", { count: 5 }), "5 seconds left");
    assert.equal(say("who", { side: "red", points: 2 }), "red has 2");
    assert.equal(say("who", { side: "blue", points: 1 }), "blue has one");
    assert.equal(say("place", { period: 2 }), "2nd");
    assert.throws(() => say("nowhere"), /no words for nowhere/);
});

test("a value that looks like a place stays a value", () => {
    const say = createWords({ hello: "{name}: {points}" }, "en");
    assert.equal(say("hello", { name: "{points}", points: 2 }), "{points}: 2");
});

test("what a language lacks is said in English", () => {
    const say = createWords({ a: "eins" }, "de", { a: "one", b: "two" });
    assert.deepEqual([say("a"), say("b"), say.has("c")], ["eins", "two", false]);
});

const leaves = (tree, path = []) =>
    Object.entries(tree).flatMap(([name, value]) =>
        typeof value === "object"
            ? leaves(value, [...path, name])
            : [[[...path, name].join("."), value]],
    );
const places = (text) =>
    [...text.matchAll(/\{(\w+)\}/g)]
        .map(([, name]) => name)
        .sort()
        .join();

test("another language has English's keys and places, and nothing else", async () => {
    const own = new Map(leaves(english));
    for (const lang of LANGUAGES.slice(1)) {
        const messages = (await import(`../../../overlay/words/${lang}.js`)).default;
        for (const [key, text] of leaves(messages)) {
            assert.ok(own.has(key), `${lang}: ${key} is no key`);
            assert.equal(places(text), places(own.get(key)), `${lang}: the places of ${key}`);
        }
        for (const part of ["screen", "follow", "catch_up", "index"]) {
            for (const [key] of leaves(english[part] ?? {}, [part])) {
                assert.ok(
                    leaves(messages).some(([theirs]) => theirs === key),
                    `${lang} lacks ${key}`,
                );
            }
        }
        assert.equal((await loadWords(lang)).lang, lang);
    }
});

test("the language: the address's, else the browser's, else English", () => {
    assert.equal(languageOf("?lang=de"), "de");
    assert.equal(languageOf("?lang=de-AT"), "de");
    assert.equal(languageOf("", ["fr-FR", "de-CH", "en"]), "de");
    assert.equal(languageOf("?lang=../x", []), "en");
});

test("options: what an address says wrongly is as good as not said", () => {
    const kinds = {
        motion: ["on", "off"],
        scale: { number: 1, min: 0.5, max: 2 },
        mat: { text: "", like: /^[A-Z]$/ },
    };
    assert.deepEqual(readOptions("?motion=off&scale=1.5&mat=B", kinds), {
        motion: "off",
        scale: 1.5,
        mat: "B",
    });
    assert.deepEqual(readOptions("?motion=x&scale=abc&mat=../", kinds), {
        motion: "on",
        scale: 1,
        mat: "",
    });
    assert.deepEqual(readOptions("?scale=99", kinds).scale, 2);
    assert.deepEqual(readOptions("?scale=", kinds).scale, 1);
});

test("a name in parts is the name again, in its own order", () => {
    const rows = [
        [{ name: "Elīna Žīlaviņa", family: "Žīlaviņa" }, ["Elīna ", "Žīlaviņa"]],
        [{ name: "Okwuneli Adaora", family: "Okwuneli", given: "Adaora" }, ["Okwuneli", " Adaora"]],
        [{ name: "Þórey Ý" }, ["Þórey Ý"]],
        [{ name: "A B", family: "C" }, ["A B"]],
    ];
    for (const [person, want] of rows) {
        const parts = nameParts(person);
        assert.deepEqual(
            parts.map(({ text }) => text),
            want,
        );
        assert.equal(parts.map(({ text }) => text).join(""), person.name);
    }
    assert.equal(shortName({ name: "A B", family: "B" }), "B");
    assert.equal(spoken("low_single"), "low single");
});
