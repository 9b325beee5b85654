// How this device wants to see the page; kept on the device only.

const KEY = "opalwright-look";

function held() {
  try {
    return JSON.parse(localStorage.getItem(KEY)) ?? {};
  } catch {
    return {};
  }
}

export const settings = {
  theme: "auto",
  big: false,
  ...held(),

  setTheme(theme) {
    this.theme = theme;
    this.apply();
  },
  setBig(big) {
    this.big = big;
    this.apply();
  },
  apply() {
    const root = document.documentElement;
    if (this.theme === "auto") delete root.dataset.theme;
    else root.dataset.theme = this.theme;
    if (this.big) root.dataset.big = "yes";
    else delete root.dataset.big;
    try {
      localStorage.setItem(KEY, JSON.stringify({ theme: this.theme, big: this.big }));
    } catch {
      // A device that keeps nothing still shows the page.
    }
    dispatchEvent(new Event("look-changed"));
  },
};
