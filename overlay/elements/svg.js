/* Small help for drawing: SVG nodes, and keeping a group's children in step with a list. */

const NAMESPACE = "http://www.w3.org/2000/svg";

/** @param {string} name
 *  @param {Record<string, string | number>} [attributes]
 *  @returns {SVGElement} */
export function svg(name, attributes = {}) {
    const node = document.createElementNS(NAMESPACE, name);
    setAll(node, attributes);
    return node;
}

/** Sets attributes, only those that differ: an unchanged picture costs nothing.
 *  @param {Element} node
 *  @param {Record<string, string | number>} attributes */
export function setAll(node, attributes) {
    for (const [name, value] of Object.entries(attributes)) {
        const text = typeof value === "number" ? String(Math.round(value * 100) / 100) : value;
        if (node.getAttribute(name) !== text) node.setAttribute(name, text);
    }
}

/** One child for each item, kept as long as its key is there, in the items' order.
 *  @param {Element} group
 *  @param {any[]} items
 *  @param {(item: any, i: number) => string} keyOf
 *  @param {(item: any) => Element} make
 *  @param {(node: any, item: any) => void} update */
export function keepInStep(group, items, keyOf, make, update) {
    const present = new Map([...group.children].map((node) => [node.itemKey, node]));
    items.forEach((item, i) => {
        const key = keyOf(item, i);
        const node = present.get(key) ?? Object.assign(make(item), { itemKey: key });
        present.delete(key);
        update(node, item);
        if (group.children[i] !== node) group.insertBefore(node, group.children[i] ?? null);
    });
    for (const node of present.values()) node.remove();
}
