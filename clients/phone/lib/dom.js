// Makes elements. Text goes in as text nodes only, so nothing anybody wrote becomes markup.

/**
 * Make an element.
 * @param {string} tag name, with classes behind dots: 'p.soft.small'
 * @param {object} [props] attributes; `on…` functions are listeners; true is an empty
 *   attribute, false and null leave it out
 * @param {...any} children nodes, texts, numbers, lists of them; null and false are left out
 * @returns {HTMLElement}
 */
export function h(tag, props, ...children) {
  const [name, ...classes] = tag.split('.');
  return fill(document.createElement(name), classes, props, children);
}

const SVG = 'http://www.w3.org/2000/svg';

/** Make an SVG element, as `h` does. */
export function s(tag, props, ...children) {
  const [name, ...classes] = tag.split('.');
  return fill(document.createElementNS(SVG, name), classes, props, children);
}

function fill(element, classes, props, children) {
  if (classes.length) element.setAttribute('class', classes.join(' '));
  for (const [key, value] of Object.entries(props ?? {})) {
    if (value === false || value === null || value === undefined) continue;
    if (typeof value === 'function') element.addEventListener(key.slice(2), value);
    else if (key === 'value' && 'value' in element) element.value = value;
    else element.setAttribute(key, value === true ? '' : String(value));
  }
  append(element, children);
  return element;
}

/** Append nodes and texts; lists are flattened, null and false left out. */
export function append(element, children) {
  for (const child of children.flat(Infinity)) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : String(child));
  }
}

/** Put something else into an element. */
export function refill(element, ...children) {
  element.replaceChildren();
  append(element, children);
  return element;
}

let last = 0;
/** A name no other element of this page has. */
export const unique = (stem) => `${stem}-${(last += 1)}`;
