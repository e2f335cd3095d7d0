/* Names of what is kept in the browser: each daemon of a host has its own. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { ownName } from "../../../overlay/lib/own-name.js";

test("the name alone at the root, with the path below one", () => {
    assert.equal(ownName("boutwire-key", "http://hall:7600/lib/own-name.js"), "boutwire-key");
    assert.equal(ownName("boutwire-key", "https://hall/a/lib/own-name.js"), "boutwire-key /a/");
    assert.equal(ownName("boutwire-key", "https://hall/a/b/lib/own-name.js"), "boutwire-key /a/b/");
});
