// Making elements.

const SVG = "http://www.w3.org/2000/svg";

/** An element: its name and classes ("p.note.small"), attributes, and what is in it. */
export function el(name, attributes = {}, ...inside) {
  const [tag, ...classes] = name.split(".");
  return filled(document.createElement(tag), classes, attributes, inside);
}

/** The same for a drawing. */
export function drawn(name, attributes = {}, ...inside) {
  const [tag, ...classes] = name.split(".");
  return filled(document.createElementNS(SVG, tag), classes, attributes, inside);
}

function filled(element, classes, attributes, inside) {
  if (classes.length) element.classList.add(...classes);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...inside.filter((part) => part !== null && part !== undefined));
  return element;
}

/** A drawing that came as text. It can run nothing: the page's policy lets no script in but its own files. */
export function drawing(text) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return document.importNode(parsed, true);
}
