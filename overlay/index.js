/* The list of pages, with an address for every mat that has had a bout (topic day/follow).
 * Options of the address: lang, theme. */

import { needsKey } from "./lib/access.js";
import { connect } from "./lib/connection.js";
import { at, make } from "./lib/dom.js";
import { matNames } from "./lib/mats.js";
import { dress, languageOf, readOptions } from "./lib/options.js";
import { loadWords } from "./lib/words.js";
import { otherMatText } from "./follow/texts.js";

const MATS_EVERY_MS = 10000;

const lang = languageOf(location.search, navigator.languages);
const say = await loadWords(lang);
const line = connect({ audience: "viewer" });
let day = {};

/* Each page, and its addresses for the mats there are. */
function pages(mats) {
    const forMats = (path) =>
        mats.map((mat) => ({
            href: `${path}?mat=${encodeURIComponent(mat)}`,
            text: say("index.on_mat", { mat }),
        }));
    const texts = mats.map((mat) => ({
        href: `text/${encodeURIComponent(mat)}`,
        text: say("index.as_text", { mat }),
    }));
    return [
        { name: "follow", href: "follow/", addresses: [...forMats("follow/"), ...texts] },
        { name: "screen", href: "screen/", addresses: [] },
        { name: "booth", href: "booth/", addresses: forMats("booth/") },
        { name: "table", href: "table/", addresses: forMats("table/") },
        { name: "gallery", href: "gallery/", addresses: [] },
        { name: "sheet", href: "sheet/", addresses: forMats("sheet/") },
    ];
}

function pageItem({ name, href, addresses }) {
    const links = addresses.map((address) => make("a", { href: address.href }, address.text));
    return make(
        "li",
        {},
        make("a", { class: "page-name", href }, say(`index.${name}`)),
        make("p", { class: "purpose words" }, purposeOf(name)),
        ...(links.length ? [make("p", { class: "addresses" }, ...links)] : []),
    );
}

function purposeOf(name) {
    const purpose = say(`index.${name}_for`);
    return needsKey(line.granted, line.access, name)
        ? say("index.needs_key", { purpose })
        : purpose;
}

let shownPages;
function showPages() {
    const mats = matNames(day);
    const key = JSON.stringify([mats, line.granted, line.access]);
    if (shownPages === key) return;
    shownPages = key;
    at("pages").replaceChildren(...pages(mats).map(pageItem));
}

function showMats() {
    const mats = matNames(day);
    at("no-mats").hidden = mats.length > 0;
    at("mats").replaceChildren(
        ...mats.map((mat) =>
            make("li", { class: "words" }, otherMatText(mat, day.mats[mat], line.now(), say)),
        ),
    );
}

function label() {
    document.title = say("index.title");
    at("heading").textContent = say("index.heading");
    at("lead").textContent = say("index.lead");
    at("mats-heading").textContent = say("index.mats");
    at("no-mats").textContent = say("index.no_mats");
    at("decides").textContent = say("index.decides");
}

dress(document.documentElement, {
    lang,
    theme: readOptions(location.search, { theme: ["auto", "dark", "light"] }).theme,
});
label();
showPages();
line.addEventListener("change", showPages);
line.follow("day/follow", (next) => {
    day = next;
    showPages();
    showMats();
});
setInterval(showMats, MATS_EVERY_MS);
