// Who holds this phone: crew, person, a name for the device, and which way the person likes to face.

import { read, remember } from "./db.js";
import { askJson } from "./http.js";
import { mark, marker } from "./memory.js";

const known = { crew: "", actor: "", device: "", facing: "ahead" };
const NOBODY = { name: "", mark: "", role: "", crew: "", at: 0 };
/** Who is signed in on this phone as far as it knows, with the mark that proves it; `at` is when it was heard. */
const signed = { ...NOBODY };
/** Who was signed in before that: a phone that changes hands records for its new holder. */
const before = { name: "" };
/** When somebody signed in on this phone last, as the sign-in page keeps it. */
const ANEW = "linemap-signed-anew";
/** Roles that see to several crews. */
const OF_ALL_CREWS = ["inspector", "manager"];

/** Crew, person, device and facing as chosen on this phone. */
const me = () => known;

/** Bring back what was chosen; a device gets its name once. */
async function restoreMe() {
  Object.assign(known, await read("meta", "me"));
  const [heard, anew] = [await read("meta", "signed"), signedAnew()];
  // somebody signed in since: who it is, the server says
  if (heard && heard.at > anew) Object.assign(signed, heard);
  before.name = heard?.last ?? "";
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

function signedAnew() {
  try {
    return Number(localStorage.getItem(ANEW) ?? 0);
  } catch {
    return 0; // storage may be closed in private windows
  }
}

/** What a record says of who is signed in where it is made; it goes with the record, whoever sends it later. */
const signature = () => ({ signed_by: signed.name, mark: signed.mark });

/** The crew to claim for: one's own where one is set, which the office does for several. */
const ownCrew = () => (signed.crew && !OF_ALL_CREWS.includes(signed.role) ? signed.crew : known.crew);

/** May whoever is signed in record a step with these roles? Where nobody is known, the server says. */
const hasRole = (roles) => !roles?.length || !signed.role || roles.includes(signed.role);

/** Keep who is signed in, as the server says. What was recorded before stays under the name it has. */
async function heardOf(session) {
  const { name, role, crew } = session;
  const now = session.signed_in && !session.local ? { name, role, crew, mark: session.mark } : NOBODY;
  Object.assign(signed, now, { at: Date.now() });
  const chosen = {};
  if (now.name && (!known.actor || (before.name && before.name !== now.name))) chosen.actor = now.name;
  if (now.name && now.crew && !known.crew) chosen.crew = now.crew;
  before.name = now.name || before.name;
  // known with whoever is signed in, before anything is kept: a record made meanwhile bore the name of the last holder
  await choose(chosen);
  await remember("signed", { ...signed, last: before.name });
}

/**
 * Who signed in is the one who records; holds are released by the office, so crews are not offered it. Null without a
 * signal: no hold is released then.
 */
async function mayRelease() {
  try {
    const session = await askJson("GET", "/api/session");
    await heardOf(session);
    const { signed_in, local, role } = session;
    return signed_in && (local || !["crew", "viewer"].includes(role));
  } catch {
    return null;
  }
}

export { me, restoreMe, choose, signature, ownCrew, hasRole, mayRelease };
