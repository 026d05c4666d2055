// Who holds this phone: crew, person, a name for the device, and which way the person likes to face.

import { read, remember } from "./db.js";

const known = { crew: "", actor: "", device: "", facing: "ahead" };

/** Crew, person, device and facing as chosen on this phone. */
const me = () => known;

/** Bring back what was chosen; a device gets its name once. */
async function restoreMe() {
  Object.assign(known, await read("meta", "me"));
  if (known.device) return;
  known.device = `phone-${crypto.randomUUID().slice(0, 8)}`;
  await remember("me", { ...known });
}

/** Choose anew; what is not named stays. */
async function choose(changes) {
  Object.assign(known, changes);
  await remember("me", { ...known });
}

export { me, restoreMe, choose };
