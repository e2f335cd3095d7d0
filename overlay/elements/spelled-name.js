/* How a name is spoken, as somebody wrote it down: hyphens between syllables, the stressed one in
 * capitals. The stressed syllables are shown strong as well, for who reads it at a glance. Where
 * nobody has written anything there is a mark, never a guess. */

/** The respelling in parts.
 *  @param {string} text "HYUR-tur THRAS-tar-veek"
 *  @returns {{text: string, stressed: boolean}[]} joined, the texts are the whole again */
export function syllables(text) {
    return text.split(/([-\s]+)/).filter((part) => part !== "").map((part) => ({
        text: part,
        stressed: part.length > 1 && part === part.toLocaleUpperCase() && part !== part.toLocaleLowerCase(),
    }));
}

/** @param {string} [text]
 *  @param {string} missing what the mark means, in words
 *  @returns {HTMLElement} */
export function spelled(text, missing) {
    if (!text) return unchecked(missing);
    const bdi = document.createElement("bdi");
    for (const { text: part, stressed } of syllables(text)) {
        const node = document.createElement(stressed ? "b" : "span");
        node.textContent = part;
        bdi.append(node);
    }
    return bdi;
}

function unchecked(missing) {
    const mark = document.createElement("span");
    mark.className = "unchecked";
    mark.setAttribute("role", "img");
    mark.setAttribute("aria-label", missing);
    mark.title = missing;
    mark.textContent = "?";
    return mark;
}
