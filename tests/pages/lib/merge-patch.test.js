/* RFC 7396, appendix A: every test case, and what our pages rely on besides. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { mergePatch } from "../../../overlay/lib/merge-patch.js";

const APPENDIX_A = [
    [{ a: "b" }, { a: "c" }, { a: "c" }],
    [{ a: "b" }, { b: "c" }, { a: "b", b: "c" }],
    [{ a: "b" }, { a: null }, {}],
    [{ a: "b", b: "c" }, { a: null }, { b: "c" }],
    [{ a: ["b"] }, { a: "c" }, { a: "c" }],
    [{ a: "c" }, { a: ["b"] }, { a: ["b"] }],
    [{ a: { b: "c" } }, { a: { b: "d", c: null } }, { a: { b: "d" } }],
    [{ a: [{ b: "c" }] }, { a: [1] }, { a: [1] }],
    [
        ["a", "b"],
        ["c", "d"],
        ["c", "d"],
    ],
    [{ a: "b" }, ["c"], ["c"]],
    [{ a: "foo" }, null, null],
    [{ a: "foo" }, "bar", "bar"],
    [{ e: null }, { a: 1 }, { e: null, a: 1 }],
    [[1, 2], { a: "b", c: null }, { a: "b" }],
    [{}, { a: { bb: { ccc: null } } }, { a: { bb: {} } }],
];

test("RFC 7396, appendix A", () => {
    for (const [original, patch, want] of APPENDIX_A) {
        const name = `${JSON.stringify(original)} with ${JSON.stringify(patch)}`;
        const before = JSON.stringify(original);
        assert.deepEqual(mergePatch(original, patch), want, name);
        assert.equal(JSON.stringify(original), before, `${name}: the target stays as it was`);
    }
});

test("what a patch does not touch is shared", () => {
    const target = { line: { 1: { side: "red" } }, clock: { t_ms: 1 } };
    assert.equal(mergePatch(target, { clock: { t_ms: 2 } }).line, target.line);
});

test("a member called __proto__ is a member like any other", () => {
    const merged = mergePatch({}, JSON.parse('{"__proto__": {"side": "red"}}'));
    assert.equal(merged.side, undefined);
    assert.deepEqual(Object.keys(merged), ["__proto__"]);
});
