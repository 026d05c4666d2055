// Light or dark: as the device says until the person chooses. The dark colours are a sheet of their own,
// put in force by its media; paper is always light.

const KEY = "linemap-theme";
const BY_DEVICE = "screen and (prefers-color-scheme: dark)";
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

const sheet = () => document.getElementById("dark");

function choose(name) {
  sheet().media = name === "dark" ? "screen" : "not all";
}

/** The theme in force: "light" or "dark". */
function currentTheme() {
  if (paper.matches || sheet().media === "not all") return "light";
  return sheet().media === BY_DEVICE && !device.matches ? "light" : "dark";
}

/** What `read` gives with the style sheets as they are in a theme, whichever is in force. */
function inTheme(name, read) {
  const dark = name === "light" && sheet()?.sheet;
  if (!dark) return read();
  dark.disabled = true;
  try {
    return read();
  } finally {
    dark.disabled = false;
  }
}

/** Put the person's earlier choice in force; call before the first paint. */
function restoreTheme() {
  const chosen = kept();
  if (chosen === "light" || chosen === "dark") choose(chosen);
}

/** Wire the button; `changed` is called with the theme whenever it changes. */
function startTheme(button, changed) {
  const show = () => button.setAttribute("aria-pressed", String(currentTheme() === "dark"));
  const tell = () => {
    show();
    changed(currentTheme());
  };
  button.addEventListener("click", () => {
    const next = currentTheme() === "dark" ? "light" : "dark";
    choose(next);
    keep(next);
    tell();
  });
  device.addEventListener("change", tell);
  show();
}

/** Call `before` and `after` around printing, however it was asked for. */
function aroundPrint(before, after) {
  paper.addEventListener("change", (event) => (event.matches ? before() : after()));
  window.addEventListener("beforeprint", before);
  window.addEventListener("afterprint", after);
}

export { currentTheme, restoreTheme, startTheme, aroundPrint, inTheme };
