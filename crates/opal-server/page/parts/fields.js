// Fields of a form: label, hint, unit, fault.

import { h, freshId } from "../dom.js";
import { withTerms } from "./terms.js";

/**
 * A field for a number or a text. `path` is where it stands in the evidence
 * document, so that a fault finds it.
 */
export function field({ label, hint, unit, value = "", path, kind = "text", oninput, wide = false, autofocus = false }) {
  const id = freshId("field");
  const input = h("input", {
    id, type: "text", value, "data-path": path, autocomplete: "off", autofocus,
    inputmode: kind === "number" ? "decimal" : undefined,
    "aria-describedby": `${id}-hint ${id}-fault`,
    oninput: () => { clearFault(input); oninput?.(input.value); },
  });
  return h("div", { class: wide ? "field wide" : "field" },
    h("label", { for: id }, label),
    h("div", { class: "with-unit" }, input, unit && h("span", { class: "unit", "aria-hidden": "true" }, unit)),
    h("p", { class: "hint", id: `${id}-hint` }, withTerms(hint)),
    h("p", { class: "fault", id: `${id}-fault` }));
}

/** One of several, as big buttons. */
export function choice({ legend, hint, options, value, onchange, path, several = false }) {
  const name = freshId("choice");
  const held = new Set(Array.isArray(value) ? value : [value]);
  return h("fieldset", { class: "choice", "data-path": path, tabindex: path ? -1 : undefined },
    h("legend", {}, legend),
    hint && h("p", { class: "hint" }, withTerms(hint)),
    h("div", { class: "options" }, options.map(([key, text, more]) =>
      h("label", { class: "option" },
        h("input", {
          type: several ? "checkbox" : "radio", name, value: key, checked: held.has(key),
          onchange: (e) => {
            if (!several) return onchange(key);
            if (e.target.checked) held.add(key);
            else held.delete(key);
            onchange([...held].filter((k) => k !== undefined));
          },
        }),
        h("span", { class: "option-text" }, text, more && h("small", {}, more))))),
    h("p", { class: "fault" }));
}

/** One of several, as a list to pull down. */
export function select({ label, path, value, options, onchange, wide = true }) {
  const id = freshId("select");
  const input = h("select", { id, "data-path": path, "aria-describedby": `${id}-fault`, onchange: (e) => { clearFault(input); onchange(e.target.value); } },
    options.map(([key, name]) => h("option", { value: key, selected: key === value }, name)));
  return h("div", { class: wide ? "field wide" : "field" }, h("label", { for: id }, label), input, h("p", { class: "fault", id: `${id}-fault` }));
}

function clearFault(input) {
  input.removeAttribute("aria-invalid");
  const place = document.getElementById(`${input.id}-fault`);
  if (place) place.textContent = "";
}

/** Marks the field that stands at a path; false when none does. */
export function markFault(root, path, text) {
  const node = root.querySelector(`[data-path="${CSS.escape(path)}"]`);
  if (!node) return null;
  node.setAttribute("aria-invalid", "true");
  const place = node.tagName === "INPUT" || node.tagName === "SELECT" ? document.getElementById(`${node.id}-fault`) : node.querySelector(":scope > .fault");
  if (place) place.textContent = text;
  return node;
}
