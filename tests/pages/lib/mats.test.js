/* The day's mats in order. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { firstMat, matNames } from "../../../overlay/lib/mats.js";

test("mats stand as people count them", () => {
    const mats = { "Mat 10": {}, 2: {}, "Mat 2": {}, A: {}, 10: {}, "": {}, ä: {} };
    assert.deepEqual(matNames({ mats }), ["", "2", "10", "A", "ä", "Mat 2", "Mat 10"]);
    assert.equal(firstMat({ mats: { B: {}, A: {} } }), "A");
});

test("before the first bout there is none", () => {
    for (const day of [undefined, {}, { mats: {} }]) {
        assert.deepEqual(matNames(day), []);
        assert.equal(firstMat(day), undefined);
    }
});
