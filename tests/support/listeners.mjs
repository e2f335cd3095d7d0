// Those who listen to a daemon: a WebSocket, an event stream, a reader of plain text. Each puts
// topics together from what it hears, by two readings of RFC 7396 (the pages' own and an
// independent one) that must agree, and sees that no version is left out.
import assert from "node:assert/strict";
import { get } from "node:http";
import { EventSource } from "eventsource";
import independent from "json-merge-patch";
import WebSocket from "ws";
import { mergePatch } from "../../overlay/lib/merge-patch.js";
import { Growing, within } from "./wait.mjs";

/** Every topic there is, with those mats. */
export const topicsOf = (...mats) => [
  ...mats.flatMap((mat) =>
    ["table", "booth", "follow"].map((audience) => `mat/${mat}/${audience}`),
  ),
  "out/main",
  "day/follow",
  "day/booth",
];

/** A topic as somebody who listens has it. */
export class Heard {
  states = 0;
  patches = 0;

  constructor(topic) {
    this.topic = topic;
  }

  take(message) {
    assert.equal(message.topic, this.topic);
    if ("state" in message) this.#takeState(message);
    else this.#takePatch(message);
    assert.ok(!JSON.stringify(this.state).includes(":null"), "a topic never holds null");
  }

  #takeState({ epoch, seq, state }) {
    assert.ok(Number.isInteger(seq) && seq >= 1);
    Object.assign(this, { epoch, seq, state, states: this.states + 1 });
  }

  #takePatch({ epoch, from, seq, patch }) {
    assert.equal(epoch, this.epoch);
    assert.equal(from, this.seq, "a patch goes on from where we are");
    assert.ok(
      seq === from + 1 || (seq === from && Object.keys(patch).length === 0),
      `from ${from} to ${seq}`,
    );
    const state = mergePatch(this.state, patch);
    const opinion = independent.apply(structuredClone(this.state), structuredClone(patch));
    assert.deepEqual(state, opinion);
    Object.assign(this, { seq, state, patches: this.patches + 1 });
  }

  /** As it was when it was last looked at: to be resumed from. */
  get place() {
    return { topic: this.topic, epoch: this.epoch, seq: this.seq };
  }
}

/** Listens by WebSocket. `heard` are all messages in order, `topics` what they make. */
export class Line {
  heard = new Growing();
  topics = new Map();
  #socket;

  /** @param {import("./daemon.mjs").Daemon | {socketUrl: string, socketOptions: object}} daemon
   *  @param {string[]} topics to follow at once; answers when each has its first state */
  static open(daemon, ...topics) {
    return Line.greet(daemon, { hello: {} }, ...topics);
  }

  /** The same with a key. */
  static openWith(daemon, key, ...topics) {
    return Line.greet(daemon, { hello: { key } }, ...topics);
  }

  /** @param {object | undefined} first what is said first; undefined: nothing */
  static async greet(daemon, first, ...topics) {
    const line = new Line();
    line.#socket = new WebSocket(
      daemon.socketUrl ?? `ws://${daemon.host}:${daemon.port}/ws`,
      "boutwire.v1",
      daemon.socketOptions,
    );
    line.#socket.on("message", (text) => line.#hear(String(text)));
    line.#socket.on("close", () => line.heard.end("the WebSocket closed"));
    line.closed = new Promise((resolve) =>
      line.#socket.on("close", (code, reason) => resolve({ code, reason: String(reason) })),
    );
    await within(
      new Promise((resolve, reject) => {
        line.#socket.on("open", resolve);
        line.#socket.on("error", reject);
      }),
      "a WebSocket",
    );
    assert.equal(line.#socket.protocol, "boutwire.v1");
    if (first) line.say(first);
    if (topics.length > 0) await line.follow(...topics);
    return line;
  }

  async follow(...topics) {
    this.say({ subscribe: topics.map((topic) => ({ topic })) });
    for (const topic of topics) await this.find((message) => message.topic === topic, topic);
  }

  /** Goes on from what somebody else has heard (or this line did, earlier). */
  resume(...heard) {
    for (const one of heard) {
      const copy = Object.assign(new Heard(one.topic), one, { states: 0, patches: 0 });
      this.topics.set(one.topic, copy);
    }
    this.say({ subscribe: heard.map(({ place }) => place) });
  }

  say(message) {
    this.sayText(JSON.stringify(message));
  }

  sayText(text) {
    this.#socket.send(text);
  }

  #hear(text) {
    try {
      const message = JSON.parse(text);
      assert.ok(!("problem" in message) || message.problem.title, text);
      if ("topic" in message) this.#topic(message.topic).take(message);
      this.heard.add(message);
    } catch (error) {
      this.heard.end(`heard ${text.slice(0, 300)}: ${error.message}`);
    }
  }

  #topic(name) {
    if (!this.topics.has(name)) this.topics.set(name, new Heard(name));
    return this.topics.get(name);
  }

  /** The first message from `from` on of which `is` holds. */
  async find(is, what, from = 0) {
    return (await this.heard.find(is, what, from)).item;
  }

  /** What is said about one event: its ack or its problem. */
  async answer(id, from = 0) {
    return this.find(({ ack, problem }) => (ack ?? problem)?.id === id, `an answer to ${id}`, from);
  }

  /** The topic's state once it has reached a version, or satisfies a condition. */
  async state(topic, is) {
    const reached =
      typeof is === "function"
        ? () => is(this.topics.get(topic).state)
        : () => this.topics.get(topic).seq >= is;
    if (this.topics.has(topic) && reached()) return this.topics.get(topic).state;
    await this.find(
      (message) => message.topic === topic && reached(),
      () => `${topic}, ${is}, at ${JSON.stringify(this.topics.get(topic)).slice(0, 600)}`,
      this.heard.items.length,
    );
    return this.topics.get(topic).state;
  }

  /** Asks the daemon's clock: its answer is also the proof that all said before was heard. */
  async clock(t0_ms = Date.now()) {
    const from = this.heard.items.length;
    this.say({ clock: { t0_ms } });
    return (await this.find((message) => message.clock?.t0_ms === t0_ms, "the clock", from)).clock;
  }

  /** Reads nothing more, until `readOn`: a slow client. */
  stopReading() {
    this.#socket.pause();
  }

  readOn() {
    this.#socket.resume();
  }

  close() {
    this.#socket.close();
    return within(this.closed, "the WebSocket to close");
  }

  /** Without a word: as when a laptop is shut. */
  break() {
    this.#socket.terminate();
  }
}

/** Listens to an event stream of one topic, as a browser would. */
export class Stream {
  heard = new Growing();
  ids = [];

  static async open(url, topic) {
    const stream = new Stream();
    stream.topic = new Heard(topic);
    stream.source = new EventSource(`${url}sse/${topic}`);
    for (const kind of ["state", "patch", "beat"])
      stream.source.addEventListener(kind, (event) => stream.#hear(kind, event));
    await stream.heard.find(({ kind }) => kind === "state", `a stream of ${topic}`);
    return stream;
  }

  #hear(kind, { data, lastEventId }) {
    try {
      const message = JSON.parse(data);
      if (kind === "beat") assert.ok(Date.parse(message.beat.now) > 0, data);
      else {
        assert.ok(kind in message, data);
        this.topic.take(message);
        assert.equal(lastEventId, `${message.epoch}-${message.seq}`);
      }
      this.heard.add({ kind, message });
    } catch (error) {
      this.heard.end(`heard ${data.slice(0, 300)}: ${error.message}`);
    }
  }

  /** The state once it has reached a version, or satisfies a condition. */
  async state(is) {
    const reached = () => (typeof is === "function" ? is(this.topic.state) : this.topic.seq >= is);
    if (!reached())
      await this.heard.find(
        ({ kind }) => kind !== "beat" && reached(),
        () => `${is}, at ${JSON.stringify(this.topic).slice(0, 600)}`,
        this.heard.items.length,
      );
    return this.topic.state;
  }

  close() {
    this.source.close();
  }
}

/** A GET that goes on: its status and headers, and its text as it grows. */
export class Reading {
  text = "";
  grown = new Growing();

  static open(daemon, path, headers = {}) {
    const reading = new Reading();
    return within(
      new Promise((resolve, reject) => {
        reading.request = get(
          { host: daemon.host, port: daemon.port, path, headers, agent: false },
          (answer) => {
            Object.assign(reading, { status: answer.statusCode, headers: answer.headers });
            answer.setEncoding("utf8").on("data", (piece) => {
              reading.text += piece;
              reading.grown.add(piece);
            });
            answer.on("error", () => {});
            answer.on("close", () => reading.grown.end("the answer ended"));
            resolve(reading);
          },
        );
        reading.request.on("error", reject);
      }),
      path,
    );
  }

  /** The whole lines that have come. */
  get lines() {
    return this.text.split("\n").slice(0, -1);
  }

  async until(is, what) {
    if (!is(this.text))
      await this.grown.find(
        () => is(this.text),
        () => `${what} in ${JSON.stringify(this.text)}`,
        this.grown.items.length,
      );
    return this.text;
  }

  close() {
    this.request.destroy();
  }
}
