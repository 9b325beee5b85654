// A number by large keys: for wet fingers, without the device's own keyboard.

import { h, freshId } from "../dom.js";
import { T } from "../strings.js";
import { typed } from "../format.js";

/** `quick`: values to take with one touch. Gives `{ element, value() }`; NaN while it is no number. */
export function keypad({ label, unit, value = "", quick = [], hint, oninput }) {
  const id = freshId("pad");
  const input = h("input", {
    id, type: "text", inputmode: "none", autocomplete: "off", value, class: "pad-number", "aria-describedby": `${id}-hint`,
    oninput: () => oninput?.(),
  });
  // What stands there at first is a proposal: the first key replaces it.
  let fresh = true;
  const set = (text) => { input.value = text; fresh = false; oninput?.(); };
  const press = (key) => set(key === "back" ? input.value.slice(0, -1) : (fresh ? "" : input.value) + key);
  input.addEventListener("keydown", () => { fresh = false; });
  const key = (name, text, said) => h("button", { type: "button", class: "pad-key", "aria-label": said, onclick: () => press(name) }, text);
  return {
    input,
    value: () => typed(input.value),
    set: (text) => { set(text); fresh = true; },
    element: h("div", { class: "pad" },
      h("label", { for: id }, label),
      h("div", { class: "pad-shown" }, input, h("span", { class: "unit", "aria-hidden": "true" }, unit)),
      h("p", { class: "hint", id: `${id}-hint` }, hint),
      quick.length > 0 && h("div", { class: "pad-quick" }, quick.map((v) =>
        h("button", { type: "button", onclick: () => set(String(v)), "aria-label": `${v} ${unit}` }, String(v)))),
      h("div", { class: "pad-keys" },
        ["7", "8", "9", "4", "5", "6", "1", "2", "3"].map((v) => key(v, v)),
        key(".", "."), key("0", "0"), key("back", "⌫", T.wheel.rubOut))),
  };
}
