// Structure numbers, read by the same rules as the server's: the list's own spelling is shown, and a number is
// found however it is written. Poles are A, B and C in all data, and shown by the owner's words.

const NUMBER =
  /^\s*(?:STR(?:UCTURE)?\.?\s*|S(?=\d))?(?:(\d{1,5})\s*[/-]\s*)?(\d{1,6})(?:\.0{1,2}|\.(\d{1,2})|([A-Za-z]{1,2}))?\s*$/i;
const WORDS = /^(?:(?:STR(?:UCTURE|UCT)?|TOWER|TWR|NO)(?![A-Z])[\s.:#-]*|#\s*)+(?=.)/;

/** The one spelling of a number that is in no list; other texts only lose needless blanks. */
function sameNumber(text) {
  const match = NUMBER.exec(text);
  if (!match) return text.trim().split(/\s+/).join(" ");
  const [, mile, sequence, decimal, letter] = match;
  const inserted = decimal ? `.${decimal}` : (letter ?? "").toUpperCase();
  const tail = `${Number(sequence)}${inserted}`;
  return mile === undefined ? tail : `${Number(mile)}/${tail}`;
}

/** What ways of writing one number, or the beginning of it, have in common: "str 12-03" and "12/3" are "12/3". */
function foldNumber(text) {
  return text
    .trim()
    .toUpperCase()
    .replace(WORDS, "")
    .replace(/^S[\s-]*(?=\d)/, "")
    .replace(/\s*[\\/_‐-―-]\s*/g, "-")
    .replace(/(\d)-(?=\d|$)/g, "$1/")
    .replace(/([A-Z])[\s.#-]+(?=\d|$)/g, "$1")
    .replace(/-/g, " ")
    .replace(/(\d)\.0{1,2}$/, "$1")
    .replace(/\d+/g, (run) => run.replace(/^0+(?=\d)/, ""));
}

/**
 * Of things by number, those that a text may mean: the one written exactly so, else all that differ in nothing
 * but their writing. `exact` and `alike` give what has a number, and what has the same one written any way.
 */
function meantBy(text, exact, alike) {
  const written = exact(text.trim());
  return written === undefined ? (alike(foldNumber(text)) ?? []) : [written];
}

/** What the owner calls a pole of a structure; its letter where the page is older than the words. */
const poleName = (structure, letter) => structure?.pole_words?.["ABC".indexOf(letter)] ?? letter;

/** The poles of a structure that letters name: "pole A", "poles A and B", "". */
function poleWords(structure, letters) {
  if (!letters) return "";
  return `pole${letters.length === 1 ? "" : "s"} ${[...letters].map((letter) => poleName(structure, letter)).join(" and ")}`;
}

/** What the owner calls the poles of structures of so many. */
const wordsOfPoles = (job, count) => job.pole_words[count > 2 ? 1 : 0];

/** The outer ones of some poles: "A and B". */
const outerPoles = (words, between = " and ") => `${words[0]}${between}${words.at(-1)}`;

const digits = (text) => [...text].filter((sign) => sign >= "0" && sign <= "9").sort().join("");

/** Are two different numbers made of the same digits, like 5/2 and 2/5? */
function digitsExchanged(one, other) {
  const [first, second] = [foldNumber(one), foldNumber(other)];
  return first !== second && digits(first) === digits(second);
}

export { sameNumber, foldNumber, meantBy, poleName, poleWords, wordsOfPoles, outerPoles, digitsExchanged };
