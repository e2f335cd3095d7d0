/* Which mat a table keys for whose address names none: the first of the day, or, while no bout has
 * been called, the one that is asked for here. The address then names it, so that the page is the
 * same table when it is loaded again. */

import { showLineState } from "../elements/line-state.js";
import { connect } from "../lib/connection.js";
import { at, setText } from "../lib/dom.js";
import { firstMat } from "../lib/mats.js";

const TICK_MS = 250;

/** @param {import("../lib/words.js").Say} say
 *  @returns {Promise<string>} */
export async function findMat(say) {
    const line = connect({ audience: "desk" });
    const showState = () => showLineState(at("line-state"), line, say);
    const ticking = setInterval(showState, TICK_MS);
    line.addEventListener("change", showState);
    label(say);
    const mat = await new Promise((found) => {
        at("which").addEventListener("submit", (event) => {
            event.preventDefault();
            const named = at("which-mat").value.trim();
            if (named) found(named);
        });
        line.follow("day/booth", (day) => takeDay(day, found));
    });
    clearInterval(ticking);
    line.removeEventListener("change", showState);
    line.close();
    at("asking").hidden = true;
    nameInAddress(mat);
    return mat;
}

/* Who has begun to write a name goes on writing it, whatever is called meanwhile. */
function takeDay(day, found) {
    const first = firstMat(day);
    if (first && !at("which-mat").value) {
        found(first);
        return;
    }
    if (!at("asking").hidden) return;
    at("asking").hidden = false;
    at("which-mat").focus();
}

function label(say) {
    document.title = say("table.title_no_mat");
    setText(at("title"), say("table.title_no_mat"));
    const [headline, , button, how] = at("which").children;
    setText(headline, say("table.which_mat"));
    setText(button, say("table.which_mat_send"));
    setText(how, say("table.which_mat_how"));
}

function nameInAddress(mat) {
    const query = new URLSearchParams(location.search);
    query.set("mat", mat);
    history.replaceState(null, "", `?${query}`);
}
