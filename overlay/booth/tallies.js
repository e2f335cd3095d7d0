/**
 * The attacks in figures: tried and scored, by kind and by leg. A figure comes with its base; what
 * was not tried is left out, and nothing is ever a percentage. Pure.
 */

/** @typedef {{scored: number, tried: number}} Tally */

/** @param {object} [attacks] of one side, in a VIEW
 *  @returns {Tally|undefined} undefined: nothing tried */
export function totalOf(attacks) {
    return attacks?.tried ? { scored: attacks.scored, tried: attacks.tried } : undefined;
}

/** @returns {{leg: "lead"|"trail", scored: number, tried: number}[]} those that were tried */
export function legsOf(attacks) {
    return ["lead", "trail"].filter((leg) => attacks?.leg?.[leg]?.tried)
        .map((leg) => ({ leg, scored: attacks.leg[leg].scored, tried: attacks.leg[leg].tried }));
}

/** The kinds that were tried most by both together, each with both sides' figures; the rest is one
 *  row.
 *  @param {object} view
 *  @param {number} [most] how many rows there is room for
 *  @returns {{kind: string|undefined, red?: Tally, blue?: Tally}[]} `kind` undefined: the others */
export function kindsOf({ attacks = {} }, most = 4) {
    const names = [...new Set(["red", "blue"].flatMap((side) => Object.keys(attacks[side]?.by ?? {})))];
    const rows = names.map((kind) => ({
        kind, ...tallyPair((side) => attacks[side]?.by?.[kind]),
    })).sort((one, other) => triedOf(other) - triedOf(one) || (one.kind < other.kind ? -1 : 1));
    if (rows.length <= most) return rows;
    const rest = rows.slice(most - 1);
    return [...rows.slice(0, most - 1), { kind: undefined, ...sumOf(rest) }];
}

/** The two legs with both sides' figures, those that were tried. */
export function legRows({ attacks = {} }) {
    return ["lead", "trail"].map((leg) => ({
        leg, ...tallyPair((side) => attacks[side]?.leg?.[leg]),
    })).filter((row) => triedOf(row) > 0);
}

function tallyPair(of) {
    const pair = {};
    for (const side of ["red", "blue"]) {
        const tally = of(side);
        if (tally?.tried) pair[side] = { scored: tally.scored, tried: tally.tried };
    }
    return pair;
}

const triedOf = ({ red, blue }) => (red?.tried ?? 0) + (blue?.tried ?? 0);

function sumOf(rows) {
    return tallyPair((side) => rows.reduce((sum, row) => ({
        scored: sum.scored + (row[side]?.scored ?? 0), tried: sum.tried + (row[side]?.tried ?? 0),
    }), { scored: 0, tried: 0 }));
}
