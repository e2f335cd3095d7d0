/* The words beside the log, what the picture on air shows, and what is shown later. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
    catchUpText,
    clockLabels,
    dayResultText,
    headingText,
    otherMatText,
    sideText,
    statusText,
} from "../../../overlay/follow/texts.js";
import { Later } from "../../../overlay/lib/later.js";
import { boutTitle, lineSentence, markText, scoreText } from "../../../overlay/lib/sentences.js";
import { loadWords } from "../../../overlay/lib/words.js";
import { pictureOf } from "../../../overlay/screen/picture.js";

const say = await loadWords("en");
const NOW = Date.parse("2027-05-08T10:00:00.000Z");
const plain = (text) => text.replace(/[\u2060\u2068\u2069]/g, "");
const leader = { side: "blue", by: "last_point" };
const view = (more) => ({
    bout: "a01",
    phase: "live",
    details: {
        red: { name: "Ilse Vorderhaus", team: "VDH" },
        blue: { name: "Nkechi Baraldsen" },
        mat: "A",
        number: "12",
        style: "women",
        weight: "62",
        stage: "semi-final",
        periods: 2,
        period_ms: 180000,
    },
    clock: { period: 2, t_ms: 132000, at: new Date(NOW).toISOString(), running: true },
    score: { red: 2, blue: 2 },
    unconfirmed: { red: 0, blue: 0 },
    confirmed: { red: 2, blue: 2, leader },
    needs: { red: { to_lead: 1, to_superiority: 10 }, blue: { to_superiority: 10 } },
    line: {},
    ...more,
});
const open = { score: { red: 6, blue: 2 }, unconfirmed: { red: 4, blue: 0 } };
const closed = (result) =>
    view({
        phase: "closed",
        result: { class_points: { red: 1, blue: 3 }, time_ms: 312000, code: "VPO1", ...result },
    });

test("what the bout is", () => {
    assert.equal(boutTitle(view().details, say), "Women 62 kg, semi-final");
    assert.equal(boutTitle({ style: "belt_style", weight: "open" }, say), "belt style open");
    assert.equal(boutTitle({}, say), "");
    assert.equal(headingText("A", view(), say), "Mat A. Women 62 kg, semi-final");
    assert.equal(plain(scoreText({ red: 2, blue: 10 }, "blue")), "10–2");
});

test("the line under a name", () => {
    const rows = [
        [view(), "needs 1 to lead", "leads on last point"],
        [view(open), "4 more points, not confirmed", ""],
        [
            view({ activity: { side: "red", period: 2, t_ms: 121000, length_ms: 30000 } }),
            "has 19 seconds to score",
            "leads on last point",
        ],
        [
            view({ activity: { side: "blue", period: 2, t_ms: 121000, length_ms: 30000 } }),
            "needs 1 to lead",
            "leads on last point, and has 19 seconds to score",
        ],
        [view({ phase: "called", confirmed: { red: 0, blue: 0 } }), "VDH", ""],
        [closed({ how: "points", winner: "blue" }), "VDH", "wins on points"],
        [
            closed({ how: "points", winner: "blue", unconfirmed: true }),
            "VDH",
            "",
        ],
    ];
    for (const [state, red, blue] of rows) {
        assert.deepEqual(
            [sideText(state, "red", NOW, say), sideText(state, "blue", NOW, say)],
            [red, blue],
        );
    }
});

test("beside the clock", () => {
    assert.deepEqual(clockLabels(view(), NOW, say), {
        left: "left in period 2",
        gone: "5:12 gone",
    });
    assert.equal(
        clockLabels(view({ break: { ends_at: new Date(NOW + 9000).toISOString() } }), NOW, say)
            .left,
        "left in the break",
    );
    assert.equal(
        clockLabels(view({ confirmed: { red: 2, blue: 2, due: "time" } }), NOW, say).left,
        "Time is up",
    );
    assert.equal(
        clockLabels(closed({ how: "fall", code: "VFA", winner: "red" }), NOW, say).left,
        "Result VFA",
    );
    assert.equal(
        clockLabels(closed({ how: "fall", winner: "red", unconfirmed: true }), NOW, say).left,
        "The result is not confirmed yet.",
    );
});

test("the status is whole, and does not change with every second", () => {
    assert.equal(
        plain(statusText(view(), NOW, say)),
        "Ilse Vorderhaus 2, Nkechi Baraldsen 2, period 2",
    );
    assert.equal(statusText(view(), NOW, say), statusText(view(), NOW + 3000, say));
    assert.equal(
        plain(statusText(view(open), NOW, say)),
        "Ilse Vorderhaus 2, Nkechi Baraldsen 2, period 2. Ilse Vorderhaus: 4 more points, not confirmed",
    );
});

test("two sentences for those who come late, nothing in them that may not be said", () => {
    const attacks = { red: { tried: 6, scored: 1 }, blue: { tried: 5, scored: 2 } };
    assert.equal(
        plain(catchUpText(view({ attacks }), NOW, say)),
        "Nkechi Baraldsen leads at 2–2 after 5:12, on last point. " +
            "Ilse Vorderhaus has scored with 1 of 6 attacks, Nkechi Baraldsen with 2 of 5. " +
            "With 48 seconds left in period 2, Ilse Vorderhaus needs 1 to lead.",
    );
    assert.equal(
        plain(catchUpText(view({ attacks, ...open }), NOW, say)),
        "It stands level at 2–2 after 5:12. 4 points for Ilse Vorderhaus are not confirmed yet.",
    );
    const ahead = { confirmed: { red: 4, blue: 2 }, unconfirmed: { red: 0, blue: 1 } };
    assert.match(
        plain(catchUpText(view(ahead), NOW, say)),
        /^Ilse Vorderhaus 4, Nkechi Baraldsen 2 after 5:12\. 1 point for Nkechi Baraldsen is not/,
        "ahead is not level, and while a point is open nobody is said to lead",
    );
    assert.match(
        plain(catchUpText(closed({ how: "fall", winner: "red", unconfirmed: true }), NOW, say)),
        /The result is not confirmed yet\.$/,
    );
    assert.equal(
        plain(catchUpText(closed({ how: "fall", winner: "red" }), NOW, say)),
        "Ilse Vorderhaus beats Nkechi Baraldsen by fall, 2–2.",
    );
    assert.equal(
        plain(catchUpText(view({ phase: "called" }), NOW, say)),
        "Ilse Vorderhaus and Nkechi Baraldsen are called and have not begun.",
    );
});

test("the other mats, and the day's results", () => {
    const short = {
        red: { name: "A" },
        blue: { name: "B" },
        phase: "live",
        period_ms: 180000,
        periods: 2,
        score: { red: 6, blue: 2 },
        unconfirmed: { red: 4, blue: 0 },
        clock: { period: 1, t_ms: 60000, running: false },
    };
    assert.equal(
        plain(otherMatText("C", short, NOW, say)),
        "Mat C: A 2, B 2. 2:00 left in period 1.",
    );
    assert.equal(
        plain(otherMatText("C", { ...short, result: { how: "points", winner: "red" } }, NOW, say)),
        "Mat C: A beats B on points, 6–2.",
    );
    assert.equal(
        plain(
            dayResultText(
                { red: "A", blue: "B", how: "both_injured", score: { red: 0, blue: 0 } },
                say,
            ),
        ),
        "A and B: both injured.",
    );
});

test("the line in words", () => {
    const line = {
        1: {
            kind: "score",
            side: "red",
            period: 1,
            t_ms: 62000,
            points: 2,
            action: "takedown",
            was: 4,
        },
        2: {
            kind: "attack",
            side: "blue",
            period: 1,
            t_ms: 90000,
            outcome: "stopped",
            technique: "low_single",
        },
        3: { kind: "given", side: "blue", period: 2, t_ms: 60000, points: 1, unconfirmed: true },
    };
    assert.equal(
        plain(lineSentence(view({ line }), say)),
        "Bout line. Ilse Vorderhaus, 2 points with 1:58 left in period 1. " +
            "Nkechi Baraldsen, 1 point with 2:00 left in period 2, not confirmed.",
    );
    assert.deepEqual(
        [1, 2, 3].map((seq) => markText({ mark: line[seq] }, say)),
        [
            "takedown, corrected: 4 is now 2",
            "low single, stopped",
            "given by the officials, not confirmed",
        ],
    );
});

const taken = { panel: "result", since: "2027-05-08T10:00:00.000Z" };
const picture = (bout, context) =>
    pictureOf({ on_air: { line: true, panel: taken }, bout }, NOW, {
        say,
        corrected: {},
        fits: () => true,
        ...context,
    });

test("on air: nothing but what is on air", () => {
    assert.equal(pictureOf(undefined, NOW, { say, corrected: {} }), undefined);
    assert.equal(pictureOf({ on_air: {}, bout: view() }, NOW, { say, corrected: {} }), undefined);
    assert.equal(pictureOf({ on_air: { line: true } }, NOW, { say, corrected: {} }), undefined);
    const hidden = { on_air: { line: true }, hold: { how: "hide" }, bout: view() };
    assert.equal(pictureOf(hidden, NOW, { say, corrected: {} }), undefined, "held, and gone");
});

test("on air: a result comes when it is taken, and the line says meanwhile that there is one", () => {
    const bout = closed({ how: "fall", code: "VFA", winner: "blue", class_points: { red: 0, blue: 5 } });
    const context = { say, corrected: {}, fits: () => true };
    const line = pictureOf({ on_air: { line: true }, bout }, NOW, context);
    assert.deepEqual([line.plate, line.result, line.place], [true, undefined, "Result"]);
    const alone = pictureOf({ on_air: { panel: taken }, bout }, NOW, context);
    assert.deepEqual([alone.plate, alone.result.winner], [false, "blue"]);
    const withheld = { on_air: { line: true, panel: { ...taken, withheld: "unconfirmed" } }, bout };
    assert.equal(pictureOf(withheld, NOW, context).result, undefined);
});

test("on air: an output may want confirmed points alone", () => {
    const lanes = picture(view(open), { confirmedOnly: true }).lanes;
    assert.equal(lanes.red.end, undefined);
});

test("on air: at a lane's end one thing, by rank", () => {
    const activity = { side: "blue", period: 2, t_ms: 121000, length_ms: 30000 };
    assert.equal(picture(view()).lanes.blue.end.wedge, "leads on last point");
    assert.equal(
        picture(view(), { fits: () => false }).lanes.blue.end.wedge,
        "last point",
        "a language with longer words",
    );
    const both = picture(view({ activity })).lanes.blue.end;
    assert.deepEqual([both.wedge, both.seconds, both.text], ["last point", "0:19", undefined]);
    const unconfirmed = picture(view({ ...open, activity })).lanes;
    assert.deepEqual([unconfirmed.red.end.more, unconfirmed.red.points], ["+4", 2]);
    assert.deepEqual(
        [unconfirmed.blue.end.kind, unconfirmed.blue.end.wedge],
        ["activity", undefined],
        "the wedge is withheld",
    );
    assert.equal(
        picture(view(open), { corrected: { red: "corrected: 4 is now 2" } }).lanes.red.end.kind,
        "correction",
    );
    const ahead = { red: 4, blue: 2, leader: { side: "red", by: "points" } };
    assert.equal(picture(view({ confirmed: ahead })).lanes.red.end, undefined, "the score says it");
});

test("on air: an ending and a winner only when they stand", () => {
    const due = { red: 2, blue: 12, leader: { side: "blue", by: "points" }, due: "superiority" };
    assert.equal(picture(view({ phase: "over", confirmed: due })).place, "Superiority");
    assert.equal(
        picture(view({ phase: "over", confirmed: { ...due, under_review: true } })).place,
        "Review",
    );
    assert.equal(
        picture(view({ phase: "over", confirmed: due, unconfirmed: { red: 1, blue: 0 } })).place,
        "Period 2",
    );
    const unsure = picture(closed({ how: "points", winner: "blue", unconfirmed: true }));
    assert.deepEqual([unsure.plate, unsure.result], [true, undefined]);
    const won = picture(
        closed({ how: "fall", code: "VFA", winner: "blue", class_points: { red: 0, blue: 5 } }),
    ).result;
    assert.deepEqual(
        [won.name, won.other, plain(won.how), won.code, won.about],
        [
            "Nkechi Baraldsen",
            "Ilse Vorderhaus",
            "by fall at 5:12, 2–2",
            "VFA, 5:0",
            "Bout 12, mat A",
        ],
    );
    const nobody = picture(
        closed({ how: "both_injured", code: "2VIN", class_points: { red: 0, blue: 0 } }),
    ).result;
    assert.deepEqual([nobody.winner, nobody.about], [undefined, "No winner: both injured"]);
});

test("later: in order, each once, and a shorter wait catches up", () => {
    const later = new Later();
    later.put("a", 0);
    later.put("b", 1000);
    later.put("c", 5000);
    assert.deepEqual(later.due(2000, 2000), ["a"]);
    assert.deepEqual(later.due(2000, 2000), []);
    assert.deepEqual(later.due(5000, 0), ["b", "c"]);
    assert.equal(later.empty, true);
});
