/* Which answer the daemon's clock is taken from. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
    bestSample,
    clockSample,
    keepSample,
    SAMPLES_KEPT,
} from "../../../overlay/lib/clock-sync.js";

test("the offset and the round trip of four timestamps (RFC 5905, section 8)", () => {
    assert.deepEqual(clockSample({ t0_ms: 1000, t1_ms: 6010, t2_ms: 6012, t3_ms: 1022 }), {
        offset_ms: 5000,
        round_trip_ms: 20,
    });
});

test("an unequal way biases the offset by half the difference, never more than half the round trip", () => {
    const sample = clockSample({ t0_ms: 0, t1_ms: 30, t2_ms: 30, t3_ms: 40 });
    assert.deepEqual(sample, { offset_ms: 10, round_trip_ms: 40 });
    assert.ok(Math.abs(sample.offset_ms) <= sample.round_trip_ms / 2);
});

test("the shortest round trip of the last eight decides", () => {
    const trips = [9, 4, 30, 12, 7, 7, 50, 8, 6];
    const samples = trips.reduce(
        (kept, round_trip_ms, i) => keepSample(kept, { offset_ms: i, round_trip_ms }),
        [],
    );
    assert.equal(samples.length, SAMPLES_KEPT);
    assert.equal(bestSample(samples).round_trip_ms, 4);
    const later = keepSample(samples, { offset_ms: 99, round_trip_ms: 11 });
    assert.equal(bestSample(later).round_trip_ms, 6, "the oldest has been dropped");
});

test("among equals the newest, and none of none", () => {
    assert.equal(
        bestSample([
            { offset_ms: 1, round_trip_ms: 5 },
            { offset_ms: 2, round_trip_ms: 5 },
        ]).offset_ms,
        2,
    );
    assert.equal(bestSample([]), undefined);
});
