/* What a panel on air says: words and places for the daemon's figures. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { loadWords } from "../../../overlay/lib/words.js";
import { panelOf } from "../../../overlay/screen/panel.js";

const say = await loadWords("en");
const NOW = Date.parse("2027-05-08T10:00:00.000Z");
const since = "2027-05-08T09:59:50.000Z";
const plain = (text) => text.replace(/[\u2060\u2068\u2069]/g, "");
const bout = {
    bout: "a1",
    details: { red: { name: "Ilse Brandt", family: "Brandt" }, blue: { name: "Noor Haddad" } },
    confirmed: { red: 2, blue: 2 },
};
const shown = (panel, words = say) =>
    panelOf({ bout, on_air: { line: true, panel: { since, ...panel } } }, NOW, words);
const cells = ({ rows }) =>
    rows.map(({ red, word, blue }) => [plain(red?.text ?? ""), word, plain(blue?.text ?? "")]);

test("no panel, or one of which nothing may be shown", () => {
    assert.equal(panelOf({ bout, on_air: { line: true } }, NOW, say), undefined);
    assert.equal(panelOf({ bout }, NOW, say), undefined);
    assert.equal(shown({ panel: "why", withheld: "unconfirmed" }), undefined);
    assert.equal(shown({ panel: "result" }), undefined, "it has a picture of its own");
});

test("attacks: filled what scored, open what did not; who hasn't tried is blank", () => {
    const panel = shown({
        panel: "attacks",
        red: { tried: 6, scored: 1 },
        blue: { tried: 9, scored: 2 },
        kinds: {
            1: { technique: "single_leg", red: { tried: 4, scored: 1 } },
            2: { technique: "knee_pull", blue: { tried: 8, scored: 1 } },
            3: { others: true, red: { tried: 2, scored: 0 } },
        },
        legs: { lead: { red: { tried: 4, scored: 1 }, blue: { tried: 2, scored: 0 } } },
    });
    assert.deepEqual(cells(panel), [
        ["1 of 6", "", "2 of 9"],
        ["1 of 4", "single leg", ""],
        ["", "knee pull", "1 of 8"],
        ["0 of 2", "others", ""],
        ["1 of 4", "lead leg", "0 of 2"],
    ]);
    assert.deepEqual([panel.rows[1].red.filled, panel.rows[1].red.open], [1, 3]);
    assert.equal(panel.rows[2].blue.filled, undefined, "eight signs are a figure alone");
});

test("why: step by step, the one that decides strong, with where it stands", () => {
    const panel = shown({
        panel: "why",
        leader: { side: "blue", by: "last_point" },
        steps: {
            1: { by: "points", red: 2, blue: 2 },
            2: { by: "holds", red: { 2: 1 }, blue: { 2: 1 } },
            3: { by: "cautions", red: 0, blue: 0 },
            4: { by: "last_point", side: "blue" },
        },
        source: "Rule book, article 10",
    });
    assert.equal(panel.title, "Why Noor Haddad leads on last point");
    assert.deepEqual(cells(panel), [
        ["2", "points", "2"],
        ["1×2", "higher holds", "1×2"],
        ["0", "fewer cautions", "0"],
        ["", "last point", ""],
    ]);
    assert.deepEqual(panel.rows.map(({ strong }) => strong), [false, false, false, true]);
    assert.equal(panel.rows[3].blue.filled, 1);
    assert.equal(panel.foot, "Rule book, article 10");
});

test("needs: of both, or of one side", () => {
    const red = { to_lead: 2, to_superiority: 12 };
    const blue = { leads: true, to_superiority: 8 };
    assert.deepEqual(cells(shown({ panel: "needs", red, blue })), [
        ["2", "to lead", "leads"],
        ["12", "to superiority", "8"],
    ]);
    assert.deepEqual(cells(shown({ panel: "needs", side: "red", red: { to_superiority: 4 } })), [
        ["more than one action", "to lead", ""],
        ["4", "to superiority", ""],
    ]);
});

test("who: names, teams, and the way here", () => {
    const way = {
        1: { against: "A", won: true, how: "fall", code: "VFA", score: { own: 4, other: 0 } },
        2: { against: "B", how: "points", code: "VPO", score: { own: 1, other: 3 } },
    };
    const panel = shown({
        panel: "who",
        red: { name: "Ilse Brandt", team: "Harbour", way },
        blue: { name: "Noor Haddad", noc: "XYZ" },
    });
    assert.deepEqual(cells(panel), [
        ["Ilse Brandt", "", "Noor Haddad"],
        ["Harbour", "team", "XYZ"],
        ["", "today", ""],
        ["beat A 4–0", "", ""],
        ["lost to B 1–3", "", ""],
    ]);
});

test("other mats, with the time as it is now; the order of bouts; results", () => {
    const short = {
        red: { name: "Vera Lind", family: "Lind" },
        blue: { name: "Ada Moss" },
        score: { red: 4, blue: 3 },
        unconfirmed: { red: 2, blue: 0 },
        phase: "live",
        period_ms: 180000,
        clock: { period: 1, t_ms: 60000, at: since, running: true },
    };
    const mats = shown({ panel: "mats", mats: { B: short, C: { ...short, phase: "called" } } });
    assert.deepEqual(
        mats.lines.map(({ one, text, other }) => [one, text, plain(other)]),
        [
            ["B", "Lind – Ada Moss", "2–3, 1:50 left in 1"],
            ["C", "Lind – Ada Moss", "called"],
        ],
    );
    const order = shown({
        panel: "order",
        order: {
            1: { number: "13", style: "women", weight: "57", stage: "final",
                red: { waits: "winner", number: "3" }, blue: { name: "Ada Moss" } },
            2: { red: { waits: "draw" }, blue: { nobody: true } },
        },
    });
    assert.deepEqual(
        order.lines.map(({ one, text, other }) => [one, text, other]),
        [
            ["13", "winner of 3 – Ada Moss", "Women 57 kg, final"],
            ["", "open – open", ""],
        ],
    );
    const results = shown({
        panel: "results",
        results: {
            40: { number: "1", red: "A", blue: "B", score: { red: 1, blue: 3 }, how: "points", winner: "blue" },
            90: { number: "2", red: "C", blue: "D", score: { red: 0, blue: 0 }, how: "both_injured" },
        },
    });
    assert.deepEqual(
        results.lines.map(({ one, text, other }) => [one, text, plain(other)]),
        [
            ["2", "C – D", "both injured"],
            ["1", "B beats A", "on points, 3–1"],
        ],
    );
});

test("a free line; when it goes on; another since is another panel", () => {
    assert.equal(shown({ panel: "text", text: "Doctor on the mat" }).text, "Doctor on the mat");
    assert.match(shown({ panel: "back", at: since, text: "Finals" }).title, /^Back at \d+:\d\d$/);
    const one = shown({ panel: "text", text: "a" });
    const again = shown({ panel: "text", text: "a", since: "2027-05-08T10:00:00.000Z" });
    assert.notEqual(one.key, again.key);
});

test("every panel in German, too", async () => {
    const german = await loadWords("de");
    const panel = shown({ panel: "attacks", red: { tried: 2, scored: 1 }, kinds: {}, legs: {} }, german);
    assert.equal(panel.rows[0].red.text, "1 von 2");
});

test("of many mats those that wrestle come first, as many as there is room for, by their names", () => {
    const short = (phase) => ({ phase, red: { name: "R" }, blue: { name: "B" }, score: { red: 0, blue: 0 },
        clock: { period: 1, t_ms: 0, running: false }, period_ms: 180000, periods: 2 });
    const mats = Object.fromEntries(Array.from({ length: 12 }, (_, i) => [`Mat ${i + 1}`, short(i < 4 ? "closed" : "stopped")]));
    const panel = { panel: "mats", since: "", least_ms: 3000, mats };
    const { lines } = panelOf({ on_air: { panel } }, 0, say);
    assert.deepEqual(lines.map(({ one }) => one), [5, 6, 7, 8, 9, 10, 11].map((number) => `Mat ${number}`));
});
