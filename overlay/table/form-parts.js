/* What the table's forms are made of. */

import { make } from "../elements/working-head.js";

let last = 0;

/** A control under its label.
 *  @param {string} text
 *  @param {HTMLElement} control
 *  @param {string} [className]
 *  @returns {HTMLElement} */
export function labelled(text, control, className = "") {
    const place = make("div", `part ${className}`);
    const label = make("label", "", text);
    control.id ||= `part-${++last}`;
    label.htmlFor = control.id;
    place.append(label, control);
    return place;
}

export function input({ value = "", type = "text", placeholder = "", list, required, inputMode } = {}) {
    const node = make("input");
    node.type = type;
    node.value = value;
    node.placeholder = placeholder;
    node.autocomplete = "off";
    node.required = Boolean(required);
    if (type === "text") node.maxLength = 100;
    if (inputMode) node.inputMode = inputMode;
    if (list) node.setAttribute("list", list);
    return node;
}

/** @param {{value: string, text: string}[]} options */
export function select(options, value = "") {
    const node = make("select");
    node.append(...options.map((option) => {
        const item = make("option", "", option.text);
        item.value = option.value;
        return item;
    }));
    node.value = value;
    return node;
}

export function checkbox(checked) {
    const node = make("input");
    node.type = "checkbox";
    node.checked = Boolean(checked);
    return node;
}

/** A number of whole points, or undefined where nothing is written. */
export function wholeOf(node) {
    return /^\s*\d{1,3}\s*$/.test(node.value) ? Number(node.value) : undefined;
}

export function group(legend, ...parts) {
    const node = make("fieldset");
    node.append(make("legend", "", legend), ...parts);
    return node;
}

/** The buttons at a form's end: sending, other ways of sending, and back.
 *  @param {{text: string, name?: string}[]} sends
 *  @param {string} back */
export function buttons(sends, back) {
    const place = make("div", "buttons");
    const nodes = sends.map(({ text, name = "send" }, i) => {
        const node = make("button", i === 0 ? "big first" : "big", text);
        node.type = "submit";
        node.value = name;
        return node;
    });
    const leave = make("button", "big", back);
    leave.type = "button";
    leave.addEventListener("click", () => place.closest("dialog").close());
    place.append(...nodes, leave);
    return place;
}

/** "3:00", or "" for no time. */
export function timeText(ms) {
    if (ms === undefined) return "";
    const seconds = Math.ceil(ms / 1000);
    return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

/** Drops the members that have no value: nothing on the wire is empty. */
export function filled(members) {
    return Object.fromEntries(Object.entries(members)
        .filter(([, value]) => value !== undefined && value !== ""));
}
