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

/**
 * The name to sign with: one's own, or, where nobody signs in, the one last given.
 * @param {Answer.Session} session
 */
const signing = ({ local, name }) => (local ? rememberedName() : name);

export { rememberedName, rememberName, signing };
