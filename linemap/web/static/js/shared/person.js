// Who decides on this device: remembered, so that a name is typed once.

const KEY = "linemap-who";

/** The name last given on this device, "" when none was. */
function rememberedName() {
  try {
    return localStorage.getItem(KEY) ?? "";
  } catch {
    return ""; // storage may be closed in private windows
  }
}

/** Keep a name for the next decision. */
function rememberName(name) {
  try {
    localStorage.setItem(KEY, name);
  } catch {
    // the name then lasts as long as the page
  }
}

export { rememberedName, rememberName };
