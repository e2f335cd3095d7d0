/* Keys and what they open, as a page knows it. A key comes in the address's fragment (`#key=…`), which
 * browsers never send to anybody; it is shown to the daemon as the first message of a connection,
 * kept for this tab (sessionStorage), and taken out of the address, which others may see. */

import { ownName } from "./own-name.js";

const KEPT = ownName("boutwire-key");

/** What keeps a page from the daemon: "open" where nothing does.
 *  @typedef {"open" | "key_needed" | "key_unknown" | "key_ended" | "forbidden"} Access */

const REFUSALS = {
    "/problem/key-needed": "key_needed",
    "/problem/key-unknown": "key_unknown",
    "/problem/key-ended": "key_ended",
};

/** What a problem says about our key; undefined: nothing.
 *  @param {{type: string, pointer?: string}} problem
 *  @returns {Access | undefined} */
export function refusalOf({ type, pointer }) {
    if (type === "/problem/forbidden" && pointer === "/subscribe") return "forbidden";
    return REFUSALS[type];
}

/** Whether the address has a key.
 *  @param {Location} location */
export const hasKey = (location) => new URLSearchParams(location.hash.slice(1)).has("key");

/** The page's key: that of its address, which is taken out of it, else the one that this tab had.
 *  @param {{location: Location, history: History, sessionStorage: Storage}} page `window`
 *  @returns {string | undefined} */
export function pageKey(page) {
    const { location, history } = page;
    const fragment = new URLSearchParams(location.hash.slice(1));
    const key = fragment.get("key");
    if (!key) return recall(page);
    keep(page, key);
    fragment.delete("key");
    const rest = String(fragment) && `#${fragment}`;
    history.replaceState(history.state, "", `${location.pathname}${location.search}${rest}`);
    return key;
}

function recall(page) {
    try {
        return page.sessionStorage.getItem(KEPT) ?? undefined;
    } catch {
        return undefined; /* a browser may forbid it */
    }
}

function keep(page, key) {
    try {
        page.sessionStorage.setItem(KEPT, key);
    } catch {
        /* then it holds for this visit */
    }
}

/** Which pages need another key than the one shown, or a key at all.
 *  @param {{role: string} | undefined} granted what the daemon has answered to our greeting
 *  @param {Access} access
 *  @param {string} page "booth"
 *  @returns {boolean} */
export function needsKey(granted, access, page) {
    const pages = {
        booth: ["booth", "sheet"],
        table: ["booth", "table", "sheet"],
        gallery: ["booth", "gallery", "sheet"],
    };
    if (access !== "open") return true;
    if (!granted || granted.role === "anyone" || page === "follow" || page === "screen")
        return false;
    return !(pages[granted.role] ?? []).includes(page);
}

/** The word for how the line stands: after "state." in the pages' words.
 *  @param {{connected: boolean, access: Access}} line
 *  @param {number} steady_ms since the page was opened
 *  @returns {string} */
export function lineWord({ connected, access }, steady_ms) {
    if (access !== "open") return access;
    if (connected) return "connected";
    return steady_ms > PATIENCE_MS ? "not_connected" : "connecting";
}

const PATIENCE_MS = 3000; /* a page that has just opened is not lost yet */
