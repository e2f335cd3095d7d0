/* The table's forms, one at a time in one dialog: calling a bout, the result, a note, setting the
 * clock, keying late, changing an event. Enter sends, Escape goes back; the keys of the field rest
 * meanwhile. */

import { make } from "../elements/working-head.js";
import { SIDES } from "../lib/standing.js";
import { callForm } from "./call-form.js";
import { amendmentOf, fieldsOf, pointsOf, readTime, valuesOf } from "./change.js";
import { buttons, checkbox, filled, group, input, labelled, select, timeText, wholeOf }
    from "./form-parts.js";
import { codeOf, proposeEnding, sheetDifferences } from "./proposals.js";
import { eventSentence, leftAt, nameOf, sentenceCase } from "./readback.js";

export class Forms {
    #dialog;
    #context;

    /** @param {HTMLDialogElement} dialog
     *  @param {{desk: import("./desk.js").Desk, say: Function, mat: string}} context */
    constructor(dialog, context) {
        this.#dialog = dialog;
        this.#context = context;
    }

    get isOpen() {
        return this.#dialog.open;
    }

    /** @param {string} name
     *  @param {{id?: string, side?: string}} [about] */
    open(name, about = {}) {
        if (this.#dialog.open || !FORMS[name]) return;
        const form = FORMS[name]({ ...this.#context, ...about });
        if (!form) return;
        const node = make("form", `form ${name}`);
        const title = make("h2", "", form.title);
        title.id = "form-title";
        this.#dialog.setAttribute("aria-labelledby", "form-title");
        node.append(title, ...form.body);
        node.addEventListener("submit", (event) => {
            event.preventDefault();
            const wrong = form.submit(event.submitter?.value ?? "send");
            if (!wrong) this.#dialog.close();
        });
        this.#dialog.replaceChildren(node);
        this.#dialog.showModal();
        node.querySelector(form.first ?? "input, select, textarea")?.focus();
    }
}

const FORMS = {
    call: (context) => callForm({ ...context, today: new Date().toISOString().slice(0, 10) }),
    result: ({ desk, ...rest }) => (desk.edition ? resultForm({ desk, ...rest }) : undefined),
    note: noteForm, clock: clockForm, late: lateForm, change: changeForm,
};

const sides = (say) => SIDES.map((value) => ({ value, text: say(`table.sides.${value}`) }));

/* ---- the result ---- */

/** The sheet is keyed against our log: score and code stand empty, so that they are read from the
 *  sheet and not from here. */
function resultForm({ desk, say }) {
    const words = (key, values) => say(`table.form.result.${key}`, values);
    const { edition } = desk;
    const { view } = desk.context;
    const proposed = proposeEnding(view);
    const parts = resultParts(edition, proposed, say, words);
    const differences = make("ul", "differences");
    differences.setAttribute("aria-live", "polite");
    const send = buttons([{ text: words("send") }], say("table.form.cancel"));
    const check = () => showDifferences(differences, send, { desk, edition, parts, say, words });
    for (const part of Object.values(parts)) part.addEventListener("input", check);
    check();
    return {
        title: words("title"),
        body: [
            group(words("ending"), labelled(words("how"), parts.how), labelled(words("winner"), parts.winner)),
            group(words("sheet"), labelled(words("red_score"), parts.red, "red"),
                labelled(words("blue_score"), parts.blue, "blue"), labelled(words("code"), parts.code),
                labelled(words("unconfirmed"), parts.unconfirmed, "flag")),
            differences, send,
        ],
        submit() {
            const sheet = sheetOf(parts, edition);
            desk.send(filled({ type: "close", ...sheet, unconfirmed: parts.unconfirmed.checked || undefined }));
        },
    };
}

function resultParts(edition, proposed, say, words) {
    const endings = Object.keys(edition.endings ?? {});
    return {
        how: select(endings.map((value) => ({ value, text: sentenceCase(nameOf("how", value, { say }), say.lang) })), proposed.how),
        winner: select([{ value: "", text: words("nobody") }, ...sides(say)], proposed.winner ?? ""),
        red: input({ inputMode: "numeric" }), blue: input({ inputMode: "numeric" }),
        code: input(), unconfirmed: checkbox(false),
    };
}

function sheetOf({ how, winner, red, blue, code }, edition) {
    const points = { red: wholeOf(red), blue: wholeOf(blue) };
    const known = points.red !== undefined && points.blue !== undefined;
    const has = edition.endings[how.value]?.has_winner;
    return filled({
        how: how.value, winner: has ? winner.value : "", score: known ? points : undefined,
        code: code.value.trim().toUpperCase(),
    });
}

function showDifferences(place, send, { desk, edition, parts, say, words }) {
    const sheet = sheetOf(parts, edition);
    parts.winner.disabled = !edition.endings[sheet.how]?.has_winner;
    parts.code.placeholder = "";
    const complete = sheet.score && sheet.code;
    const { view } = desk.context;
    const found = complete ? sheetDifferences(view, edition, sheet) : [];
    const lines = complete
        ? found.map(({ what, values }) => say(`table.difference.${what}`, values)) : [words("key_first")];
    const texts = lines.length ? lines : [words("agree")];
    place.replaceChildren(...texts.map((text) => make("li", found.length ? "differs" : "", text)));
    const first = send.querySelector("button");
    first.textContent = words(complete && found.length === 0 ? "send" : "send_anyway");
    const needsWinner = edition.endings[sheet.how]?.has_winner && !sheet.winner;
    first.disabled = Boolean(needsWinner);
    place.dataset.code = codeOf(edition, { ...sheet, score: view.score }) ?? "";
}

/* ---- a note, the clock, late ---- */

function noteForm({ desk, say, side }) {
    const words = (key) => say(`table.form.note.${key}`);
    const text = make("textarea");
    text.maxLength = 280;
    text.required = true;
    text.rows = 3;
    const to = select(["booth", "public"].map((value) => ({ value, text: words(value) })), "booth");
    const about = select([{ value: "", text: words("both") }, ...sides(say)], side ?? "");
    return {
        title: words("title"), first: "textarea",
        body: [labelled(words("text"), text), labelled(words("to"), to), labelled(words("side"), about),
            buttons([{ text: words("send") }], say("table.form.cancel"))],
        submit() {
            desk.send(filled({ type: "note", text: text.value.trim(), to: to.value, side: about.value }));
        },
    };
}

/** Period and time left, as two parts of a form. */
function momentParts(view, { period, t_ms }, words) {
    const { periods, period_ms } = view.details;
    const numbers = Array.from({ length: periods }, (_, i) => ({ value: String(i + 1), text: String(i + 1) }));
    const which = select(numbers, String(period));
    const left = input({ value: timeText(period_ms - t_ms), inputMode: "numeric", required: true });
    const check = () => left.setCustomValidity(valueOf() ? "" : words("left"));
    const valueOf = () => {
        const left_ms = readTime(left.value);
        if (left_ms === undefined || left_ms > period_ms) return undefined;
        const same = left.value === left.defaultValue && Number(which.value) === period;
        return { period: Number(which.value), t_ms: same ? Math.round(t_ms) : period_ms - left_ms };
    };
    left.defaultValue = left.value;
    left.addEventListener("input", check);
    return { which, left, valueOf };
}

function clockForm({ desk, say }) {
    const words = (key) => say(`table.form.clock.${key}`);
    const { view, now } = desk.context;
    const moment = momentParts(view, now, words);
    return {
        title: words("title"), first: "input",
        body: [labelled(words("period"), moment.which), labelled(words("left"), moment.left),
            buttons([{ text: words("send") }], say("table.form.cancel"))],
        submit() {
            const value = moment.valueOf();
            if (!value) return "left";
            desk.give({ do: "set_clock", ...value });
            return undefined;
        },
    };
}

function lateForm({ desk, say, id }) {
    const words = (key, values) => say(`table.form.late.${key}`, values);
    const { context } = desk;
    const chosen = context.rows.find((row) => row.id === id);
    const at = chosen?.t_ms === undefined ? context.now : chosen;
    const moment = momentParts(context.view, at, words);
    const before = select([{ value: "", text: words("in_order") },
        ...rowOptions(context.rows.filter(givesPoints), context)], "");
    return {
        title: words("title"), first: "input",
        body: [labelled(words("period"), moment.which), labelled(words("left"), moment.left),
            labelled(words("before"), before),
            buttons([{ text: words("send") }], say("table.form.cancel"))],
        submit() {
            const value = moment.valueOf();
            if (!value) return "left";
            desk.give(filled({ do: "late", ...value, before: before.value }));
            return undefined;
        },
    };
}

const givesPoints = ({ stands, event }) => stands && (event.points ?? 0) > 0;

function rowOptions(rows, context) {
    return rows.map((row) => ({ value: row.id, text: rowText(row, context) }));
}

function rowText(row, context) {
    const when = row.t_ms === undefined ? "" : `${row.period} · ${leftAt(row, context.view)}  `;
    return `${when}${eventSentence(row, context)}`;
}

/* ---- changing ---- */

function changeForm({ desk, say, id }) {
    const words = (key, values) => say(`table.form.change.${key}`, values);
    const { context } = desk;
    const row = context.rows.find((one) => one.id === id);
    if (!row) return undefined;
    const fields = fieldsOf(row, context);
    const values = valuesOf(row, fields, context);
    const parts = fields.map((field) => ({ field, ...partOf(field, values[field.name], context, words) }));
    linkPoints(parts, context);
    const why = select(["keying", "officials", "challenge"].map((value) => ({ value, text: words(`why_${value}`) })), "keying");
    const message = make("p", "wrong");
    message.setAttribute("role", "alert");
    const sends = fields.length ? [{ text: words("send") }] : [];
    return {
        title: words("what", { what: eventSentence(row, context, true) }),
        body: [
            ...(fields.length ? [] : [make("p", "quiet", words("not_here"))]),
            ...parts.map(({ nodes }) => nodes).flat(),
            ...(fields.length ? [labelled(words("why"), why)] : []),
            message, buttons(sends, say("table.form.cancel")),
        ],
        submit() {
            const wanted = Object.fromEntries(parts.map(({ field, read }) => [field.name, read()]));
            const change = amendmentOf(row, fields, values, wanted);
            if (!change) {
                message.textContent = words("nothing");
                return "nothing";
            }
            desk.send({ type: "amend", ref: row.id, ...change, why: why.value });
            return undefined;
        },
    };
}

function partOf(field, value, context, words) {
    return PARTS[field.kind](field, value, words(field.name), context, words);
}

function optionsOf(field, context) {
    return field.options.map((option) => ({ value: option.value, text: optionText(option, context) }));
}

function optionText({ value, catalogue, label, row }, context) {
    if (row) return rowText(row, context);
    if (catalogue) return nameOf(catalogue, value, context);
    return label ? context.say(label) : value;
}

const PARTS = {
    choice(field, value, label, context, words) {
        const none = field.optional ? [{ value: "", text: words("none") }] : [];
        const options = [...none, ...optionsOf(field, context)];
        const known = options.some((option) => option.value === value);
        const node = select(known ? options : [...options, { value, text: value }], value);
        return { node, nodes: [labelled(label, node)], read: () => node.value };
    },
    flag(field, value, label) {
        const node = checkbox(value);
        return { node, nodes: [labelled(label, node, "flag")], read: () => node.checked };
    },
    text(field, value, label) {
        const node = input({ value, required: !field.optional });
        return { node, nodes: [labelled(label, node)], read: () => node.value.trim() };
    },
    time(field, value, label, context, words) {
        const moment = momentParts(context.view, value.t_ms === undefined ? context.now : value, words);
        return {
            nodes: [labelled(words("period"), moment.which), labelled(words("left"), moment.left)],
            read: () => moment.valueOf() ?? value,
        };
    },
    chain(field, value, label, context, words) {
        const options = [{ value: "", text: words("none") }, ...optionsOf(field, context)];
        const count = Math.max(field.most, value.length);
        const nodes = Array.from({ length: count }, (_, i) => select(options, value[i] ?? ""));
        return {
            nodes: nodes.map((node, i) => labelled(i === 0 ? label : `${i + 1}`, node)),
            read: () => nodes.map((node) => node.value).filter(Boolean),
        };
    },
    score(field, value, label, { say }) {
        const nodes = SIDES.map((side) => input({ value: value ? String(value[side]) : "", inputMode: "numeric" }));
        return {
            nodes: nodes.map((node, i) => labelled(say(`table.form.result.${SIDES[i]}_score`), node)),
            read() {
                const [red, blue] = nodes.map(wholeOf);
                return red === undefined || blue === undefined ? undefined : { red, blue };
            },
        };
    },
};

/** An action is offered with its values alone, so that no form makes a takedown of 4. */
function linkPoints(parts, { edition }) {
    const find = (name) => parts.find(({ field }) => field.name === name)?.node;
    const [action, points] = [find("action"), find("points")];
    if (!action || !points) return;
    const offer = () => {
        const values = pointsOf(edition, action.value).map(String);
        const wanted = values.includes(points.value) ? points.value : values[0];
        points.replaceChildren(...select(values.map((value) => ({ value, text: value }))).children);
        points.value = wanted;
    };
    action.addEventListener("change", offer);
    offer();
}
