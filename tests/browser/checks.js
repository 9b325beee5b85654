// What must hold on every page.

import { createRequire } from "node:module";
import { readFile } from "node:fs/promises";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** WCAG 2.2 levels A and AA, as axe-core checks them. */
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

/** Listens from the start; `faults` holds what must not happen. */
export function watch(page, address) {
  const faults = [];
  page.on("console", (message) => {
    if (message.type() !== "error") return;
    // A refused form answers 422 by design; the browser logs it as an error.
    if (/status of 422/.test(message.text())) return;
    faults.push(`console: ${message.text()}`);
  });
  page.on("pageerror", (error) => faults.push(`script: ${error.message}`));
  page.on("request", (request) => {
    const url = request.url();
    if (!url.startsWith(address) && !url.startsWith("data:") && !url.startsWith("blob:")) faults.push(`asked another host: ${url}`);
  });
  return faults;
}

/** Gives what is wrong with the page as it stands. */
export async function faultsOf(page, { tap = 48 } = {}) {
  const faults = [];
  // Run through the debugger, which the page's own policy does not bind.
  if (!(await page.evaluate(() => "axe" in window))) await page.evaluate(axe);
  const { violations } = await page.evaluate((rules) => window.axe.run(document, { runOnly: rules, resultTypes: ["violations"] }), RULES);
  for (const { id, help, nodes } of violations) {
    faults.push(`axe ${id}: ${help}: ${nodes.slice(0, 3).map((n) => `${n.html.slice(0, 120)} [${n.any.concat(n.all)[0]?.message ?? ""}]`).join(" | ")}`);
  }
  faults.push(...await page.evaluate((least) => {
    const out = [];
    if (document.documentElement.scrollWidth > innerWidth) {
      const wide = [...document.querySelectorAll("body *")].filter((n) => n.getBoundingClientRect().right > innerWidth + 1 && !n.closest(".parts, textarea, .unseen, svg"));
      out.push(`wider than the screen: ${document.documentElement.scrollWidth} > ${innerWidth}: ${wide.slice(0, 3).map((n) => n.outerHTML.slice(0, 80)).join(" | ")}`);
    }
    // A word in a sentence is as high as its line (WCAG 2.2, 2.5.8, inline).
    const targets = "button:not(.term), a.button, .top a, summary, input[type=text], input[type=search], input[type=file], .option, .pill, .check, .slider, .card, .place .reach";
    for (const node of document.querySelectorAll(targets)) {
      const { width, height } = node.getBoundingClientRect();
      if (width === 0) continue;
      if (Math.round(height) < least) out.push(`only ${Math.round(height)} px high: ${node.outerHTML.slice(0, 90)}`);
    }
    return out;
  }, tap));
  return faults;
}
