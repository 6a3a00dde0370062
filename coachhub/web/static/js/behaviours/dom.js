// The few DOM helpers that the behaviours share.

const SVG = "http://www.w3.org/2000/svg";

/**
 * The part `name` inside `root`; a missing one is a mistake in the template.
 * @param {ParentNode} root @param {string} name @returns {any}
 */
export function part(root, name) {
  const found = root.querySelector(`[data-part="${name}"]`);
  if (!found) throw new Error(`part must be in the page: ${name}`);
  return found;
}

/** @param {ParentNode} root @param {string} name @returns {any} */
export function maybePart(root, name) {
  return root.querySelector(`[data-part="${name}"]`);
}

/** @param {string} id @returns {any} */
export function jsonOf(id) {
  const holder = document.getElementById(id);
  if (!holder) throw new Error(`id must be in the page: ${id}`);
  return JSON.parse(holder.textContent ?? "null");
}

/**
 * @param {string} name @param {Record<string, string | number>} [attributes] @param {(Node | string)[]} [children]
 * @returns {any}
 */
export function svg(name, attributes = {}, children = []) {
  return filled(document.createElementNS(SVG, name), attributes, children);
}

/**
 * @param {string} name @param {Record<string, string | number>} [attributes] @param {(Node | string)[]} [children]
 * @returns {any}
 */
export function html(name, attributes = {}, children = []) {
  return filled(document.createElement(name), attributes, children);
}

/** @param {Element} element @param {Record<string, string | number>} attributes @param {(Node | string)[]} children */
function filled(element, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  element.append(...children);
  return element;
}

/** @param {string} type @param {Record<string, string | number>} [attributes] @param {(Node | string)[]} [children] */
export function button(type, attributes = {}, children = []) {
  return html("button", { type: "button", class: type, ...attributes }, children);
}

/** @param {EventTarget} target @param {string} name @param {unknown} [detail] */
export function tell(target, name, detail) {
  target.dispatchEvent(new CustomEvent(name, { detail, bubbles: true }));
}
