// Markup with every value escaped unless it is markup itself. The only place that writes innerHTML.

const ENTITIES = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;", "`": "&#96;" };

/** Text that has already been escaped; only `html` makes one. */
class Markup {
  #text;

  constructor(text) {
    this.#text = text;
  }

  toString() {
    return this.#text;
  }
}

/** Escape a value for element text or a quoted attribute. */
function escape(value) {
  return String(value).replace(/[&<>"'`]/g, (sign) => ENTITIES[sign]);
}

function piece(value) {
  if (value === null || value === undefined || value === false) return "";
  if (value instanceof Markup) return value.toString();
  if (Array.isArray(value)) return value.map(piece).join("");
  return escape(value);
}

/** Template tag: html`<b>${text}</b>` escapes text, keeps nested markup, joins lists, drops null and false. */
function html(parts, ...values) {
  let text = parts[0];
  for (let i = 0; i < values.length; i += 1) text += piece(values[i]) + parts[i + 1];
  return new Markup(text);
}

/** Replace the content of an element with markup made by `html`; details with a `data-keep` that are open stay so. */
function render(element, markup) {
  if (!(markup instanceof Markup)) throw new TypeError("render takes markup made by html");
  const template = document.createElement("template");
  template.innerHTML = markup.toString();
  const open = new Set([...element.querySelectorAll("details[open][data-keep]")].map((each) => each.dataset.keep));
  element.replaceChildren(template.content);
  if (open.size) for (const each of element.querySelectorAll("details[data-keep]")) each.open ||= open.has(each.dataset.keep);
  return element;
}

/** Parse SVG text as XML and put it in an element; scripts and event attributes never run. */
function renderSvg(element, text) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml");
  const svg = parsed.documentElement;
  if (svg.nodeName !== "svg" || parsed.querySelector("parsererror")) {
    element.textContent = "The sketch could not be drawn.";
    return;
  }
  for (const node of svg.querySelectorAll("script, foreignObject, image, use, a")) node.remove();
  element.replaceChildren(document.importNode(svg, true));
}

export { escape, html, render, renderSvg };
