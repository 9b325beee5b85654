// Making elements without markup in strings: nothing that was typed in can turn
// into markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, props, children) {
  for (const [key, value] of Object.entries(props ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (key === "style") for (const [k, v] of Object.entries(value)) node.style.setProperty(k, v);
    else if (key === "value" && "value" in node && node.namespaceURI !== SVG) node.value = value;
    else if (key === "checked" || key === "disabled" || key === "open" || key === "hidden") node[key] = value;
    else node.setAttribute(key, value === true ? "" : value);
  }
  append(node, children);
  return node;
}

function append(node, children) {
  for (const child of children.flat(Infinity)) {
    if (child === undefined || child === null || child === false) continue;
    node.append(child instanceof Node ? child : String(child));
  }
}

/** An element. */
export const h = (name, props, ...children) => fill(document.createElement(name), props, children);

/** An element of a drawing. */
export const s = (name, props, ...children) => fill(document.createElementNS(SVG, name), props, children);

/** Puts children in place of what a node held. */
export function put(node, ...children) {
  node.replaceChildren();
  append(node, children);
  return node;
}

/** Puts children in place of what a node held; what had the focus there has it again. */
export function putAgain(node, ...children) {
  const all = () => [...node.querySelectorAll("button, input, [tabindex]")];
  const place = all().indexOf(document.activeElement);
  const { tagName } = document.activeElement ?? {};
  put(node, ...children);
  const there = place < 0 ? null : all()[place];
  if (there?.tagName === tagName) there.focus({ preventScroll: true });
}

let ids = 0;
/** A fresh id, to tie labels and texts to what they speak of. */
export const freshId = (stem) => `${stem}-${++ids}`;

/** Says something to screen readers without moving the focus. */
export function say(text) {
  const place = document.getElementById("say");
  place.textContent = "";
  requestAnimationFrame(() => { place.textContent = text; });
}

/**
 * A box whose drawing is made anew for each width, so that lettering keeps its
 * size. `draw(width)` gives the drawing.
 */
export function fitted(draw, props) {
  const box = h("div", { class: "fitted", ...props });
  let last = 0;
  const redraw = () => {
    const width = Math.round(box.clientWidth);
    if (width > 0 && width !== last) {
      last = width;
      put(box, draw(width));
    }
  };
  new ResizeObserver(redraw).observe(box);
  box.redraw = () => { last = 0; redraw(); };
  return box;
}
