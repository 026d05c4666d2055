// What is measured or seen with a record: its fields, what is wrong with them, and how it is said. All of it
// is drawn from what the index declares; nothing here knows one reading from another.

import { html } from "../shared/html.js";
import { poleName } from "../shared/number.js";
import { index, lineOf } from "./pack.js";

/** Feet and inches as people type them: 9'6, 9-6, 9 ft 6 1/2 in. */
const FEET = /^(\d+)\s*(?:'|’|ft|-|\s)[\s-]*(\d+(?:\.\d+)?)(?:\s+(\d+)\/(\d+))?\s*(?:"|”|in)?$/;

/** The readings declared; an index of an older version declares none. */
const declared = () => index().readings ?? [];

/** What the rule of a step asks for. */
const evidenceOf = (code) => index().workflow.steps.find((rule) => rule.code === code)?.evidence ?? [];

/** Readings a step asks for: [those its evidence needs, those asked for under a condition, all others]. */
function askedBy(code, conditional = false) {
  const needed = evidenceOf(code);
  const asked = declared().filter(({ name, steps }) => needed.includes(name) || !steps.length || steps.includes(code));
  const kind = (reading) => (needed.includes(reading.name) ? 0 : conditional && reading.under_condition ? 1 : 2);
  return [0, 1, 2].map((wanted) => asked.filter((reading) => kind(reading) === wanted));
}

const askedIn = (reading, card) => reading.asked[lineOf(card).unit] ?? reading.asked.ft;

const boxName = (reading, pole) => (reading.of === "pole" ? `${reading.name}.${pole}` : reading.name);

function box(reading, card, pole) {
  const name = boxName(reading, pole);
  const label = reading.of === "pole" ? `Pole ${poleName(card, pole)}` : reading.label;
  if (reading.kind === "yes or no") {
    return html`<label>${label}<select name="${name}"><option value="">–</option><option value="yes">yes</option><option value="no">no</option></select></label>`;
  }
  if (reading.kind === "text") return html`<label>${label}<input name="${name}" maxlength="200" autocomplete="off"></label>`;
  const { unit } = askedIn(reading, card);
  const number = html`<label>${label}, ${unit}<input name="${name}" inputmode="decimal" maxlength="20" autocomplete="off"></label>`;
  return unit === "ft" ? html`${number}<label>in<input name="${name}.in" inputmode="decimal" maxlength="20" autocomplete="off"></label>` : number;
}

/** The boxes of one reading; `letters` are the poles as the person sees them. */
function field(reading, card, letters) {
  if (reading.of === "pole") {
    const narrow = reading.kind !== "text" && askedIn(reading, card).unit !== "ft";
    return html`<fieldset><legend>${reading.label}</legend><div class="${narrow ? "readings" : ""}">${letters.map((pole) => html`<div class="reading">${box(reading, card, pole)}</div>`)}</div></fieldset>`;
  }
  if (reading.of === "one pole") {
    const poles = [...letters].sort().map((pole) => html`<option value="${pole}">${poleName(card, pole)}</option>`);
    return html`<div class="reading">${box(reading, card, "")}<label>at pole<select name="${reading.name}.pole"><option value=""></option>${poles}</select></label></div>`;
  }
  return html`<div class="reading">${box(reading, card, "")}</div>`;
}

/** Fields for readings. */
const fieldsOf = (readings, card, letters) => readings.map((reading) => field(reading, card, letters));

const inFull = (text) => Math.round(Number(text) * 1e4) / 1e4;

/** A number as typed, with its box of inches; NaN when it is none. */
function typedNumber(text, inches) {
  const parts = FEET.exec(text);
  if (parts && !inches) {
    const [feet, whole, over, under] = parts.slice(1).map(Number);
    return whole < 12 ? inFull(feet + (whole + (under ? over / under : 0)) / 12) : NaN;
  }
  const number = text === "" ? 0 : /^\d*[.,]?\d+$|^\d+[.,]$/.test(text) ? Number(text.replace(",", ".")) : NaN;
  const more = inches === "" ? 0 : /^\d*[.,]?\d+$/.test(inches) ? Number(inches.replace(",", ".")) : NaN;
  return inFull(number + more / 12);
}

/** One reading out of the form: null when nothing is typed; throws an Error with `box` when it cannot be. */
function readOne(reading, card, form, pole) {
  const name = boxName(reading, pole);
  const input = form.elements[name];
  const text = input?.value.trim() ?? "";
  const inches = form.elements[`${name}.in`]?.value.trim() ?? "";
  if (!text && !inches) return null;
  const refuse = (words) => {
    throw Object.assign(new Error(words), { box: input });
  };
  if (reading.kind === "text") return { name: reading.name, value: text, unit: "" };
  if (reading.kind === "yes or no") return { name: reading.name, value: text === "yes", unit: "" };
  const { unit, least, most } = askedIn(reading, card);
  const what = `${reading.label}${pole && ` at ${poleName(card, pole)}`}: ${[text, inches && `${inches} in`].filter(Boolean).join(" ")}`;
  const value = typedNumber(text, inches);
  if (Number.isNaN(value)) refuse(`${what} is no number in ${unit}${unit === "ft" ? ", like 9.5 or 9-6" : ""}`);
  if (value < least - 1e-6 || value > most + 1e-6) refuse(`${what} cannot be; it lies between ${inFull(least)} and ${inFull(most)} ${unit}`);
  return { name: reading.name, value, unit };
}

/** The readings of a form for a record of one pole, or of the whole structure (""); throws as `readOne` does. */
function readingsOf(card, form, pole) {
  const found = [];
  for (const reading of declared()) {
    const letters = reading.of === "pole" ? ["A", "B", "C"] : [""];
    for (const letter of letters) {
      const one = readOne(reading, card, form, letter);
      if (!one) continue;
      if (letter && pole && letter !== pole) {
        throw Object.assign(new Error(`${reading.label} of pole ${poleName(card, letter)} is filled in: save ${poleName(card, letter)} first, or all poles`), { box: form.elements[boxName(reading, letter)] });
      }
      const low = form.elements[`${reading.name}.pole`];
      if (reading.of === "one pole" && one.value && !low.value) throw Object.assign(new Error(`${reading.label}: say which pole is low`), { box: low });
      found.push({ ...one, pole: reading.of === "one pole" ? low.value : letter === pole ? "" : letter });
    }
  }
  return found;
}

/** The readings a record holds, those of an older version of this page included. */
function heldBy(body) {
  const { wind, brand_seen: brand } = body;
  return [
    ...(body.readings ?? []),
    ...(wind ? [{ name: "wind", value: wind.speed_mph, unit: "mph", pole: "" }] : []),
    ...(wind && wind.gust_mph !== null ? [{ name: "gust", value: wind.gust_mph, unit: "mph", pole: "" }] : []),
    ...(brand ? [{ name: "brand", value: brand, unit: "", pole: "" }] : []),
  ];
}

/** A value in the unit in which a card's form asks for it; one in a unit no form asks in stays as it is. */
function inAsked(reading, value, unit, card) {
  const asked = askedIn(reading, card);
  const held = Object.values(reading.asked).find((other) => other.unit === unit);
  return !held || held.unit === asked.unit ? value : inFull((value * held.in_first) / asked.in_first);
}

/** Boxes and what stands in them when a record is corrected: its readings are kept unless they are changed. */
function boxesOf(body, card) {
  const values = {};
  for (const { name, value, unit, pole } of heldBy(body)) {
    const reading = declared().find((known) => known.name === name);
    if (!reading) continue;
    const text = value === true ? "yes" : value === false ? "no" : String(reading.kind === "number" ? inAsked(reading, value, unit, card) : value);
    for (const letter of reading.of === "pole" ? (pole || body.pole || "ABC") : [""]) values[boxName(reading, letter)] = text;
    if (reading.of === "one pole") values[`${name}.pole`] = pole;
  }
  return values;
}

function wordsOf({ name, value, unit, pole }, card) {
  const reading = declared().find((known) => known.name === name);
  if (!reading) return "";
  const [yes, no] = reading.says.split("|");
  const says = value === false ? no : yes;
  return says.replace("{value}", `${value}${unit && ` ${unit}`}`).replace("{at}", pole && ` at ${poleName(card, pole)}`);
}

/** "depth 9.5 ft, arm level" of a record on this phone at the structure of a card. */
const readingWords = (body, card) => heldBy(body).map((reading) => wordsOf(reading, card)).filter(Boolean).join(", ");

const highestWind = (speed, gust) => Math.max(speed || 0, gust || 0);

/** How a form asks for the wind where nothing declares it: as version 0.1.0 did. */
const MPH = { unit: "mph", in_first: 1 };

/** The published note, the limits that the employer entered and who decides, in sentences. */
const windSaid = (card) => index().wind?.words[lineOf(card).unit] ?? [];

/** The winds somebody names that a wind passes, [{ name, mph }]; those it does not pass are never said. */
const windsPassed = (speed, gust, limits, asked = MPH) => limits.filter(({ mph }) => highestWind(speed, gust) * (asked.in_first ?? 1) > mph);

/** What is said of a wind reading: only what it passes, never what it does not. */
function windWords(speed, gust, limits, asked = MPH) {
  const highest = highestWind(speed, gust);
  if (!highest) return "";
  const above = windsPassed(speed, gust, limits, asked).map(({ name, mph }) => {
    const whole = `${Math.round(mph * 10) / 10} mph`;
    return `${name}, ${asked.unit === "mph" ? whole : `${(mph / asked.in_first).toFixed(1)} ${asked.unit} (${whole})`}`;
  });
  return `${above.length ? `${highest} ${asked.unit} is above ${above.join("; above ")}. ` : ""}The person in charge decides; this page decides nothing.`;
}

/** The note and the limits in a form that asks for wind, and what a wind that is typed passes. */
const windBlock = (card) => html`<div class="wind-said">${windSaid(card).map((words) => html`<p><small>${words}</small></p>`)}</div><p data-wind role="status"></p>`;

/** Say of the wind as it is typed which limits it passes. */
function showWind(card, form) {
  const reading = declared().find(({ name }) => name === "wind");
  const [speed, gust] = ["wind", "gust"].map((name) => Number(form.elements[name]?.value.replace(",", ".")));
  const asked = reading && askedIn(reading, card);
  const limits = index().wind?.limits ?? [];
  const said = form.querySelector("[data-wind]");
  said.textContent = windWords(speed, gust, limits, asked);
  said.className = windsPassed(speed, gust, limits, asked).length ? "hold hold" : "";
}

export { evidenceOf, askedBy, fieldsOf, readingsOf, boxesOf, readingWords, typedNumber, windSaid, windWords, windBlock, showWind };
