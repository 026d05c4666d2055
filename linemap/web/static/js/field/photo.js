// Photos: taken with the phone's own camera, made smaller, and sent in parts that go on where they stopped.

import { askRaw, Refused } from "./http.js";
import { read, write } from "./db.js";

/** Longest side kept, pixels: a pole brand stays readable. */
const LONGEST = 2560;
const QUALITY = 0.85;
const PART = 256 * 1024;

/**
 * Make a picture file ready to keep: JPEG, upright, without what the camera wrote into it (the place among
 * it; the record carries the position). Throws an Error in plain words when the file is no picture.
 */
async function prepare(file) {
  let drawn;
  try {
    drawn = await createImageBitmap(file);
  } catch {
    throw new Error(`${file.name || "the file"} is no picture this phone can read; take a JPEG`);
  }
  const share = Math.min(1, LONGEST / Math.max(drawn.width, drawn.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(drawn.width * share));
  canvas.height = Math.max(1, Math.round(drawn.height * share));
  /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d")).drawImage(drawn, 0, 0, canvas.width, canvas.height);
  drawn.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  if (!blob) throw new Error("the picture is too large for this phone; take a smaller one");
  return { id: crypto.randomUUID(), type: "image/jpeg", taken: file.lastModified, data: await blob.arrayBuffer() };
}

/** Make files ready one after the other, into `pictures`; `show` gets what to say while and after. */
async function prepareAll(files, pictures, show) {
  let words = "";
  for (const file of files) {
    show("Keeping the photo…");
    try {
      pictures.push(await prepare(file));
    } catch (error) {
      words = error.message;
    }
  }
  show(words);
}

const address = (photo) => `/api/photos/${photo.id}`;

async function received(photo) {
  const response = await askRaw("HEAD", address(photo), { accept: [404] });
  return response.status === 404 ? 0 : Number(response.headers.get("upload-offset"));
}

/** SHA-256 of the whole photo in hexadecimal: the server compares it once the last part is there. */
async function fingerprint(data) {
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-256", data));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function sendPart(photo, from, sha256) {
  const total = photo.data.byteLength;
  const to = Math.min(from + PART, total);
  const asked = new URLSearchParams({ event: photo.event, total, sha256 });
  await askRaw("PUT", `${address(photo)}?${asked}`, {
    body: photo.data.slice(from, to),
    headers: { "content-type": photo.type, "content-range": `bytes ${from}-${to - 1}/${total}` },
  });
  return to;
}

/** The server has all of a photo: it is kept with its record, which is then held against the job once more. */
const settle = (photo) =>
  write(["photos", "kept", "sent"], (store) => {
    store("photos").delete(photo.id);
    store("sent").get(photo.event).onsuccess = ({ target }) => {
      if (!target.result) return; // of a record that an older version of this page forgot
      const { id, event, type, taken, data } = photo;
      store("kept").put({ id, event, type, taken, data });
      store("sent").put({ ...target.result, kept: null });
    };
  });

/** Send what the server does not have of a photo, in parts, until it has all of it. */
async function send(id, progress) {
  const photo = await read("photos", id);
  if (!photo || photo.state === "refused") return;
  try {
    const sha256 = await fingerprint(photo.data);
    let at = await received(photo);
    while (at < photo.data.byteLength) {
      at = await sendPart(photo, at, sha256);
      await write(["photos"], (store) => store("photos").put({ ...photo, sent: at }));
      await progress();
    }
    await settle(photo);
  } catch (error) {
    if (!(error instanceof Refused) || (error.waits && error.status !== 404)) throw error;
    const refused = { ...photo, state: "refused", why: error.message };
    await write(["photos"], (store) => store("photos").put(refused));
  }
  await progress();
}

export { prepareAll, send };
