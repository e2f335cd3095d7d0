// The store from outside, while no daemon holds it: what a disk, a clock or a stranger may have
// done to it. By SQLite's own command line tool, so that it is no second reading of ours.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";

export function sql(path, statements) {
  return execFileSync("sqlite3", ["-bail", path, statements], { encoding: "utf8" }).trim();
}

/** CRC-32 of ISO/IEC 8802-3, as the store keeps it with each row: over the number, as eight bytes
 *  from the lowest, and the text. */
export function checksum(number, text) {
  const bytes = Buffer.alloc(8);
  bytes.writeBigUInt64LE(BigInt(number));
  let crc = 0xffffffff;
  for (const byte of Buffer.concat([bytes, Buffer.from(text)])) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ~crc >>> 0;
}

/** When the daemon is last known to have run, ms since 1970. */
export const aliveAt = (path) => Number(sql(path, "SELECT alive_at_ms FROM life"));

/** Lets the daemon have been away since then. */
export function setAliveAt(path, at_ms) {
  const epoch = sql(path, "SELECT epoch FROM life");
  assert.equal(sql(path, "SELECT checksum FROM life"), String(checksum(aliveAt(path), epoch)));
  sql(path, `UPDATE life SET alive_at_ms = ${at_ms}, checksum = ${checksum(at_ms, epoch)}`);
}

/** Lets everything in the store have happened so much earlier. Answers the last sign of life. */
export function age(path, ms) {
  const earlier = (time) => time && new Date(Date.parse(time) - ms).toISOString();
  const updates = storedEvents(path).map(({ seq, text }) => {
    const { at, keyed_at, ...event } = JSON.parse(text);
    const aged = JSON.stringify({ ...event, at: earlier(at), keyed_at: earlier(keyed_at) });
    const quoted = aged.replaceAll("'", "''");
    return `UPDATE events SET text = '${quoted}', checksum = ${checksum(seq, aged)} WHERE seq = ${seq};`;
  });
  sql(path, updates.join("\n"));
  setAliveAt(path, aliveAt(path) - ms);
  return aliveAt(path);
}

/** All events, in order: [{seq, text}]. */
export function storedEvents(path) {
  const text = sql(path, "SELECT json_object('seq', seq, 'text', text) FROM events ORDER BY seq");
  return text
    .split("\n")
    .filter(Boolean)
    .map((row) => JSON.parse(row));
}
