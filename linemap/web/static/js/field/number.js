// Structure numbers in their one spelling, the same rules as the server's: "09-2", "STR 9/2" are 9/2.

const NUMBER =
  /^\s*(?:STR(?:UCTURE)?\.?\s*|S(?=\d))?(?:(\d{1,5})\s*[/-]\s*)?(\d{1,6})(?:\.0{1,2}|\.(\d{1,2})|([A-Za-z]{1,2}))?\s*$/i;

/** The one spelling of a number; other texts only lose needless blanks. */
function sameNumber(text) {
  const match = NUMBER.exec(text);
  if (!match) return text.trim().split(/\s+/).join(" ");
  const [, mile, sequence, decimal, letter] = match;
  const inserted = decimal ? `.${decimal}` : (letter ?? "").toUpperCase();
  const tail = `${Number(sequence)}${inserted}`;
  return mile === undefined ? tail : `${Number(mile)}/${tail}`;
}

const digits = (text) => [...text].filter((sign) => sign >= "0" && sign <= "9").sort().join("");

/** Are two different numbers made of the same digits, like 5/2 and 2/5? */
function digitsExchanged(one, other) {
  const [first, second] = [sameNumber(one), sameNumber(other)];
  return first !== second && digits(first) === digits(second);
}

export { sameNumber, digitsExchanged };
