// Making elements. Text only ever becomes a text node: nothing that was typed or received is read as markup.

const SVG = 'http://www.w3.org/2000/svg';

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? '' : value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== undefined && child !== null && child !== false));
  return element;
}

export const h = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
export const svg = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);

// A glove touches twice. The same target counts once a second, even if it was drawn anew in between.
const AGAIN_MS = 1000;
let last = { key: null, at: -AGAIN_MS };

export function once(key, act) {
  return (event) => {
    const now = performance.now();
    if (last.key === key && now - last.at < AGAIN_MS) return undefined;
    last = { key, at: now };
    return act(event);
  };
}

// A button acts on release (a click), so sliding off it takes the touch back. `key` names the target.
export function button(key, act, attributes, ...children) {
  const { repeats, ...rest } = attributes ?? {};
  const typed = (event) => {
    last = { key, at: -AGAIN_MS };
    return act(event);
  };
  return h('button', { type: 'button', 'data-key': key, onclick: repeats ? typed : once(key, act), ...rest }, ...children);
}

export const link = (href, attributes, ...children) => h('a', { href, ...attributes }, ...children);
