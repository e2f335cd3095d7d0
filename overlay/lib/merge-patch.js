/* JSON merge patches (RFC 7396): how a topic's next version follows from the one before. */

const isObject = (value) => typeof value === "object" && value !== null && !Array.isArray(value);

/** The target with the patch applied. Neither is changed: what a patch does not touch is shared,
 *  so that two versions can be compared member by member with ===.
 *  @param {any} target  the version before; anything but an object counts as an empty one
 *  @param {any} patch   null takes a member away; an array or a plain value replaces what was
 *  @returns {any} */
export function mergePatch(target, patch) {
    if (!isObject(patch)) return patch;
    const merged = isObject(target) ? { ...target } : {};
    for (const [name, value] of Object.entries(patch)) {
        if (value === null) delete merged[name];
        else setOwn(merged, name, mergePatch(own(merged, name), value));
    }
    return merged;
}

/* A member called __proto__ is a member like any other. */
function own(object, name) {
    return Object.hasOwn(object, name) ? object[name] : undefined;
}

function setOwn(object, name, value) {
    Object.defineProperty(object, name, {
        value,
        writable: true,
        enumerable: true,
        configurable: true,
    });
}
