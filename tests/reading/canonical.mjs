/* "Keys are printed in sorted order, without spaces (RFC 8785 spirit), so that the same log always
 * gives the same bytes": how a state is written, and when two states say the same. */

/** @returns {string} sorted keys (by UTF-16 code units, RFC 8785 section 3.2.3), no spaces */
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (typeof value === "object" && value !== null) {
    const member = (name) => `${JSON.stringify(name)}:${canonical(value[name])}`;
    return `{${Object.keys(value).sort().map(member).join(",")}}`;
  }
  return JSON.stringify(value);
}

// The members of section 4, so that others ("more may be added") are passed over.
// `true` is a plain value; a function takes the value and gives what is to be compared.
const sides = (kind) => ({ red: kind, blue: kind });
/** An object keyed by something open: every member is of one kind. */
const each = (kind) => (value) => isObject(value)
  ? Object.fromEntries(Object.entries(value).map(([key, member]) => [key, pick(member, kind)]))
  : value;
/** "rows of zeros are left out": the same as absent. */
const row = (kind) => (value) => {
  const picked = pick(value, kind);
  const zeros = isObject(picked) && Object.values(picked).every((member) => member === 0);
  return zeros ? undefined : picked;
};
const count = (value) => (value === 0 ? undefined : value);

const SCORE = sides(true);
const LEADER = { side: true, by: true };
const TRIED = row({ tried: true, scored: true, points: true });
const STATE = {
  bout: true, seq: true, phase: true,
  clock: {
    period: true, t_ms: true, left_ms: true, elapsed_ms: true, running: true, unsure: true,
  },
  break: { left_ms: true },
  score: SCORE,
  unconfirmed: SCORE,
  confirmed: { red: true, blue: true, leader: LEADER, due: true, under_review: true },
  holds: sides(each(count)),
  cautions: SCORE,
  passivity: sides({ warning: count, activity: count, penalty: count }),
  challenge: sides({ left: true, open: true }),
  position: { position: true, top: true, ordered: true },
  stoppage: { kind: true, side: true, for_ms: true },
  leader: LEADER,
  due: true,
  due_against: true,
  attacks: sides(row({
    tried: true, scored: true, stopped: true, countered: true,
    by: each(TRIED), leg: { lead: TRIED, trail: TRIED },
  })),
  outlook: sides(each({ red: true, blue: true, leader: LEADER, due: true })),
  needs: sides({ to_lead: true, to_superiority: true }),
  activity: { side: true, left_ms: true, running: true },
  forced_call: { left_ms: true },
  result: {
    how: true, code: true, winner: true, class_points: SCORE, period: true, time_ms: true,
    consistent: true, unconfirmed: true,
  },
};

function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

function pick(value, kind) {
  if (kind === true) return value;
  if (typeof kind === "function") return kind(value);
  if (!isObject(value)) return value;
  const picked = {};
  for (const [member, memberKind] of Object.entries(kind)) {
    const compared = pick(value[member], memberKind);
    // "an empty object may be left out"
    const empty = isObject(compared) && Object.keys(compared).length === 0;
    if (compared !== undefined && !empty) picked[member] = compared;
  }
  return picked;
}

/** A state without what does not matter when two are compared. */
export function comparable(state) {
  return pick(state, STATE);
}

/** @returns {{path: string, one, other}|undefined} the first place where two states differ */
export function difference(one, other, path = "") {
  if (isObject(one) && isObject(other)) {
    const names = [...new Set([...Object.keys(one), ...Object.keys(other)])].sort();
    for (const name of names) {
      const found = difference(one[name], other[name], `${path}/${name}`);
      if (found) return found;
    }
    return undefined;
  }
  return canonical(one) === canonical(other) ? undefined : { path, one, other };
}
