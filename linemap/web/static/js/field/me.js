// Who holds this phone: crew, person, a name for the device, and which way the person likes to face.

import { read, remember } from "./db.js";
import { askJson } from "./http.js";
import { mark, marker } from "./memory.js";

const known = { crew: "", actor: "", device: "", facing: "ahead" };

/** Crew, person, device and facing as chosen on this phone. */
const me = () => known;

/** Bring back what was chosen; a device gets its name once. */
async function restoreMe() {
  Object.assign(known, await read("meta", "me"));
  if (known.device) return;
  // a phone whose memory was dropped stays the same phone
  known.device = marker()?.device || `phone-${crypto.randomUUID().slice(0, 8)}`;
  await remember("me", { ...known });
  mark({ device: known.device });
}

/** Choose anew; what is not named stays. */
async function choose(changes) {
  Object.assign(known, changes);
  await remember("me", { ...known });
}

/**
 * Who signed in is the one who records; holds are released by the office, so crews are not offered it. Null without a
 * signal: no hold is released then.
 */
async function mayRelease() {
  try {
    const { signed_in, local, role, name } = await askJson("GET", "/api/session");
    if (signed_in && !local && !known.actor) await choose({ actor: name });
    return signed_in && (local || !["crew", "viewer"].includes(role));
  } catch {
    return null;
  }
}

export { me, restoreMe, choose, mayRelease };
