/* What a page keeps in the browser belongs to its host, and two daemons may share one, each below a
 * path of its own behind the same proxy. So a name that keys or events are kept under has the path. */

/** @param {string} name
 *  @param {string} [module]  this module's own address, which is BASE/lib/own-name.js
 *  @returns {string} the name itself where BASE is the host's root */
export function ownName(name, module = import.meta.url) {
    const { pathname } = new URL("..", module);
    return pathname === "/" ? name : `${name} ${pathname}`;
}
