// Light or dark: as the device says until the person chooses.

const KEY = "linemap-theme";
const device = matchMedia("(prefers-color-scheme: dark)");
const paper = matchMedia("print");

function kept() {
  try {
    return localStorage.getItem(KEY);
  } catch {
    return null; // storage may be closed to files and private windows
  }
}

function keep(name) {
  try {
    localStorage.setItem(KEY, name);
  } catch {
    // the choice then lasts as long as the page
  }
}

/** The theme in force: "light" or "dark"; paper is always light. */
export function currentTheme() {
  if (paper.matches) return "light";
  return document.documentElement.dataset.theme ?? (device.matches ? "dark" : "light");
}

/** Wire the button; `changed` is called with the theme now and whenever it changes. */
export function startTheme(button, changed) {
  const chosen = kept();
  if (chosen === "light" || chosen === "dark") document.documentElement.dataset.theme = chosen;
  const show = () => {
    const theme = currentTheme();
    button.setAttribute("aria-pressed", String(theme === "dark"));
    changed(theme);
  };
  button.addEventListener("click", () => {
    const next = currentTheme() === "dark" ? "light" : "dark";
    document.documentElement.dataset.theme = next;
    keep(next);
    show();
  });
  device.addEventListener("change", show);
  show();
}

/** Call `before` and `after` around printing, however it was asked for. */
export function aroundPrint(before, after) {
  paper.addEventListener("change", (event) => (event.matches ? before() : after()));
  window.addEventListener("beforeprint", before);
  window.addEventListener("afterprint", after);
}
