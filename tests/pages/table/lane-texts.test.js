/* The lines at the ends of the lanes, and how names are spoken. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { laneTexts } from "../../../overlay/elements/lane-texts.js";
import { syllables } from "../../../overlay/elements/spelled-name.js";
import { createWords } from "../../../overlay/lib/words.js";
import english from "../../../overlay/words/en.js";
import working from "../../../overlay/words/en-working.js";

const say = createWords({ ...english, ...working }, "en");
const base = {
    score: { red: 2, blue: 2 }, confirmed: { red: 2, blue: 2, leader: { side: "blue", by: "last_point" } },
    needs: { red: { to_lead: 1, to_superiority: 10 }, blue: { to_superiority: 10 } },
    details: { values: { 1: true, 2: true, 4: true, 5: true }, cautions_out: 3 },
};
const lanes = (more, second, brief) => ["red", "blue"].map((side) => {
    const { first, second: below } = laneTexts(side, { ...base, ...more }, say, second, brief);
    return `${first} / ${below}`;
});

test("who leads and why, and what the other needs", () => {
    const rows = [
        ["level", {}, ["needs 1 to lead / 10 more ends it", "leads, last point / 10 more ends it"]],
        ["points", { confirmed: { red: 4, blue: 2, leader: { side: "red", by: "points" } },
            needs: { red: { to_superiority: 8 }, blue: { to_lead: 2, to_superiority: 12 } } },
        ["leads by 2 / 8 more ends it", "needs 2 to lead / 12 more ends it"]],
        ["out of reach of one action", { confirmed: { red: 9, blue: 2, leader: { side: "red", by: "points" } },
            needs: { red: { to_superiority: 3 }, blue: { to_superiority: 17 } } },
        ["leads by 7 / 3 more ends it", "needs more than 5 / 17 more ends it"]],
        ["not confirmed: nothing that derives from it", { score: { red: 4, blue: 2 }, unconfirmed: { red: 2, blue: 0 } },
            ["+2 not confirmed / ", " / "]],
        ["a challenge is open", { confirmed: { ...base.confirmed, under_review: true },
            challenge: { red: { open: "c" } } }, ["challenge asked / ", " / "]],
        ["superiority", { confirmed: { red: 12, blue: 2, due: "superiority", leader: { side: "red", by: "points" } },
            needs: { red: {}, blue: { to_superiority: 20 } } }, ["leads by 10 / superiority reached", " / "]],
        ["all cautions", { confirmed: { red: 2, blue: 0, due: "cautions", leader: { side: "red", by: "points" } },
            due_against: ["blue"], cautions: { red: 0, blue: 3 } }, ["leads by 2 / ", " / all cautions given"]],
        ["cautions", { cautions: { red: 1, blue: 0 } },
            ["needs 1 to lead / 10 more ends it · 1 caution", "leads, last point / 10 more ends it"]],
        ["result", { result: { how: "fall", code: "VFA", winner: "blue", class_points: { red: 0, blue: 5 } } },
            [" / ", "wins by fall / VFA, 5\u2060:\u20600"]],
        ["result not signed", { result: { how: "fall", winner: "blue", unconfirmed: true } },
            [" / ", " / "]],
        ["no winner", { result: { how: "both_injured", class_points: { red: 0, blue: 0 } } },
            ["both injured / ", "both injured / "]],
    ];
    for (const [name, more, want] of rows) assert.deepEqual(lanes(more), want, name);
});

test("where there is little room each line has one fact", () => {
    const byPoints = { red: 4, blue: 2, leader: { side: "red", by: "points" } };
    const rows = [
        ["level", {}, ["needs 1 to lead / 10 more ends it", "leads / last point"]],
        ["points", { confirmed: byPoints }, ["leads by 2 / 10 more ends it", "needs more than 5 / 10 more ends it"]],
        ["a caution", { cautions: { red: 1, blue: 0 } },
            ["needs 1 to lead / 10 more ends it", "leads / last point"]],
        ["one more caution loses", { cautions: { red: 2, blue: 0 } },
            ["needs 1 to lead / 2 cautions", "leads / last point"]],
        ["superiority", { confirmed: { ...byPoints, due: "superiority" } },
            ["leads by 2 / superiority reached", " / "]],
        ["result", { result: { how: "fall", code: "VFA", winner: "blue" } }, [" / ", "wins / by fall"]],
        ["no winner", { result: { how: "both_injured" } }, [" / both injured", " / both injured"]],
    ];
    for (const [name, more, want] of rows) assert.deepEqual(lanes(more, "needs", true), want, name);
});

test("the table's second line is what the officials gave", () => {
    assert.deepEqual(lanes({ cautions: { red: 2, blue: 0 }, challenge: { red: { left: true }, blue: { left: false } } }, "officials"),
        ["needs 1 to lead / 2 cautions · challenge left", "leads, last point / no caution · challenge used"]);
});

test("stressed syllables are those in capitals", () => {
    const stressed = (text) => syllables(text).filter((part) => part.stressed).map((part) => part.text);
    assert.deepEqual(stressed("HYUR-tur THRAS-tar-veek"), ["HYUR", "THRAS"]);
    assert.deepEqual(stressed("ŽEE-la"), ["ŽEE"]);
    assert.deepEqual(stressed("a-B-ba"), [], "a single letter is no syllable in capitals");
    for (const text of ["HYUR-tur THRAS-tar-veek", "", "no hyphen", "a-b  c"]) {
        assert.equal(syllables(text).map((part) => part.text).join(""), text);
    }
});
