// Signing in: one tap on the link of a phone, name and password on a desktop.
//
// The code of a link stands behind the # of the address, which no browser sends to a server; it is used at the
// tap and not when the page opens, since previews of messages open pages too.

const CODE = /^#code=([A-Za-z0-9_-]{1,100})$/;
const at = (id) => document.getElementById(id);

/** Where to go afterwards: an address of this server, the map unless the page was asked for on the way. */
function onward(search, hash) {
  const next = new URLSearchParams(search).get("next") ?? "/";
  const home = new URL("http://linemap.invalid/");
  let url;
  try {
    url = new URL(next, home);
  } catch {
    return "/";
  }
  if (url.origin !== home.origin) return "/";
  return url.pathname.replace(/^\/+/, "/") + url.search + (CODE.test(hash) ? "" : hash);
}

function say(words) {
  at("message").textContent = words;
  at("message").hidden = words === "";
}

async function send(method, body) {
  const headers = { Accept: "application/json" };
  if (body) headers["Content-Type"] = "application/json";
  let response;
  try {
    response = await fetch("/api/session", { method, headers, body: body && JSON.stringify(body) });
  } catch {
    say("No contact with the server. Check the connection and try again.");
    return null;
  }
  if (response.status === 204) return {};
  const answer = await response.json().catch(() => null);
  if (response.ok) return answer;
  say(answer?.error?.message ?? `The server answered ${response.status}. Try again.`);
  return null;
}

/** The page a person works with: crews, and who inspects with a phone in hand, the field page; everybody else the map. */
const homeOf = ({ role }) => (role === "crew" || (role === "inspector" && inHand()) ? "/field" : "/");

/** Is this a screen that is held in a hand and touched? */
const inHand = () => matchMedia("(pointer: coarse) and (max-width: 700px)").matches;

/** Let the pages of a phone know that who signed in changed: what they heard before is of somebody else. */
function noteAnew() {
  try {
    localStorage.setItem("linemap-signed-anew", String(Date.now()));
  } catch {
    // storage may be closed in private windows; the pages ask the server anyway
  }
}

function goOn(session) {
  const asked = new URLSearchParams(location.search).has("next");
  location.replace(asked ? onward(location.search, location.hash) : homeOf(session));
}

async function signIn(body, button) {
  button.disabled = true;
  say("");
  const session = await send("POST", body);
  button.disabled = false;
  if (!session) return;
  noteAnew();
  goOn(session);
}

function showForm() {
  at("signed-in").hidden = true;
  at("by-password").hidden = false;
}

function showWho(session) {
  at("who").textContent = session.local
    ? "This job has no people yet. It is open to this machine only."
    : `Signed in as ${session.name}, ${session.role}.`;
  const asked = new URLSearchParams(location.search).has("next");
  at("onward").href = asked ? onward(location.search, location.hash) : homeOf(session);
  at("field").hidden = session.role === "viewer" || at("onward").getAttribute("href") === "/field";
  at("leave").hidden = session.local;
  at("signed-in").hidden = false;
}

async function start() {
  const code = CODE.exec(location.hash)?.[1];
  at("by-link").hidden = !code;
  if (code) {
    at("by-password").hidden = at("signed-in").hidden = true;
    at("take").focus();
    return;
  }
  const session = await send("GET");
  // the cookie does not travel with a link from elsewhere, so the page asked for was not shown; now it is
  if (session?.signed_in && new URLSearchParams(location.search).has("next")) {
    location.replace(onward(location.search, location.hash));
    return;
  }
  if (session?.signed_in) showWho(session);
  else showForm();
}

at("take").addEventListener("click", () => signIn({ code: CODE.exec(location.hash)?.[1] ?? "" }, at("take")));
at("by-password").addEventListener("submit", (event) => {
  event.preventDefault();
  signIn({ name: at("name").value, password: at("password").value }, event.submitter);
});
at("leave").addEventListener("click", async () => {
  if (await send("DELETE")) showForm();
});
// a link opened in a tab that shows this page already changes only what stands behind the #
window.addEventListener("hashchange", start);
start();
