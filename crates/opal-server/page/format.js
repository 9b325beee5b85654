// Numbers as a person reads them.

const LOCALE = "en";
const cache = new Map();
function formatter(options) {
  const key = JSON.stringify(options);
  if (!cache.has(key)) cache.set(key, new Intl.NumberFormat(LOCALE, options));
  return cache.get(key);
}

/** A plain number with so many digits after the point, and a true minus sign. */
export const number = (v, digits = 1) =>
  formatter({ minimumFractionDigits: digits, maximumFractionDigits: digits })
    .format(Object.is(Math.round(v * 10 ** digits), -0) ? 0 : v)
    .replace("-", "−");

/** As many digits as the size deserves. */
export const reading = (v) => number(v, v === 0 || Math.abs(v) >= 20 ? 0 : Math.abs(v) >= 2 ? 1 : 2);

/** Sizes that belong together: a tenth only where one of them has it. */
export const sizes = (...all) => {
  const digits = all.every((v) => Math.abs(v - Math.round(v)) < 0.05) ? 0 : 1;
  return all.map((v) => number(v, digits));
};

export const mm = (v) => `${reading(v)} mm`;
export const carats = (v) => `${reading(v)} ct`;
export const percent = (v) => `${number(100 * v, 0)} %`;

/** Money out of a forecast: whole units. */
export const money = (v, currency) => `${currency} ${number(v, 0)}`;

/** An exact amount, as the server keeps it. */
export function amount({ amount: text, currency }) {
  const v = Number(text);
  const digits = Number.isInteger(v) ? 0 : (text.split(".")[1] ?? "").length;
  return `${currency} ${number(v, digits)}`;
}

/** A price to pay: whole units, never rounded up past what the limits allow. */
export const price = ({ amount: text, currency }) => `${currency} ${number(Math.floor(Number(text)), 0)}`;

/** A chance in twentieths, as the dots show it. */
export function inTwenty(p) {
  const k = Math.round(20 * p);
  if (p <= 0) return { k: 0, bound: "none" };
  if (k === 0) return { k: 1, bound: "below" };
  if (p >= 1) return { k: 20, bound: "all" };
  if (k === 20) return { k: 19, bound: "above" };
  return { k, bound: "about" };
}

/** What was typed, as a number; NaN where it is none. A comma is a point. */
export function typed(text) {
  const t = String(text).trim().replace(",", ".");
  return /^[-−+]?\d*\.?\d+$|^\d+\.$/.test(t) ? Number(t.replace("−", "-")) : NaN;
}

export const moment = (text) => {
  const when = new Date(text);
  return Number.isNaN(when.valueOf()) ? "" : new Intl.DateTimeFormat(LOCALE, { dateStyle: "medium", timeStyle: "short" }).format(when);
};

export const date = (text) => {
  const when = new Date(text);
  return Number.isNaN(when.valueOf()) ? "" : new Intl.DateTimeFormat(LOCALE, { dateStyle: "medium" }).format(when);
};
