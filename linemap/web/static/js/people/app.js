// The page of people: who may sign in, on which devices, with links and square codes that are shown once.

import { html, render, renderSvg } from "../shared/html.js";
import { at, moment, say, startPage } from "../shared/page.js";
import { getPeople, keepOut, sendPerson } from "../shared/office_api.js";

const WHAT = {
  crew: "records work",
  surveyor: "records work, decides causes and so signs positions",
  inspector: "records work and verifies it",
  manager: "everything except signing positions",
  viewer: "reads, without names",
};

/** @param {Answer.PeopleAnswer} found */
function addForm(found) {
  const option = (role) => html`<option value="${role}" ${found.open && role === "manager" && html`selected`}>${role}: ${WHAT[role]}</option>`;
  const first = found.open && html`<p><b>Nobody may sign in yet: this machine alone is the manager.</b> The first person must be a manager. From then on this page asks who you are too: open their link here, or on their phone.</p>`;
  return html`<h3 id="adding-title">Let somebody in</h3>${first}
    <form data-add class="parts office-form">
    <label>Name<input name="name" required maxlength="100" autocomplete="off"></label>
    <label>Role<select name="role">${(found.open ? ["manager"] : found.roles).map(option)}</select></label>
    <label>Device to sign in by link<input name="device" maxlength="100" value="phone" autocomplete="off" aria-describedby="device-hint"></label>
    <label>Password for a desktop, 15 characters or more<input name="password" type="password" minlength="15" maxlength="200" autocomplete="new-password" aria-describedby="device-hint"></label>
    <label>Offices for releasing holds<input name="releases" maxlength="400" list="offices" autocomplete="off" aria-describedby="office-hint"></label>
    <label>Crew they claim structures for<input name="crew" maxlength="100" autocomplete="off" aria-describedby="crew-hint"></label>
    <label>Address phones reach this server at<input name="address" maxlength="200" value="${found.address}" autocomplete="off" spellcheck="false"></label>
    <datalist id="offices">${found.offices.map((office) => html`<option value="${office}"></option>`)}</datalist>
    <p class="hint" id="device-hint">A link works once, within two days. With a password and no device there is no link.</p>
    <p class="hint" id="office-hint">As holds name them, parted by commas${found.offices.length > 0 && html`: ${found.offices.join(", ")}`}.</p>
    <p class="hint" id="crew-hint">As the crew records. Left empty, they may claim for any crew; inspectors and managers always may.</p>
    <div class="answers"><button type="submit">Let in</button></div></form>`;
}

/** @param {Answer.DeviceAnswer} device */
function deviceRow(device) {
  const out = device.state !== "kept out" && html`<button type="button" data-device="${device.id}">Keep out<span class="visually-hidden"> ${device.label}, number ${device.id}</span></button>`;
  return html`<tr><th scope="row">${device.label} <small>number ${device.id}</small></th><td data-state="${device.state}">${device.state}</td>
    <td>${device.last_seen ? html`last seen ${moment(device.last_seen)}` : html`made ${moment(device.made_at)}`}</td><td>${out}</td></tr>`;
}

/** @param {Answer.PersonAnswer} person */
function card(person, i) {
  const facts = [person.role, person.crew && `of crew ${person.crew}`, person.releases.length && `releases holds for ${person.releases.join(", ")}`, person.password && "has a password"].filter(Boolean).join(", ");
  const devices = person.devices.length
    ? html`<div class="scroll" tabindex="0" role="group" aria-label="Devices of ${person.name}"><table><thead><tr><th scope="col">device</th><th scope="col">state</th><th scope="col">when</th><th scope="col">change</th></tr></thead><tbody>${person.devices.map(deviceRow)}</tbody></table></div>`
    : html`<p class="none">no device</p>`;
  const more = html`<form data-more="${i}" class="answers"><label class="inline">New device<input name="device" required maxlength="100" value="phone" autocomplete="off"></label><button type="submit">${person.kept_out ? "Let in again" : "Make a link"}<span class="visually-hidden"> for ${person.name}</span></button></form>`;
  const out = !person.kept_out && html`<button type="button" data-out="${i}">Keep out ${person.name}</button>`;
  return html`<article class="file" aria-labelledby="person-${i}"><header><h3 id="person-${i}">${person.name}</h3>${out}</header>
    <p>${person.kept_out && html`<b>Kept out.</b> `}${facts}</p>${devices}${more}</article>`;
}

class PeoplePage {
  /** @type {Answer.PeopleAnswer | null} */
  found = null;

  draw() {
    const { found } = this;
    if (!found) return;
    render(at("adding"), addForm(found));
    render(at("people"), found.people.length ? html`${found.people.map(card)}` : html`<p class="nothing">Nobody may sign in yet.</p>`);
    at("people").setAttribute("aria-busy", "false");
  }

  /** Show the link of a new device, this once. @param {Answer.SignInLink} made */
  shown(made) {
    const place = at("made");
    const how = made.once
      ? html`<p><b>Shown once.</b> ${made.name} opens this link on the phone, or scans the square, once, within two days.</p><div class="square"></div><p class="digest"><a href="${made.link}">${made.link}</a></p>`
      : html`<p>${made.name} signs in with the password at <a href="${made.link}">${made.link}</a>.</p>`;
    render(place, html`<h3 id="made-title" tabindex="-1">${made.name} may sign in</h3>${how}<div class="answers"><button type="button" data-done>Done, hide it</button></div>`);
    place.hidden = false;
    const square = /** @type {HTMLElement | null} */ (place.querySelector(".square"));
    if (square) renderSvg(square, made.square);
    place.querySelector("svg")?.setAttribute("aria-label", `Square code of the link of ${made.name}`);
    place.querySelector("svg")?.setAttribute("role", "img");
    at("made-title").focus();
  }

  /** @param {Answer.PersonRequest} person */
  async add(person) {
    try {
      this.shown(await sendPerson(person));
      say("");
    } catch (failure) {
      say(`Nobody was let in: ${failure.message}`);
      return;
    }
    // after the first person the machine itself is nobody any more
    await this.load().catch(() => {
      for (const part of ["adding", "people"]) at(part).hidden = true;
      say("This page asks who you are now: open the link of a manager.");
    });
  }

  async out(who, words) {
    try {
      this.found = await keepOut(who);
      this.draw();
      say(`${words} is kept out.`);
    } catch (failure) {
      this.draw();
      say(`Nobody was kept out: ${failure.message}`);
    }
  }

  async load() {
    this.found = await getPeople();
    this.draw();
  }

  submitted(form) {
    const given = /** @type {Record<string, string>} */ (Object.fromEntries(new FormData(form)));
    if (form.matches("[data-add]")) {
      const releases = given.releases.split(",").map((each) => each.trim()).filter(Boolean);
      void this.add({ name: given.name.trim(), role: /** @type {Answer.Role} */ (given.role), device: given.device.trim(), password: given.password, releases, crew: given.crew.trim(), address: given.address.trim() });
      return;
    }
    const person = this.found?.people[Number(form.dataset.more)];
    if (person) void this.add({ name: person.name, role: person.role, device: given.device.trim(), releases: [], crew: "", password: "", address: "" });
  }

  clicked(button) {
    if ("done" in button.dataset) {
      at("made").hidden = true;
      render(at("made"), html``);
      return;
    }
    // a second press is asked for: what is taken away is said on the button
    if (!("sure" in button.dataset)) {
      button.dataset.sure = "";
      button.firstChild.textContent = `Press again: k${button.firstChild.textContent.slice(1)}`;
      return;
    }
    const person = this.found?.people[Number(button.dataset.out)];
    if (button.dataset.device) void this.out({ device: Number(button.dataset.device) }, `Device ${button.dataset.device}`);
    else if (person) void this.out({ name: person.name }, person.name);
  }

  async start() {
    await this.load();
    at("main").addEventListener("submit", (event) => {
      event.preventDefault();
      this.submitted(event.target);
    });
    at("main").addEventListener("click", (event) => {
      const button = event.target.closest("button[type='button']");
      if (button) this.clicked(button);
    });
  }
}

const page = new PeoplePage();
void startPage(() => page.start());
