/* Chance that can be repeated: the same seed gives the same throws, on every machine. */

/** mulberry32: 32 bits of state, good enough to choose test events by. */
export class Dice {
  #state;

  constructor(seed) {
    this.#state = seed >>> 0;
  }

  /** @returns {number} from 0, below 1 */
  throw() {
    this.#state = (this.#state + 0x6d2b79f5) >>> 0;
    let mixed = this.#state;
    mixed = Math.imul(mixed ^ (mixed >>> 15), mixed | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  }

  chance(probability) {
    return this.throw() < probability;
  }

  /** An integer from `least` to `most`, both included. */
  integer(least, most) {
    return least + Math.floor(this.throw() * (most - least + 1));
  }

  one(list) {
    return list[this.integer(0, list.length - 1)];
  }

  /** One of the keys, each as often as its weight says. */
  weighed(weights) {
    const entries = Object.entries(weights);
    let rest = this.throw() * entries.reduce((total, [, weight]) => total + weight, 0);
    for (const [key, weight] of entries) {
      rest -= weight;
      if (rest < 0) return key;
    }
    return entries.at(-1)[0];
  }

  shuffled(list) {
    const result = [...list];
    for (let i = result.length - 1; i > 0; i--) {
      const j = this.integer(0, i);
      [result[i], result[j]] = [result[j], result[i]];
    }
    return result;
  }

  /** Some of the list, in its order; at least one. */
  some(list) {
    const chosen = list.filter(() => this.chance(0.4));
    return chosen.length > 0 ? chosen : [this.one(list)];
  }
}
