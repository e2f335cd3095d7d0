/* Keys are never lost: the queue through refusals, broken lines and a reload. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { memoryStore, Outbox, Refusal } from "../../../overlay/lib/outbox.js";

const event = (id) => ({ id, type: "score", side: "red", points: 2 });
const line = () => {
    const sent = [];
    const transmit = (one) => sent.push(one.id);
    return { sent, transmit };
};

test("what is keyed without a line goes out once the line is up, in order", async () => {
    const outbox = new Outbox(memoryStore());
    const { sent, transmit } = line();
    const answers = ["a", "b", "c"].map((id) => outbox.add(event(id)));
    assert.equal(outbox.waiting, 3);
    await outbox.opened(transmit);
    assert.deepEqual(sent, ["a", "b", "c"]);
    outbox.acknowledged({ id: "a", seq: 7 });
    assert.deepEqual(await answers[0], { id: "a", seq: 7 });
    assert.equal(outbox.waiting, 2);
});

test("each is sent once a line, and again with the same id after it broke", async () => {
    const outbox = new Outbox(memoryStore());
    const first = line();
    await outbox.opened(first.transmit);
    const answer = outbox.add(event("a"));
    await outbox.ready;
    assert.equal(outbox.add(event("a")), answer, "the same key again is the same promise");
    outbox.again();
    assert.deepEqual(first.sent, ["a"]);
    outbox.closed();
    outbox.add(event("b"));
    await outbox.ready;
    const second = line();
    await outbox.opened(second.transmit);
    assert.deepEqual(first.sent, ["a"]);
    assert.deepEqual(second.sent, ["a", "b"]);
    outbox.acknowledged({ id: "a", seq: 1 });
    outbox.acknowledged({ id: "a", seq: 1 });
    assert.equal((await answer).seq, 1);
});

test("what waits survives a reload, before what is keyed after it", async () => {
    const store = memoryStore();
    const before = new Outbox(store);
    before.add(event("a"));
    before.add(event("b"));
    await before.ready;
    const told = [];
    const after = new Outbox(store, () => told.push(after.waiting));
    after.add(event("c"));
    const { sent, transmit } = line();
    await after.opened(transmit);
    assert.deepEqual(sent, ["a", "b", "c"]);
    assert.equal(told.at(-1), 3);
    for (const id of ["a", "b", "c"]) after.acknowledged({ id, seq: 1 });
    assert.equal(after.waiting, 0);
    assert.deepEqual(await store.all(), []);
});

test("a refusal is the daemon's answer, in its own words, and the event goes", async () => {
    const outbox = new Outbox(memoryStore());
    const answer = outbox.add(event("a"));
    const problem = {
        id: "a",
        status: 422,
        title: "Refused",
        detail: "points: 3 is not a value of the edition",
    };
    assert.equal(outbox.refused(problem), "settled");
    await assert.rejects(
        answer,
        (error) => error instanceof Refusal && error.message === problem.detail,
    );
    assert.equal(outbox.waiting, 0);
    assert.equal(outbox.refused({ id: "other", status: 422, title: "Refused" }), "not ours");
});

test("a full disk is no answer: the event stays and goes out again", async () => {
    const outbox = new Outbox(memoryStore());
    const { sent, transmit } = line();
    outbox.add(event("a"));
    await outbox.opened(transmit);
    assert.equal(outbox.refused({ id: "a", status: 507, title: "The disk refused" }), "kept");
    assert.equal(outbox.waiting, 1);
    outbox.again();
    assert.deepEqual(sent, ["a", "a"]);
});

test("a store that fails loses nothing that the page still has", async () => {
    const broken = {
        all: () => Promise.reject(new Error("no store")),
        put: () => Promise.reject(new Error("full")),
        remove: () => Promise.reject(new Error("gone")),
    };
    const outbox = new Outbox(broken);
    const { sent, transmit } = line();
    const answer = outbox.add(event("a"));
    await outbox.opened(transmit);
    assert.deepEqual(sent, ["a"]);
    outbox.acknowledged({ id: "a", seq: 3 });
    assert.equal((await answer).seq, 3);
});

test("a line that breaks while the store is read sends nothing into the void", async () => {
    let loaded;
    const store = {
        ...memoryStore(),
        all: () =>
            new Promise((resolve) => {
                loaded = resolve;
            }),
    };
    const outbox = new Outbox(store);
    const { sent, transmit } = line();
    const opening = outbox.opened(transmit);
    outbox.add(event("a"));
    outbox.closed();
    loaded([]);
    await opening;
    assert.deepEqual(sent, []);
    assert.equal(outbox.waiting, 1);
});
