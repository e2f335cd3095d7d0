// Many who follow at once, and what becomes of them: for storms.
import WebSocket from "ws";
import { until, within } from "./wait.mjs";

/** One follower that comes back by itself with full jitter, as pages do, and goes on from where it
 *  was. Counts what it hears; a gap in the versions is noted in `gaps`. */
class Follower {
  tries = 0;
  gaps = 0;
  resumed = 0;
  begun = 0;

  constructor(crowd) {
    this.crowd = crowd;
    this.#open();
  }

  #open() {
    const { url, topic } = this.crowd;
    const socket = new WebSocket(url, "boutwire.v1", { perMessageDeflate: false });
    this.socket = socket;
    socket.on("open", () => {
      const { epoch, seq } = this;
      const wish = epoch ? { topic, epoch, seq } : { topic };
      socket.send(JSON.stringify({ subscribe: [wish] }));
    });
    socket.on("message", (text) => this.#hear(JSON.parse(text)));
    socket.on("error", () => {});
    socket.on("close", () => this.#lost());
  }

  #hear({ topic, epoch, from, seq, state }) {
    if (topic === undefined) return;
    this.tries = 0;
    if (state) this.begun++;
    else if (epoch !== this.epoch || from !== this.seq) this.gaps++;
    else if (from === seq) this.resumed++;
    Object.assign(this, { epoch, seq });
  }

  #lost() {
    this.tries++;
    const wait_ms = Math.random() * Math.min(this.crowd.retry_ms_max, 500 * 2 ** this.tries);
    if (!this.crowd.ended) setTimeout(() => this.crowd.ended || this.#open(), wait_ms).unref();
  }
}

export class Crowd {
  ended = false;

  constructor({ url, topic, retry_ms_max = 2000 }) {
    Object.assign(this, { url, topic, retry_ms_max, followers: [] });
  }

  /** Adds so many, a hundred at a time. */
  async grow(count, limit_ms) {
    const wanted = this.followers.length + count;
    while (this.followers.length < wanted) {
      for (let i = 0; i < 100 && this.followers.length < wanted; i++)
        this.followers.push(new Follower(this));
      await this.allAt(1, limit_ms);
    }
  }

  /** Until each has that version, or a later one. */
  allAt(seq, limit_ms) {
    const missing = () => this.followers.filter((one) => !(one.seq >= seq));
    return until(() => missing().length === 0, () => `${missing().length} of the crowd`, limit_ms);
  }

  /** Every line breaks at once, without a goodbye. */
  breakAll() {
    for (const { socket } of this.followers) socket.terminate();
  }

  sum(what) {
    return this.followers.reduce((sum, one) => sum + one[what], 0);
  }

  end() {
    this.ended = true;
    this.breakAll();
    const open = () => this.followers.every(({ socket }) => socket.readyState === WebSocket.CLOSED);
    return within(until(open, "the crowd to go"), "the crowd to go");
  }
}
