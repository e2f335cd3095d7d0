/* The line to the daemon: resuming, patches that don't fit, silence, and what is sent when. The
 * socket, the clock and chance are the test's own; nothing waits for time to pass. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
    AUDIENCES,
    Connection,
    retryDelay,
    trustAfter,
    wireAddress,
} from "../../../overlay/lib/connection.js";

class FakeSocket {
    readyState = 0;
    sent = [];
    send(text) {
        this.sent.push(JSON.parse(text));
    }
    open() {
        this.readyState = 1;
        this.onopen();
    }
    hear(message) {
        this.onmessage({ data: JSON.stringify(message) });
    }
    close() {
        this.readyState = 3;
        this.onclose?.();
    }
    of(member) {
        return this.sent.filter((message) => member in message).map((message) => message[member]);
    }
}

/* A line whose sockets are made here: `next()` waits for the next one. */
function rig(options = {}) {
    const sockets = [];
    let wake = () => {};
    const clock = { now_ms: 1000000 };
    const makeSocket = () => {
        const socket = new FakeSocket();
        sockets.push(socket);
        wake();
        return socket;
    };
    const line = new Connection({
        address: "ws://hall/ws",
        makeSocket,
        now: () => clock.now_ms,
        random: () => 0,
        ...options,
    });
    let taken = 0;
    const next = async () => {
        while (sockets.length <= taken)
            await new Promise((resolve) => {
                wake = resolve;
            });
        return sockets[taken++];
    };
    return { line, next, clock };
}

const settled = () =>
    new Promise((resolve) => {
        setImmediate(resolve);
    });

test("first hello, then the topics, then the clock", async () => {
    const { line, next } = rig();
    line.follow("mat/A/table", () => {});
    const socket = await next();
    socket.open();
    assert.deepEqual(socket.sent.slice(0, 2), [
        { hello: {} },
        { subscribe: [{ topic: "mat/A/table" }] },
    ]);
    assert.equal(socket.of("clock").length, 1);
    assert.equal(line.connected, false, "nobody has spoken yet");
    socket.hear({ beat: { now: "2027-05-08T10:00:00.000Z" } });
    assert.equal(line.connected, true);
    line.close();
});

test("a snapshot, then patches; after a break it names the last it saw and goes on from there", async () => {
    const { line, next } = rig();
    const states = [];
    line.follow("out/main", (state, { fresh }) => states.push([state, fresh]));
    const first = await next();
    first.open();
    first.hear({ topic: "out/main", epoch: "e1", seq: 4, state: { a: 1, b: 2 } });
    first.hear({ topic: "out/main", epoch: "e1", from: 4, seq: 5, patch: { b: null } });
    first.hear({ topic: "out/main", epoch: "e1", from: 4, seq: 5, patch: { a: 99 } });
    assert.deepEqual(
        states,
        [
            [{ a: 1, b: 2 }, true],
            [{ a: 1 }, false],
        ],
        "a version seen before changes nothing",
    );
    first.close();
    assert.equal(line.connected, false);
    const second = await next();
    second.open();
    assert.deepEqual(second.of("subscribe"), [[{ topic: "out/main", epoch: "e1", seq: 5 }]]);
    second.hear({ topic: "out/main", epoch: "e1", from: 5, seq: 6, patch: { c: 3 } });
    assert.deepEqual(states.at(-1), [{ a: 1, c: 3 }, false]);
    line.close();
});

test("a patch that doesn't fit, and another life of the store, ask for a snapshot", async () => {
    for (const patch of [
        { epoch: "e1", from: 7, seq: 8 },
        { epoch: "e2", from: 4, seq: 5 },
    ]) {
        const { line, next } = rig();
        const states = [];
        line.follow("out/main", (state) => states.push(state));
        const socket = await next();
        socket.open();
        socket.hear({ topic: "out/main", epoch: "e1", seq: 4, state: { a: 1 } });
        socket.hear({ topic: "out/main", ...patch, patch: { a: 2 } });
        assert.deepEqual(states, [{ a: 1 }]);
        assert.deepEqual(socket.of("unsubscribe"), [["out/main"]]);
        assert.deepEqual(socket.of("subscribe").at(-1), [{ topic: "out/main" }]);
        socket.hear({ topic: "out/main", epoch: "e2", seq: 9, state: { a: 3 } });
        assert.deepEqual(states.at(-1), { a: 3 });
        line.close();
    }
});

test("listeners of one topic share it; the last to leave ends it", async () => {
    const { line, next } = rig();
    const socket = await next();
    socket.open();
    const heard = [];
    const leaveOne = line.follow("day/follow", () => heard.push("one"));
    socket.hear({ topic: "day/follow", epoch: "e", seq: 1, state: {} });
    const leaveTwo = line.follow("day/follow", () => heard.push("two"));
    assert.deepEqual(heard, ["one", "two"], "who comes later gets what is there");
    assert.equal(socket.of("subscribe").length, 1);
    leaveOne();
    assert.deepEqual(socket.of("unsubscribe"), []);
    leaveTwo();
    assert.deepEqual(socket.of("unsubscribe"), [["day/follow"]]);
    line.close();
});

test("events are acknowledged or refused, and sent again after a break", async () => {
    const { line, next } = rig();
    const first = await next();
    const one = line.send({ id: "one", type: "clock", do: "start" });
    const two = line.send({ id: "two", type: "clock", do: "stop" });
    assert.equal(line.waiting, 2);
    first.open();
    await settled();
    assert.deepEqual(
        first.of("event").map(({ id }) => id),
        ["one", "two"],
    );
    first.hear({ ack: { id: "one", seq: 8 } });
    assert.deepEqual(await one, { id: "one", seq: 8 });
    first.close();
    const second = await next();
    second.open();
    await settled();
    assert.deepEqual(
        second.of("event").map(({ id }) => id),
        ["two"],
    );
    second.hear({
        problem: {
            type: "about:blank",
            status: 422,
            title: "Refused",
            detail: "no such bout",
            id: "two",
        },
    });
    await assert.rejects(two, /no such bout/);
    assert.equal(line.waiting, 0);
    line.close();
});

test("a problem that answers no event is told to the page", async () => {
    const { line, next } = rig();
    const socket = await next();
    socket.open();
    const problems = [];
    line.addEventListener("problem", ({ detail }) => problems.push(detail.status));
    socket.hear({ problem: { type: "about:blank", status: 404, title: "No such topic" } });
    assert.deepEqual(problems, [404]);
    line.close();
});

test("the daemon's clock, from the answer with the shortest way", async () => {
    const { line, next, clock } = rig();
    const socket = await next();
    socket.open();
    const [asked] = socket.of("clock");
    clock.now_ms += 20;
    socket.hear({
        clock: { t0_ms: asked.t0_ms, t1_ms: asked.t0_ms + 5010, t2_ms: asked.t0_ms + 5010 },
    });
    assert.equal(line.now(), clock.now_ms + 5000);
    assert.equal(line.clockError_ms, 10);
    assert.equal(line.stamp(), new Date(clock.now_ms + 5000).toISOString());
    socket.hear({ clock: { t0_ms: 1, t1_ms: 2, t2_ms: 3 } });
    assert.equal(line.clockError_ms, 10, "an answer to nothing");
    line.close();
});

test("before the first answer, a beat is a guess", async () => {
    const { line, next, clock } = rig();
    const socket = await next();
    socket.open();
    socket.hear({ beat: { now: new Date(clock.now_ms + 70000).toISOString() } });
    assert.equal(line.now(), clock.now_ms + 70000);
    line.close();
});

test("silence makes the clock unsure, then hides it", () => {
    const { desk, viewer } = AUDIENCES;
    const rows = [
        [0, "sure"],
        [2999, "sure"],
        [3000, "unsure"],
        [9999, "unsure"],
        [10000, "hidden"],
        [Infinity, "hidden"],
    ];
    for (const [silent_ms, want] of rows)
        assert.equal(trustAfter(silent_ms, desk), want, String(silent_ms));
    assert.equal(trustAfter(29999, viewer), "sure", "viewers get a beat every 15 s");
    assert.equal(trustAfter(30000, viewer), "unsure");
});

test("tries come at random within a bound that doubles", () => {
    const most = (tries) => retryDelay(tries, 15000, () => 1);
    assert.deepEqual([0, 1, 2, 5, 20].map(most), [500, 1000, 2000, 15000, 15000]);
    assert.equal(
        retryDelay(9, 15000, () => 0),
        0,
    );
});

test("the address is the page's own, base path and all", () => {
    assert.equal(wireAddress("http://hall:7600/lib/connection.js"), "ws://hall:7600/ws");
    assert.equal(wireAddress("https://hall/live/lib/connection.js"), "wss://hall/live/ws");
});

/* ---- actions to outputs ---- */

test("an action is answered by its id: done, or refused with the reason", async () => {
    const { line, next } = rig();
    const problems = [];
    line.addEventListener("problem", ({ detail }) => problems.push(detail));
    const socket = await next();
    socket.open();
    const take = line.act("main", { take: { panel: "who" } });
    const clear = line.act("main", { clear: {} });
    const [first, second] = socket.sent.filter((message) => "do" in message);
    assert.deepEqual([first.output, first.do], ["main", { take: { panel: "who" } }]);
    assert.notEqual(first.id, second.id);
    socket.hear({ done: { do: "clear", output: "main", version: 3, id: second.id } });
    assert.equal((await clear).version, 3);
    socket.hear({
        problem: { type: "/problem/withheld", status: 409, title: "no", detail: "why", id: first.id },
    });
    await assert.rejects(take, { name: "Refusal", message: "why" });
    socket.hear({ done: { do: "hold", output: "main", version: 4 } });
    assert.deepEqual(problems, [], "an answer to another's action, or to none, is nobody's");
    line.close();
});

test("an action is never kept for later: unsent without a line, unknown when it breaks", async () => {
    const { line, next } = rig();
    const unsent = await line.act("main", { take: {} }).catch(({ problem }) => problem);
    assert.equal(unsent.unsent, true);
    const first = await next();
    first.open();
    const broken = line.act("main", { clear: {} }).catch(({ problem }) => problem);
    first.close();
    assert.equal((await broken).unknown, true);
    const second = await next();
    second.open();
    await settled();
    assert.deepEqual(second.of("do"), [], "nothing is sent again");
    line.close();
});

test("an action for want of a key is refused, and what the key lacks is known", async () => {
    const { line, next } = rig();
    const socket = await next();
    socket.open();
    const take = line.act("main", { take: {} });
    socket.hear({ hello: { role: "public" } });
    const { id } = socket.sent.find((message) => "do" in message);
    socket.hear({ problem: { type: "/problem/key-needed", status: 401, title: "no", id } });
    await assert.rejects(take, /no/);
    assert.equal(line.access, "key_needed");
    line.close();
});

test("cutting somebody off is said once, and not without a line", async () => {
    const { line, next } = rig();
    assert.equal(line.cutOff("12"), false);
    const socket = await next();
    socket.open();
    assert.equal(line.cutOff("12"), true);
    assert.deepEqual(socket.of("cut"), [{ connected: "12" }]);
    line.close();
});

/* ---- keys ---- */

const refusal = (type, more) => ({
    problem: { type: `/problem/${type}`, status: 401, title: "no", ...more },
});

test("a key is shown first, and what it opens is known", async () => {
    const { line, next } = rig({ key: "abc" });
    const socket = await next();
    socket.open();
    assert.deepEqual(socket.sent[0], { hello: { key: "abc" } });
    socket.hear({ hello: { role: "table", mat: "A", name: "ann" } });
    assert.deepEqual(line.granted, { role: "table", mat: "A", name: "ann" });
    assert.equal(line.access, "open");
    line.close();
});

test("refused for want of a key: said, and what was keyed stays until one opens", async () => {
    const { line, next } = rig();
    const answers = [];
    const event = { id: "e1", type: "score" };
    line.send(event).then((ack) => answers.push(ack));
    let changes = 0;
    line.addEventListener("change", () => changes++);
    const first = await next();
    first.open();
    first.hear({ hello: { role: "public" } });
    first.hear(refusal("key-needed", { id: "e1" }));
    assert.equal(line.access, "key_needed");
    assert.equal(line.connected, false, "nothing that we asked for has come");
    assert.equal(line.waiting, 1);
    assert.ok(changes > 0);
    first.close();
    const second = await next();
    second.open();
    second.hear({ hello: { role: "public" } });
    assert.equal(line.access, "key_needed", "a greeting opens nothing");
    line.useKey("abc");
    const third = await next();
    third.open();
    assert.deepEqual(third.sent[0], { hello: { key: "abc" } });
    third.hear({ hello: { role: "table" } });
    assert.equal(line.access, "open");
    await settled();
    assert.deepEqual(third.of("event"), [event]);
    third.hear({ ack: { id: "e1", seq: 7 } });
    await settled();
    assert.deepEqual(answers, [{ id: "e1", seq: 7 }]);
    assert.equal(line.connected, true);
    line.close();
});

test("a key that comes while the line is opening is shown on that line", async () => {
    const { line, next } = rig();
    const socket = await next();
    line.useKey("abc");
    assert.equal(socket.readyState, 0, "it is not closed");
    socket.open();
    assert.deepEqual(socket.sent[0], { hello: { key: "abc" } });
    line.close();
});

test("a topic that our key doesn't open is said, until we leave it", async () => {
    const { line, next } = rig({ key: "abc" });
    const leave = line.follow("mat/B/table", () => {});
    const socket = await next();
    socket.open();
    socket.hear({ hello: { role: "table", mat: "A" } });
    socket.hear(refusal("forbidden", { status: 403, pointer: "/subscribe", detail: "mat/B/table" }));
    assert.equal(line.access, "forbidden");
    leave();
    assert.equal(line.access, "open");
    line.close();
});

test("an ended key is said, and not told as a problem of the page's", async () => {
    const { line, next } = rig({ key: "abc" });
    const problems = [];
    line.addEventListener("problem", ({ detail }) => problems.push(detail));
    const socket = await next();
    socket.open();
    socket.hear(refusal("key-ended", { pointer: "/hello/key" }));
    assert.equal(line.access, "key_ended");
    assert.deepEqual(problems, []);
    line.close();
});
