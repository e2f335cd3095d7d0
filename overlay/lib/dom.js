/* Small help for pages that draw from state. Text is always text: nothing here reads HTML. */

/** @param {string} id
 *  @returns {HTMLElement} the element of the page with this id */
export const at = (id) => document.getElementById(id);

/** A new element.
 *  @param {string} name
 *  @param {Record<string, string>} [attributes]
 *  @param {...(Node | string)} content
 *  @returns {HTMLElement} */
export function make(name, attributes = {}, ...content) {
    const node = document.createElement(name);
    for (const [attribute, value] of Object.entries(attributes))
        node.setAttribute(attribute, value);
    node.append(...content);
    return node;
}

/** Sets a text only where it differs: what hasn't changed is not spoken again, and costs nothing.
 *  @param {Element} node
 *  @param {string} text */
export function setText(node, text) {
    if (node.textContent !== text) node.textContent = text;
}
