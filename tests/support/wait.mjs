// Waiting for what must come. Nothing in the tests sleeps for a time and hopes: they wait for a
// condition, and LIMIT_MS is only when a test is given up.

export const LIMIT_MS = 60000;

/** Resolves as the promise does, or fails and says what was waited for. */
export function within(promise, what, limit_ms = LIMIT_MS) {
  let timer;
  const limit = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error(`waited in vain for ${describe(what)}`)), limit_ms);
  });
  return Promise.race([promise, limit]).finally(() => clearTimeout(timer));
}

/** Asks again and again until `ask` gives something that is true, and answers that. */
export async function until(ask, what, limit_ms = LIMIT_MS) {
  const end_ms = Date.now() + limit_ms;
  for (;;) {
    const answer = await ask();
    if (answer) return answer;
    if (Date.now() > end_ms) throw new Error(`waited in vain for ${describe(what)}`);
    await new Promise((resume) => setTimeout(resume, 10));
  }
}

/** A list that grows, and that can be waited on. */
export class Growing {
  items = [];
  #waiting = [];
  #end;

  add(item) {
    this.items.push(item);
    this.#look();
  }

  /** Nothing comes any more; whoever waits is told why. */
  end(why) {
    this.#end ??= why;
    this.#look();
  }

  /** The first item from place `from` on of which `is` holds: {item, place}. */
  find(is, what, from = 0) {
    return within(
      new Promise((resolve, reject) => {
        let place = from;
        const look = () => {
          for (; place < this.items.length; place++) {
            if (!is(this.items[place])) continue;
            resolve({ item: this.items[place], place });
            return true;
          }
          if (this.#end) reject(new Error(`${this.#end} before ${describe(what)}`));
          return Boolean(this.#end);
        };
        if (!look()) this.#waiting.push(look);
      }),
      what,
    );
  }

  #look() {
    this.#waiting = this.#waiting.filter((look) => !look());
  }
}

const describe = (what) => (typeof what === "function" ? what() : what);
