/* JSON as it stands in the text. JSON.parse hides two things that the contract refuses:
 * a member that comes twice, and a number written with a fraction or an exponent. */

/** A number with a fraction or exponent: never an integer, whatever its value. */
export class Decimal {
  constructor(value) {
    this.value = value;
  }
}

export class NotJson extends Error {}

/** @param {string} text one JSON text
 *  @returns the value: integers as numbers, other numbers as Decimal, objects without prototype
 *  @throws {NotJson} also for "a member twice", and for half a surrogate pair (not in UTF-8) */
export function parse(text) {
  let at = 0;

  const wrong = (what) => {
    throw new NotJson(`${what} at character ${at + 1}`);
  };
  const space = () => {
    while (at < text.length && " \t\n\r".includes(text[at])) at++;
  };
  const word = (letters, value) => {
    if (!text.startsWith(letters, at)) wrong("no value");
    at += letters.length;
    return value;
  };

  function string() {
    at++; // the opening quote
    let result = "";
    while (text[at] !== '"') {
      const character = text[at];
      if (character === undefined) wrong("a string does not end");
      if (character < " ") wrong("a control character in a string");
      at++;
      result += character === "\\" ? escaped() : character;
    }
    at++;
    if (!result.isWellFormed()) wrong("half a surrogate pair");
    return result;
  }

  function escaped() {
    const plain = { '"': '"', "\\": "\\", "/": "/", b: "\b", f: "\f", n: "\n", r: "\r", t: "\t" };
    const letter = text[at++];
    if (letter !== "u") return plain[letter] ?? wrong("an unknown escape");
    const digits = text.slice(at, at + 4);
    if (!/^[0-9a-fA-F]{4}$/.test(digits)) wrong("an escape without four digits");
    at += 4;
    return String.fromCharCode(parseInt(digits, 16));
  }

  function number() {
    const [written] = /^-?(0|[1-9]\d*)(\.\d+)?([eE][+-]?\d+)?/.exec(text.slice(at)) ?? [];
    if (written === undefined) wrong("no value");
    at += written.length;
    return /[.eE]/.test(written) ? new Decimal(Number(written)) : Number(written) + 0;
  }

  function array() {
    at++;
    const result = [];
    space();
    if (text[at] === "]") return at++, result;
    for (;;) {
      result.push(value());
      if (text[at] === "]") return at++, result;
      if (text[at++] !== ",") wrong("no comma in an array");
    }
  }

  function object() {
    at++;
    const result = Object.create(null);
    space();
    if (text[at] === "}") return at++, result;
    for (;;) {
      space();
      if (text[at] !== '"') wrong("no member name");
      const name = string();
      if (Object.hasOwn(result, name)) wrong(`member "${name}" twice`);
      space();
      if (text[at++] !== ":") wrong("no colon after a member name");
      result[name] = value();
      if (text[at] === "}") return at++, result;
      if (text[at++] !== ",") wrong("no comma in an object");
    }
  }

  function value() {
    space();
    const first = text[at];
    let result;
    if (first === "{") result = object();
    else if (first === "[") result = array();
    else if (first === '"') result = string();
    else if (first === "t") result = word("true", true);
    else if (first === "f") result = word("false", false);
    else if (first === "n") result = word("null", null);
    else result = number();
    space();
    return result;
  }

  const result = value();
  if (at < text.length) wrong("something after the value");
  return result;
}

/** Compared as JSON values, numbers by value: 1 and 1.0 are the same; the order of members is
 * nothing. */
export function same(one, other) {
  const plain = (value) => (value instanceof Decimal ? value.value : value);
  [one, other] = [plain(one), plain(other)];
  if (Array.isArray(one) || Array.isArray(other)) {
    return Array.isArray(one) && Array.isArray(other) && one.length === other.length &&
      one.every((value, i) => same(value, other[i]));
  }
  if (isObject(one) && isObject(other)) {
    const names = Object.keys(one);
    return names.length === Object.keys(other).length &&
      names.every((name) => Object.hasOwn(other, name) && same(one[name], other[name]));
  }
  return one === other;
}

export function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value) &&
    !(value instanceof Decimal);
}
