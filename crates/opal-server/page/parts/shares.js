// Shares of one whole, each with how unsure it is: a band from low to high and a
// mark where the share stands.

import { fitted, h, s } from "../dom.js";
import { T } from "../strings.js";

const ROW = 46;

export function shareBars(shares) {
  const label = shares.map(({ name, share, low, high }) => T.counter.shareSaid(name, share, low, high)).join("; ");
  return h("div", {},
    fitted((width) => {
      const [left, right] = [8, width - 8];
      const at = (v) => left + v * (right - left);
      return s("svg", { class: "shares", viewBox: `0 0 ${width} ${ROW * shares.length}`, width, height: ROW * shares.length, role: "img", "aria-label": label },
        shares.map(({ name, share, low, high }, k) => {
          const y = ROW * k + 32;
          return s("g", {},
            s("text", { class: "strip-name", x: left, y: y - 14 }, name),
            s("text", { class: "strip-value", x: right, y: y - 14, "text-anchor": "end" }, T.counter.share(share)),
            s("line", { class: "axis", x1: left, x2: right, y1: y, y2: y }),
            s("rect", { class: "density", x: at(low), y: y - 6, width: Math.max(3, at(high) - at(low)), height: 12, rx: 3 }),
            s("circle", { class: "mean", cx: at(share), cy: y, r: 5.5 }));
        }));
    }),
    h("p", { class: "hint" }, T.counter.shareHint));
}
