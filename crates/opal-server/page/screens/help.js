// How to read the page, the words, and how it looks.

import * as api from "../api.js";
import { h } from "../dom.js";
import { T } from "../strings.js";
import { lead } from "./bench.js";
import { cautions } from "../parts/cautions.js";
import { settings } from "../settings.js";

export async function help() {
  const { version } = await api.about();
  return {
    title: T.help.title,
    node: h("div", { class: "page prose" },
      h("h1", { tabindex: -1 }, T.help.title),
      h("h2", {}, T.help.first),
      h("ol", {}, T.help.firstSteps.map((step) => h("li", {}, step))),
      h("p", {}, h("button", { type: "button", onclick: lead }, T.guide.start)),
      h("h2", {}, T.help.dotsTitle),
      h("p", {}, T.help.dots),
      h("h2", {}, T.help.words),
      h("dl", { class: "words" }, T.help.gloss.map(([word, text]) => [h("dt", {}, word), h("dd", {}, text)])),
      h("h2", {}, T.devices.title),
      h("p", {}, T.devices.lead),
      h("p", {}, h("a", { class: "button", href: "#/devices" }, T.devices.title)),
      h("h2", {}, T.copies.title),
      h("p", {}, T.copies.lead),
      h("p", {}, h("a", { class: "button", href: "#/copies" }, T.copies.title)),
      h("h2", {}, T.studies.title),
      h("p", {}, T.help.studiesLead),
      h("p", {}, h("a", { class: "button", href: "#/studies" }, T.studies.title)),
      h("h2", {}, T.help.look),
      h("fieldset", { class: "pills" }, h("legend", {}, T.help.theme),
        Object.entries(T.help.themes).map(([key, name]) => h("label", { class: "pill" },
          h("input", { type: "radio", name: "theme", value: key, checked: settings.theme === key, onchange: () => settings.setTheme(key) }),
          h("span", {}, name)))),
      cautions(),
      h("p", { class: "hint" }, T.help.about(version))),
  };
}
