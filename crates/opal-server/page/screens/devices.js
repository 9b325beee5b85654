// Letting a tablet in, and shutting one out: on the bench computer alone.

import * as api from "../api.js";
import { h, s, put, say } from "../dom.js";
import { T } from "../strings.js";
import { date } from "../format.js";
import { refusal } from "../parts/refusal.js";

const D = T.devices;

export async function devices() {
  const list = h("div");
  const code = h("div");
  const show = ({ devices: all }) => put(list,
    h("h2", {}, D.paired),
    all.length === 0 ? h("p", {}, D.none) : h("ul", { class: "devices" }, all.map((device) => h("li", {},
      h("span", { class: "grow" }, h("strong", {}, device.name), " ", h("span", { class: "hint" }, D.since(date(device.paired_at)))),
      h("button", { type: "button", "aria-label": D.withdrawThis(device.name), onclick: () => withdraw(device) }, D.withdraw)))));
  const withdraw = async (device) => {
    try {
      await api.withdraw(device.number);
      say(D.withdrawn(device.name));
      show(await api.devices());
    } catch (error) {
      put(code, refusal(error));
    }
  };
  const invite = async () => {
    try {
      const made = await api.deviceCode();
      put(code, h("div", { class: "panel invite" },
        picture(made.squares),
        h("div", {},
          h("p", {}, D.point),
          h("p", {}, D.orType(made.address.split("#")[0])),
          h("p", { class: "code" }, `${made.code.slice(0, 4)}-${made.code.slice(4)}`),
          h("p", { class: "hint" }, D.once(Math.round(made.seconds / 60))))));
      say(D.ready);
    } catch (error) {
      put(code, refusal(error));
    }
  };
  const known = await api.devices();
  show(known);
  return {
    title: D.title,
    node: h("div", { class: "page narrow" },
      h("h1", { tabindex: -1 }, D.title),
      h("p", {}, D.lead),
      known.address
        ? [h("button", { type: "button", class: "main", onclick: invite }, D.letIn), code, list]
        : [h("p", { class: "note" }, D.shut), h("pre", {}, "opalwright serve --lan")],
      h("p", { class: "note warn" }, D.open)),
  };
}

/** A QR code, dark on light whatever the page's colours: cameras want it so. */
function picture(squares) {
  const quiet = 4, n = squares.length + 2 * quiet;
  const dark = squares.flatMap((row, y) => row.map((v, x) => (v ? `M${x + quiet} ${y + quiet}h1v1h-1z` : ""))).join("");
  return s("svg", { class: "qr", viewBox: `0 0 ${n} ${n}`, role: "img", "aria-label": D.picture },
    s("rect", { width: n, height: n, fill: "#fff" }), s("path", { d: dark, fill: "#000" }));
}
