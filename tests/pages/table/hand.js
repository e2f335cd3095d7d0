/* A hand at the table, for the tests: strikes keys by their places ("KeyF KeyD"), keeps what went
 * out as the rows that the page would have, and lets time pass only when told to. */
import { readFileSync } from "node:fs";
import { fieldOf } from "../../../overlay/table/field.js";
import { rowsOf } from "../../../overlay/table/ledger.js";
import { techniquesOf } from "../../../overlay/table/options.js";
import { readback } from "../../../overlay/table/readback.js";
import { NOTHING, stroke } from "../../../overlay/table/strokes.js";
import { createWords } from "../../../overlay/lib/words.js";
import { TECHNIQUES } from "../../../overlay/lib/techniques.js";
import english from "../../../overlay/words/en.js";
import tableWords from "../../../overlay/words/en-table.js";

const EDITIONS = new URL("../../../daemon/rules/editions/", import.meta.url);
const FIXTURES = new URL("../../../fixtures/editions/", import.meta.url);
const AT = Date.parse("2027-05-08T10:00:00.000Z");

export const say = createWords({ ...english, ...tableWords }, "en");

export function edition(name) {
    const shipped = !["june-2013", "league"].includes(name);
    return JSON.parse(readFileSync(new URL(`${name}.json`, shipped ? EDITIONS : FIXTURES), "utf8"));
}

const DIGITS = /^[0-9]$/;

export class Hand {
    constructor(name = "freestyle-2022", { t_ms = 60000, running = true, view = {}, style } = {}) {
        this.edition = edition(name);
        this.field = new Map(fieldOf(this.edition).map((key) => [key.code, key]));
        const group = this.edition.age_groups.seniors;
        this.view = {
            bout: "a07", seq: 0, phase: running ? "live" : "stopped",
            details: {
                rules: name, style: style ?? this.edition.styles[0],
                red: { name: "Hjörtur Þrastarvík" }, blue: { name: "Haja Rakotoandrianavosoambola" },
                ...group, superiority: this.edition.superiority,
                cautions_out: this.edition.cautions_out,
            },
            score: { red: 0, blue: 0 }, confirmed: { red: 0, blue: 0 },
            ...view,
        };
        this.techniques = techniquesOf(TECHNIQUES, this.view.details.style);
        this.clock = { period: 1, t_ms, running };
        this.at_ms = AT;
        this.state = NOTHING;
        this.own = [];
        this.effects = [];
        this.count = 0;
    }

    get rows() {
        return rowsOf({}, this.own, new Set(this.own.map(({ event }) => event.id)));
    }

    get context() {
        const { period, t_ms, running } = this.clock;
        const left_ms = this.view.details.period_ms - t_ms;
        return {
            view: this.view, edition: this.edition, rows: this.rows, techniques: this.techniques,
            say, newId: () => `e${++this.count}`,
            now: {
                at_ms: this.at_ms, keyed_at: new Date(this.at_ms).toISOString(), period, t_ms,
                left_ms, running, activity: this.activity,
                forced_call_left_ms: this.forced_call_left_ms,
            },
        };
    }

    /** Strikes places or digits, one after the other; gives the events that went out. */
    strike(text) {
        return text.split(" ").flatMap((code) => this.press(code));
    }

    press(code) {
        if (DIGITS.test(code)) return this.give({ do: "choice", digit: code });
        const inputs = { Space: { do: "whistle" }, Enter: { do: "confirm" }, End: { do: "horn" },
            Backspace: { do: "undo" }, Delete: { do: "take_out" }, Escape: { do: "escape" },
            Up: { do: "move", by: -1 }, Down: { do: "move", by: 1 } };
        return this.give(inputs[code] ?? { do: "action", key: this.field.get(code) });
    }

    give(input) {
        const { now } = this.context;
        const { state, events, effects } = stroke(this.state, input, this.context);
        this.state = state;
        this.effects.push(...effects);
        for (const event of events) {
            this.own.push({ event, period: now.period, t_ms: now.t_ms });
            if (event.type === "clock") this.follow(event);
        }
        return events;
    }

    follow(event) {
        if (event.do === "start") this.clock.running = true;
        if (event.do === "stop" || event.do === "end") this.clock.running = false;
        if (event.do === "end") this.clock.t_ms = this.view.details.period_ms;
        if (event.do === "set") Object.assign(this.clock, { period: event.period, t_ms: event.t_ms });
        if (event.do === "start" && event.period > this.clock.period) {
            Object.assign(this.clock, { period: event.period, t_ms: 0 });
        }
    }

    wait(ms) {
        this.at_ms += ms;
        if (this.clock.running) this.clock.t_ms += ms;
        return this;
    }

    /** What stands now: the event that a row shows, as amended. */
    row(id) {
        return this.rows.find((row) => row.id === id);
    }

    get standing() {
        return this.rows.filter(({ stands, event }) =>
            stands && !["amend", "void", "confirm"].includes(event.type)).map(({ event }) => event);
    }

    get read() {
        return readback(this.state, this.context);
    }
}

/** An event without what the sender adds to every one. */
export function bare({ id, bout, keyed_at, ...rest }) {
    return rest;
}
