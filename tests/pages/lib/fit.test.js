/* How names stand on air: alike in both lanes, as large as they fit, the team where there is room. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { fitNames, largest } from "../../../overlay/screen/fit.js";

const WIDTH = 664;
/* Half as wide as high, a letter: near enough to see what is chosen. */
const measure = (text, _, size) => text.length * size * 0.5;
const lane = (given, family, team) => ({ name: `${given} ${family}`, family, team });
const fitted = (...lanes) => fitNames(lanes, WIDTH, measure);

test("names and teams, as much as there is room for", () => {
    const rows = [
        ["all of it", [lane("Ann", "Ro", "BK"), lane("Eva", "Li", "AC")], 62, "Ann Ro", true],
        ["family names, for the team", [lane("Annabella", "Rochford", "Harbour"), lane("Eva", "Li", "AC")],
            62, "Rochford", true],
        ["a little smaller, for the team", [lane("Annabella", "Rochfordshire", "Old Harbours"), lane("Eva", "Li", "AC")],
            54, "Rochfordshire", true],
        ["whole names, the team has no room", [lane("Annabel", "Rochfordshire", "Harbour Wrestlers"), lane("Eva", "Li", "AC")],
            62, "Annabel Rochfordshire", false],
        ["smaller whole names", [lane("Annabella-Maria", "Rochfordshire", "Harbour Wrestlers"), lane("Eva", "Li")],
            42, "Annabella-Maria Rochfordshire", false],
        ["too long for whole names", [lane("Annabella-Maria-Stella", "Rochfordshire", "Harbour Wrestlers"), lane("Eva", "Li")],
            62, "Rochfordshire", false],
        ["nobody has a team", [lane("Ann", "Ro"), lane("Eva", "Li")], 62, "Ann Ro", false],
    ];
    for (const [name, lanes, size, first, teams] of rows) {
        const got = fitted(...lanes);
        assert.deepEqual([got.size, got.names[0], got.teams], [size, first, teams], name);
    }
});

test("two of one family are told apart", () => {
    const { names } = fitted(lane("Annabella", "Rochford", "Harbour"), lane("Eva", "Rochford", "Harbour"));
    assert.deepEqual(names, ["Annabella Rochford", "Eva Rochford"]);
});

test("what has no room at any size is never smaller than can be read", () => {
    const long = { name: "x".repeat(100) };
    assert.deepEqual(fitNames([long, long], WIDTH, measure),
        { size: 42, names: [long.name, long.name], teams: false });
    assert.equal(largest([3, 2, 1], () => false), 1);
});
