// Events for tests, in shorthand. Names are invented; a bout has a clock of 2 × 3:00.
let made = 0;

/** An id that no other event of this run has. */
export const newId = (name = "e") => `${name}-${++made}`;

const event = (type, bout, more) => ({ id: newId(bout), type, bout, ...more });

/** The event that calls a bout to a mat. */
export const call = (bout, more = {}) =>
  event("bout", bout, {
    rules: "freestyle-2022",
    red: { name: "Ilse Brandt", team: "Harbour" },
    blue: { name: "Noor Haddad", team: "Old Mill" },
    mat: "A",
    style: "freestyle",
    weight: "57",
    ...more,
  });
export const clock = (bout, act, more = {}) => event("clock", bout, { do: act, ...more });
const actions = { 1: "step_out", 2: "takedown", 4: "throw", 5: "throw" };
export const score = (bout, side, points, more = {}) =>
  event("score", bout, { side, points, action: actions[points], ...more });
export const note = (bout, text, to = "public", more = {}) =>
  event("note", bout, { text, to, ...more });
export const voided = (bout, ref, more = {}) => event("void", bout, { ref, ...more });
export const make = event;
