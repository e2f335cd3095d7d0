/* Keys in addresses, and what is said of them. The window is the test's own. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { hasKey, lineWord, needsKey, pageKey, refusalOf } from "../../../overlay/lib/access.js";

/* As much of a window as a key needs. */
function windowAt(address, kept = {}) {
    const page = {
        location: new URL(address),
        shown: undefined,
        sessionStorage: {
            getItem: (name) => kept[name] ?? null,
            setItem: (name, value) => void (kept[name] = value),
        },
        history: {
            state: { some: "state" },
            replaceState: (state, title, path) => {
                assert.deepEqual(state, { some: "state" });
                page.shown = path;
            },
        },
    };
    return page;
}

test("the key of the address is taken out of it, and kept for this tab", () => {
    const kept = {};
    const page = windowAt("http://hall/w/table/?mat=A#key=abc", kept);
    assert.equal(hasKey(page.location), true);
    assert.equal(pageKey(page), "abc");
    assert.equal(page.shown, "/w/table/?mat=A");
    assert.equal(pageKey(windowAt("http://hall/w/booth/", kept)), "abc");
    assert.equal(pageKey(windowAt("http://hall/w/booth/#key=def", kept)), "def");
    assert.equal(pageKey(windowAt("http://hall/w/booth/", kept)), "def");
});

test("what else the fragment says stays", () => {
    const page = windowAt("http://hall/follow/#part=log&key=abc");
    assert.equal(pageKey(page), "abc");
    assert.equal(page.shown, "/follow/#part=log");
});

test("without a key nothing changes, and one in the query is none", () => {
    const page = windowAt("http://hall/table/?key=abc#log");
    assert.equal(hasKey(page.location), false);
    assert.equal(pageKey(page), undefined);
    assert.equal(page.shown, undefined);
    assert.equal(pageKey(windowAt("http://hall/#key=")), undefined);
});

test("a browser that keeps nothing: the key holds for this visit", () => {
    const page = windowAt("http://hall/table/#key=abc");
    page.sessionStorage.getItem = page.sessionStorage.setItem = () => {
        throw new Error("SecurityError");
    };
    assert.equal(pageKey(page), "abc");
    page.location.hash = "";
    assert.equal(pageKey(page), undefined);
});

test("which problems are about our key", () => {
    const of = (type, pointer) => refusalOf({ type: `/problem/${type}`, pointer });
    assert.equal(of("key-needed"), "key_needed");
    assert.equal(of("key-unknown"), "key_unknown");
    assert.equal(of("key-ended"), "key_ended");
    assert.equal(of("forbidden", "/subscribe"), "forbidden");
    assert.equal(of("forbidden"), undefined, "an event that we may not key is that event's refusal");
    assert.equal(of("topic", "/subscribe"), undefined);
});

test("which pages need a key, or another one", () => {
    const pages = ["follow", "screen", "booth", "table", "gallery", "sheet"];
    const need = (role, access = "open") =>
        pages.filter((page) => needsKey(role && { role }, access, page));
    assert.deepEqual(need(undefined), [], "before the daemon has spoken nothing is said");
    assert.deepEqual(need("anyone"), []);
    assert.deepEqual(need("public"), ["booth", "table", "gallery", "sheet"]);
    assert.deepEqual(need("follow"), ["booth", "table", "gallery", "sheet"]);
    assert.deepEqual(need("booth"), ["table", "gallery"]);
    assert.deepEqual(need("table"), ["gallery"]);
    assert.deepEqual(need("gallery"), ["table"]);
    assert.deepEqual(need("public", "key_needed"), pages, "a private day");
});

test("the word for the line", () => {
    const word = (connected, access, ms) => lineWord({ connected, access }, ms);
    assert.equal(word(true, "open", 0), "connected");
    assert.equal(word(false, "open", 0), "connecting");
    assert.equal(word(false, "open", 3001), "not_connected");
    assert.equal(word(false, "key_ended", 0), "key_ended");
    assert.equal(word(true, "forbidden", 9999), "forbidden");
});
