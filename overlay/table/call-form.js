/* Calling a bout to the mat: who, by which rules, how long. It proposes the edition that is in force
 * today for the style; the bout names its edition, so nothing is assumed later. */

import { make } from "../elements/working-head.js";
import { newId } from "../lib/id.js";
import { SIDES } from "../lib/standing.js";
import { spoken } from "../lib/words.js";
import { readTime } from "./change.js";
import { buttons, filled, group, input, labelled, select, timeText } from "./form-parts.js";
import { editionInForce } from "./proposals.js";

const PEOPLE = ["given", "family", "say", "team"];

/** @param {{desk: import("./desk.js").Desk, say: Function, mat: string, today: string}} context
 *  @returns {{title: string, body: HTMLElement[], submit: (how: string) => string|undefined}}
 *      `submit` gives the words of what is wrong, or sends */
export function callForm({ desk, say, mat, today }) {
    const words = (key, values) => say(`table.form.call.${key}`, values);
    const current = desk.view?.details;
    const which = current && select([
        { value: "new", text: words("new_bout") }, { value: "same", text: words("again") },
    ], "new");
    const people = Object.fromEntries(SIDES.map((side) => [side, personParts(words)]));
    const bout = boutParts(desk, words, today, say);
    which?.addEventListener("change", () => fill(people, bout, which.value === "same" ? current : {}));
    const message = make("p", "wrong");
    message.setAttribute("role", "alert");
    const send = buttons([{ text: words("send"), name: "call" },
        ...(current ? [{ text: words("send_details"), name: "details" }] : [])], say("table.form.cancel"));
    const details = send.querySelector("[value=details]");
    if (details) {
        details.hidden = true;
        which.addEventListener("change", () => { details.hidden = which.value !== "same"; });
    }
    return {
        title: words("title", { mat }),
        body: [
            ...(which ? [labelled(words("which"), which, "which")] : []),
            ...SIDES.map((side) => sideGroup(side, people[side], words)), bout.group, message, send,
        ],
        submit(how) {
            const same = which?.value === "same" ? desk.view : undefined;
            const { event, wrong } = eventOf({ people, bout, mat, same, call: how !== "details" });
            message.textContent = wrong ? words(wrong) : "";
            if (!wrong) desk.send(event);
            return wrong;
        },
    };
}

function sideGroup(side, parts, words) {
    const node = group(words(side), ...PEOPLE.map((name) => labelled(words(name), parts[name])));
    node.dataset.side = side;
    return node;
}

function personParts(words) {
    return Object.fromEntries(PEOPLE.map((name) => [name, input({
        required: false, placeholder: name === "say" ? words("say_hint") : "",
    })]));
}

function boutParts(desk, words, today, say) {
    const named = (catalogue, name) => (say.has(`${catalogue}.${name}`) ? say(`${catalogue}.${name}`) : spoken(name));
    const { editions } = desk;
    const styles = [...new Set(editions.flatMap((edition) => edition.styles))];
    const style = select(styles.map((value) => ({ value, text: named("style", value) })), styles[0]);
    const edition = editions.length ? select([]) : input({ required: true });
    const age_group = select([], "");
    const parts = {
        number: input({ inputMode: "numeric" }), style, age_group, weight: input({ inputMode: "numeric" }),
        stage: input(), edition, periods: input({ inputMode: "numeric" }), period: input(), break: input(),
    };
    const propose = (asked) => {
        offerEditions(edition, editions, style.value, today, words, asked);
        offerGroups(parts, editions.find(({ name }) => name === edition.value), (name) => named("age_group", name));
    };
    style.addEventListener("change", () => propose());
    edition.addEventListener("change", () => propose(edition.value));
    age_group.addEventListener("change", () => propose(edition.value));
    propose();
    const names = ["number", "weight", "stage", "style", "age_group", "edition", "periods", "period", "break"];
    const node = group(words("rules_of_it"), ...names.map((name) => labelled(words(name), parts[name])));
    node.classList.add("bout");
    return { ...parts, group: node, propose, editions };
}

function offerEditions(node, editions, style, today, words, asked) {
    if (!editions.length) return;
    const proposed = editionInForce(editions, style, today)?.name;
    const fitting = editions.filter(({ styles }) => styles.includes(style));
    node.replaceChildren(...select(fitting.map(({ name }) => ({
        value: name, text: name === proposed ? words("proposed", { name }) : name,
    }))).children);
    node.value = fitting.some(({ name }) => name === asked) ? asked : proposed ?? fitting[0]?.name ?? "";
}

/** The age groups of the edition, and its lengths as what stands where nothing is written. */
function offerGroups(parts, edition, nameOfGroup) {
    const groups = Object.keys(edition?.age_groups ?? {});
    const chosen = groups.includes(parts.age_group.value) ? parts.age_group.value
        : groups.includes("seniors") ? "seniors" : groups[0] ?? "";
    parts.age_group.replaceChildren(...select(groups.map((value) =>
        ({ value, text: nameOfGroup(value) }))).children);
    parts.age_group.value = chosen;
    const length = edition?.age_groups[chosen];
    parts.periods.placeholder = length ? String(length.periods) : "";
    parts.period.placeholder = timeText(length?.period_ms);
    parts.break.placeholder = timeText(length?.break_ms);
}

/** The details that stand, into the form. */
function fill(people, bout, details) {
    for (const side of SIDES) {
        for (const name of PEOPLE) people[side][name].value = details[side]?.[name] ?? "";
        const { given, family } = people[side];
        if (!given.value && !family.value) family.value = details[side]?.name ?? "";
    }
    for (const name of ["number", "weight", "stage"]) bout[name].value = details[name] ?? "";
    if (details.style) bout.style.value = details.style;
    if (details.age_group) bout.age_group.value = details.age_group;
    bout.propose(details.rules);
    const length = bout.editions.find(({ name }) => name === details.rules)
        ?.age_groups[details.age_group ?? "seniors"];
    const differs = (name) => length && details[name] !== undefined && details[name] !== length[name];
    bout.periods.value = differs("periods") ? String(details.periods) : "";
    bout.period.value = differs("period_ms") ? timeText(details.period_ms) : "";
    bout.break.value = differs("break_ms") ? timeText(details.break_ms) : "";
}

/** The event of the form, or what is wrong with it. A second event of a bout replaces its details,
 *  so what the form doesn't ask (the athlete's number, the country) is carried over. */
function eventOf({ people, bout, mat, same, call }) {
    const [red, blue] = SIDES.map((side) => personOf(people[side], same?.details[side]));
    if (!red || !blue) return { wrong: "missing_name" };
    const length = lengthOf(bout);
    if (length === undefined) return { wrong: "bad_time" };
    const { number, style, age_group, weight, stage, edition } = bout;
    return {
        event: filled({
            type: "bout", bout: same?.bout ?? newId(), rules: edition.value, red, blue, mat,
            number: number.value.trim(), style: style.value, age_group: age_group.value,
            weight: weight.value.trim(), stage: stage.value.trim(),
            length: Object.keys(length).length ? length : undefined, call: call || undefined,
        }),
    };
}

/** The whole name is the athlete's own: kept as it stood unless a part of it was changed. */
function personOf(parts, before) {
    const [given, family, said, team] = PEOPLE.map((name) => parts[name].value.trim());
    if (!given && !family) return undefined;
    const kept = before && before.given === (given || undefined) && before.family === (family || undefined);
    const name = kept || family === before?.name ? before.name : [given, family].filter(Boolean).join(" ");
    const whole = family === before?.name && !before?.family;
    return filled({
        name, given, family: whole ? "" : family, say: said, team,
        noc: before?.noc, athlete: before?.athlete,
    });
}

/** @returns {object|undefined} undefined: a time isn't one */
function lengthOf({ periods, period, break: pause }) {
    const times = [period, pause].map((node) => (node.value.trim() ? readTime(node.value) : ""));
    const count = periods.value.trim();
    if (times.includes(undefined) || (count && !/^[1-9]$/.test(count))) return undefined;
    return filled({ periods: count ? Number(count) : "", period_ms: times[0], break_ms: times[1] });
}
