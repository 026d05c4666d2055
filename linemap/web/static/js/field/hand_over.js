// Two phones without a server: one shows its records as square codes or writes them to a file with their photos, the
// other reads them, and sends them as soon as it can. Nothing leaves the first phone by that.

import { html, render } from "../shared/html.js";
import { toast } from "./banner.js";
import { all, keys, read } from "./db.js";
import { unsafe } from "./kept.js";
import { me } from "./me.js";
import { handed, takeIn, waiting } from "./outbox.js";
import { Row, codesOf, fileBytes, fileText, pack, unpack } from "./parcel.js";
import { soon } from "./sync.js";
import { counted, stamp } from "./words.js";

/** One code stands so long: twice a second is no flashing, and an old camera reads it. */
const EACH_MS = 500;
/** White around a code, in modules (ISO/IEC 18004, 5.3.8). */
const QUIET = 4;
const LIBRARY = "/vendor/qr.js";

/** Writer and reader of codes, which lie on the phone with the page. */
async function library() {
  try {
    return await import(LIBRARY);
  } catch {
    throw new Error("The codes are not on this phone yet: open this page once with a signal, or hand over by a file");
  }
}

/** @type {{ codes: string[], at: number, paused: boolean, everything: boolean, file: File | null }} */
const state = { codes: [], at: 0, paused: false, everything: false, file: null };

const main = () => /** @type {HTMLElement} */ (document.getElementById("main"));
const say = (words) => {
  const box = main().querySelector("[data-hand]");
  if (box) box.textContent = words;
};

const unsent = () => waiting().filter((entry) => entry.state === "waiting");
const entries = () => [...unsent(), ...(state.everything ? unsafe() : [])];

/** All photos of some records, with their bytes. */
async function photosOf(those) {
  const ids = new Set(those.map(({ id }) => id));
  const sent = await Promise.all((await keys("kept")).map((id) => read("kept", id)));
  return [...(await all("photos")), ...sent].filter(({ event }) => ids.has(event));
}

/** Show the page: what can be handed over, and how to take something over. */
function showHandOver() {
  const many = unsent().length;
  const more = unsafe().length;
  state.everything ||= many === 0 && more > 0;
  const box = more > 0 && html`<label class="check"><input type="checkbox" name="everything" ${state.everything ? "checked" : ""}> Also ${counted(more, "record")} that the server has and no copy of the job holds</label>`;
  render(main(), html`<div class="hand"><h1 tabindex="-1">Hand over</h1>
    <p>To another phone of this job, without a server. That phone sends the records as soon as it has a signal; each stays under the name it was recorded with, and counts once, whoever sends it first. They stay on this phone too.</p>
    <p data-hand role="status"></p>
    <h2>From this phone: ${counted(many, "record")} not sent</h2>${box}
    ${many + more ? html`<button type="button" class="primary" data-do="codes">Show square codes</button>
      <button type="button" class="wide" data-do="file">Make a file, with the photos</button>` : html`<p>Nothing to hand over.</p>`}
    <h2>From another phone</h2>
    <button type="button" class="primary" data-do="look">Read square codes</button>
    <label class="button wide photo">Open a file<input type="file" name="handed" accept=".txt,text/plain"></label>
    <a class="button wide" href="#v=send">Back to Send</a></div>`);
  const form = main();
  form.querySelector("[name=handed]").onchange = ({ target }) => void takeFile(target);
  if (box) form.querySelector("[name=everything]").onchange = ({ target }) => (state.everything = target.checked);
}

function draw(text, encodeQR, canvas) {
  const rows = encodeQR(text, "raw", { ecc: "medium", border: QUIET });
  const side = Math.max(1, Math.floor((canvas.clientWidth * devicePixelRatio) / rows.length));
  canvas.width = canvas.height = rows.length * side;
  const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  pen.fillStyle = "white";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.fillStyle = "black";
  rows.forEach((row, y) => row.forEach((dark, x) => dark && pen.fillRect(x * side, y * side, side, side)));
}

const placeWords = () => `Code ${state.at + 1} of ${state.codes.length}`;

/** Show the codes one after the other, until the page shows something else. */
async function playCodes(encodeQR) {
  const canvas = main().querySelector("canvas");
  while (canvas?.isConnected) {
    draw(state.codes[state.at], encodeQR, canvas);
    canvas.dataset.shown = String(state.at + 1);
    canvas.setAttribute("aria-label", `${placeWords()}, for the camera of another phone`);
    main().querySelector("[data-place]").textContent = placeWords();
    const shown = state.at;
    do await new Promise((after) => setTimeout(after, EACH_MS));
    while (canvas.isConnected && state.paused && state.at === shown);
    if (!state.paused) state.at = (state.at + 1) % state.codes.length;
  }
}

/** What is handed over may reach the server by the other phone: from now on it is withdrawn, never just dropped. */
async function give(those, photos) {
  const bytes = await pack(those, photos, me().device);
  await handed(those.map(({ id }) => id));
  return bytes;
}

async function showCodes() {
  const those = entries();
  const found = await library().catch((error) => say(`${error.message}.`));
  if (!found) return undefined;
  const codes = those.length ? await codesOf(await give(those, [])) : [];
  if (!codes.length) return say(those.length ? "Too many records for square codes: make a file." : "Nothing to hand over.");
  Object.assign(state, { codes, at: 0, paused: false });
  const pictures = (await photosOf(those)).length;
  render(main(), html`<div class="hand"><h1 tabindex="-1">${counted(those.length, "record")}</h1>
    <p>On the other phone: Send, Hand over, Read square codes.${pictures ? html` <b>${counted(pictures, "photo")} go by a file only.</b>` : ""}</p>
    <canvas class="code" role="img"></canvas><p data-place></p>
    <div class="pair"><button type="button" data-do="pause" aria-pressed="false">Pause</button><button type="button" data-do="next-code">Next code</button></div>
    <button type="button" class="wide" data-do="hand">Done</button></div>`);
  main().querySelector("h1").focus({ preventScroll: true });
  main().querySelector("canvas").scrollIntoView({ block: "center" });
  return void playCodes(found.encodeQR);
}

async function makeFile() {
  const those = entries();
  if (!those.length) return say("Nothing to hand over.");
  const photos = await photosOf(those);
  const name = `records ${me().device} ${stamp(Date.now()).slice(0, 16).replace(":", "")}.txt`;
  state.file = new File([fileText(await give(those, photos))], name, { type: "text/plain" });
  const address = URL.createObjectURL(state.file);
  const shares = navigator.canShare?.({ files: [state.file] });
  render(main(), html`<div class="hand"><h1 tabindex="-1">A file</h1>
    <p>${counted(those.length, "record")} and ${counted(photos.length, "photo")}. Bring it to the other phone in any way: near-by sharing, a cable, a memory card. There: Send, Hand over, Open a file.</p>
    <p data-hand role="status"></p>
    ${shares && html`<button type="button" class="primary" data-do="share">Share the file</button>`}
    <a class="button wide" download="${name}" href="${address}">Save the file</a>
    <button type="button" class="wide" data-do="hand">Done</button></div>`);
  return main().querySelector("h1").focus({ preventScroll: true });
}

async function shareFile() {
  try {
    await navigator.share({ files: [/** @type {File} */ (state.file)] });
    say("Shared.");
  } catch (error) {
    if (error.name !== "AbortError") say("This phone cannot share the file; save it instead.");
  }
}

/** Keep what came from another phone, and say what it was. */
async function take(bytes) {
  const { from, entries: came, photos } = await unpack(bytes);
  const { fresh, known, pictures } = await takeIn(came, photos, from);
  soon();
  showHandOver();
  say(`Taken over from ${from}: ${counted(fresh, "record")}${pictures ? ` and ${counted(pictures, "photo")}` : ""}${known ? `; ${known} ${known > 1 ? "were" : "was"} here already` : ""}. Under Send they go out with those of this phone.`);
}

async function takeFile(input) {
  const [file] = input.files;
  input.value = "";
  try {
    if (file) await take(fileBytes(await file.text()));
  } catch (error) {
    say(`NOT TAKEN OVER. ${error.message}.`);
  }
}

async function detectorOf() {
  const own = /** @type {any} */ (window).BarcodeDetector;
  const formats = (await own?.getSupportedFormats()) ?? [];
  const maker = formats.includes("qr_code") ? own : (await library()).BarcodeDetector;
  return new maker({ formats: ["qr_code"] });
}

const partWords = (row) => (row.of ? `${row.pieces.size} of ${row.of} codes read${row.missing.length < 6 ? `; still to read: ${row.missing.join(", ")}` : ""}` : "Looking for a code");

/** Read codes from the camera until the row is whole; "" in place of a row when the page shows something else. */
async function watch(video) {
  const row = new Row();
  const detector = await detectorOf();
  while (video.isConnected) {
    for (const { rawValue } of await detector.detect(video)) {
      if (row.take(rawValue)) say(partWords(row));
      else say("This code is none of a phone's records");
    }
    if (row.of && !row.missing.length) return row.bytes();
    await new Promise((after) => requestAnimationFrame(after));
  }
  return null;
}

async function readCodes() {
  if (!navigator.mediaDevices?.getUserMedia) {
    return say("The camera is open to pages over https alone. Hand over by a file.");
  }
  render(main(), html`<div class="hand"><h1 tabindex="-1">Read codes</h1><p>Hold this phone a hand's length before the other one, so that the whole code is in the picture.</p>
    <video class="code" playsinline muted aria-label="What the camera sees"></video><p data-hand role="status">Starting the camera…</p>
    <button type="button" class="wide" data-do="hand">Stop</button></div>`);
  main().querySelector("h1").focus({ preventScroll: true });
  const video = main().querySelector("video");
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 } } });
    video.srcObject = stream;
    await video.play();
    say("Looking for a code");
    const bytes = await watch(video);
    if (bytes) await take(bytes);
  } catch (error) {
    if (video.isConnected) showHandOver();
    say(stream ? `NOT TAKEN OVER. ${error.message}.` : "The camera cannot be opened: allow it for this page, or hand over by a file.");
  } finally {
    stream?.getTracks().forEach((track) => track.stop());
  }
  return undefined;
}

/** What the buttons of these pages do. */
const HANDING = {
  hand: () => showHandOver(),
  codes: () => showCodes(),
  file: () => makeFile(),
  share: () => shareFile(),
  look: () => readCodes(),
  pause: (button) => {
    state.paused = !state.paused;
    button.setAttribute("aria-pressed", String(state.paused));
    toast(state.paused ? "Paused: go on by Next code" : "Going on");
  },
  "next-code": () => {
    state.at = (state.at + 1) % state.codes.length;
  },
};

export { HANDING, showHandOver };
