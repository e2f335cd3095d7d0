/* Sheets to print: a bout before and after it, a mat's session, a day. The page asks once, says as at
 * when, and prints as it stands. Options of the address: bout, slot, mat, part, lang.
 *
 * With a key of the booth, the table or the gallery it has what is known; else what is public. */

import { hasKey, pageKey, refusalOf } from "../lib/access.js";
import { connect } from "../lib/connection.js";
import { at, make } from "../lib/dom.js";
import { dress, languageOf } from "../lib/options.js";
import { SIDES } from "../lib/standing.js";
import { loadWorkingWords } from "../elements/working-words.js";
import { afterSheet } from "./after.js";
import { beforeSheet } from "./before.js";
import { findSlot, matsOf, wantedSheet } from "./facts.js";
import { daySheet, matSheet } from "./order.js";
import { dateText, wallTime } from "./texts.js";

const WORKING = ["booth", "table", "gallery", "anyone"]; /* roles that see more than the public */
const WORDS = ["", "-table", "-sheet"];

/** What the daemon answers, or its problem.
 *  @returns {Promise<{data?: any, problem?: {status: number, type: string}}>} */
async function ask(path, key) {
    const headers = key ? { Authorization: `Bearer ${key}` } : {};
    const answer = await fetch(`../api/v1/${path}`, { headers, cache: "no-store" });
    const body = await answer.json();
    return answer.ok ? { data: body } : { problem: body };
}

class SheetPage {
    #say;
    #key;
    #working = false;

    constructor(say) {
        this.#say = say;
        this.#key = pageKey(window);
    }

    async show() {
        const nodes = await this.#build();
        at("sheet").replaceChildren(...nodes.filter(Boolean));
        at("sheet").setAttribute("aria-busy", "false");
        document.title = at("sheet").querySelector("h1")?.textContent ?? this.#say("sheet.title");
    }

    async #build() {
        const { granted, access } = await this.#introduce();
        if (access !== "open") return [this.#words(`state.${access}`)];
        this.#working = WORKING.includes(granted.role);
        const day = await ask(this.#working ? "topics/day/booth" : "topics/day/follow", this.#key);
        if (!day.data) return [this.#message(day.problem)];
        const { state } = day.data;
        this.#drawTools(state);
        if (state.withheld) return [this.#words("sheet.withheld")];
        return this.#sheetOf(wantedSheet(location.search), state);
    }

    /* What our key opens: the daemon says it to who greets it. */
    async #introduce() {
        const line = connect({ audience: "viewer", key: this.#key });
        while (!line.granted && line.access === "open")
            await new Promise((heard) => line.addEventListener("change", heard, { once: true }));
        line.close();
        return line;
    }

    async #sheetOf({ kind, name, part }, day) {
        const data = { day, working: this.#working, stamp: this.#stamp() };
        if (kind === "day" || kind === "mat") {
            const make = kind === "day" ? daySheet : matSheet;
            return make({ ...data, mat: name, roster: await this.#roster() }, this.#say);
        }
        const slot = findSlot(day, { [kind]: name });
        const bout = kind === "bout" ? name : slot?.bout;
        const recap = bout && (await ask(`bouts/${encodeURIComponent(bout)}/recap`, this.#key)).data;
        if (!slot && !recap) return [this.#words("sheet.unknown", { name })];
        const isOver = part ? part === "after" : Boolean(recap?.bout.result);
        return recap && isOver
            ? afterSheet({ ...data, recap, edition: await this.#edition(recap) }, this.#say)
            : this.#before({ ...data, slot, view: recap?.bout });
    }

    async #before(data) {
        const keys = Object.fromEntries(SIDES.map((side) =>
            [side, (data.view?.details[side] ?? data.slot?.[side])?.athlete]));
        const athletes = {};
        for (const [side, other] of [["red", "blue"], ["blue", "red"]])
            athletes[side] = await this.#athlete(keys[side], keys[other]);
        return beforeSheet({ ...data, athletes }, this.#say);
    }

    async #athlete(key, other) {
        if (!key || !this.#working) return undefined;
        const against = other ? `?against=${encodeURIComponent(other)}` : "";
        return (await ask(`athletes/${encodeURIComponent(key)}${against}`, this.#key)).data;
    }

    async #roster() {
        return this.#working ? ((await ask("athletes", this.#key)).data?.athletes ?? {}) : {};
    }

    async #edition({ bout }) {
        const editions = (await ask("rules", this.#key)).data ?? [];
        return editions.find(({ name }) => name === bout.details.rules);
    }

    #stamp() {
        const now = new Date();
        const date = dateText(now, this.#say);
        return this.#say("sheet.as_at", { date, time: wallTime(now) });
    }

    #message({ type, status }) {
        const word = refusalOf({ type });
        return word ? this.#words(`state.${word}`) : this.#words("sheet.failed", { status });
    }

    #words(key, values) {
        return make("p", { role: "status", class: "words" }, this.#say(key, values));
    }

    /* On the screen alone: to the other sheets, and to the printer. */
    #drawTools(day) {
        const say = this.#say;
        const lang = new URLSearchParams(location.search).get("lang");
        const address = (values) => {
            const query = new URLSearchParams({ ...values, ...(lang && { lang }) });
            return `./?${query}`;
        };
        const links = matsOf(day).map((mat) =>
            make("a", { href: address({ mat }) }, say("bout.mat", { mat })));
        const print = make("button", { type: "button" }, say("sheet.print"));
        print.addEventListener("click", () => window.print());
        at("tools").setAttribute("aria-label", say("sheet.tools"));
        at("tools").replaceChildren(make("a", { href: address({}) }, say("sheet.day")), ...links,
            this.#chooser(day, address), print);
        at("tools").hidden = false;
    }

    #chooser(day, address) {
        const say = this.#say;
        const select = make("select", { "aria-label": say("sheet.choose") },
            make("option", { value: "" }, say("sheet.choose")));
        for (const slot of Object.values(day.slots ?? {}))
            select.append(make("option", { value: address({ slot: slot.slot }) },
                [slot.number, slot.stage, slot.weight].filter(Boolean).join(" · ") || slot.slot));
        select.addEventListener("change", () => select.value && location.assign(select.value));
        return select;
    }
}

const lang = languageOf(location.search, navigator.languages);
dress(document.documentElement, { lang, motion: "off" });
const say = await loadWorkingWords(lang, WORDS);
addEventListener("hashchange", () => hasKey(location) && new SheetPage(say).show());
await new SheetPage(say).show();
