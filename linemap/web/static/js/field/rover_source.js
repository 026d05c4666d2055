// Where a rover's positions come from: this phone's browser, or a receiver on a serial port (cable or Bluetooth).
// Each position comes with what its source says of it, and why it does not count, in words; "" = it counts.

import { judgeEpoch, NmeaReader } from "./nmea.js";

/** @typedef {{ at: number, longitude: number, latitude: number, accuracy_m: number, sigma_m: number, why: string }} Position */

const BAUDS = [115200, 38400, 9600];
const DAY = 86400;
const QUIET_MS = 5000;

/** @type {{ stop: () => void, kind: string }} */
const open = { stop: () => {}, kind: "" };

/** Does this browser read serial ports? */
const hasSerial = () => "serial" in navigator;

/** Seconds since 1970 of a time of day: of the day that puts it nearest to `near`, the time before or now. */
function secondsOf(time, near) {
  const [hours, minutes, seconds] = [time.slice(0, 2), time.slice(2, 4), time.slice(4)].map(Number);
  const at = hours * 3600 + minutes * 60 + seconds;
  return at + DAY * Math.round((near - at) / DAY);
}

/** Say it when nothing comes for a while; call the answer with each sign of life. */
function watchQuiet(said, words) {
  let timer = setTimeout(() => said(words), QUIET_MS);
  return {
    alive: () => {
      clearTimeout(timer);
      timer = setTimeout(() => said(words), QUIET_MS);
    },
    end: () => clearTimeout(timer),
  };
}

const WHY = { 1: "position not allowed on this phone", 2: "no position: no satellites in view", 3: "waiting for satellites" };

/**
 * Positions of this phone's browser. Its accuracy is the radius of the circle `circle` names; a browser does not
 * say whether a position is fixed, so the accuracy alone decides.
 */
function openBrowser(rule, circle, take, said) {
  stop();
  const sigmas = new Map(rule.circles).get(circle) ?? rule.circles[0][1];
  const quiet = watchQuiet(said, "no position from this phone");
  const got = ({ coords, timestamp }) => {
    quiet.alive();
    const accuracy = coords.accuracy;
    const why = accuracy <= rule.gate_m ? "" : `this phone's position is good to ${accuracy.toFixed(accuracy < 1 ? 3 : 1)} m by its own words`;
    take({ at: timestamp / 1000, longitude: coords.longitude, latitude: coords.latitude, accuracy_m: accuracy, sigma_m: accuracy / sigmas, why });
  };
  const id = navigator.geolocation.watchPosition(got, (error) => said(WHY[error.code] ?? "no position"), { enableHighAccuracy: true, maximumAge: 0 });
  open.kind = "browser";
  open.stop = () => {
    quiet.end();
    navigator.geolocation.clearWatch(id);
  };
}

/** Hand the bytes of a port to a reader until it is closed or lost. */
async function pump(stream, rule, take, alive) {
  const reader = new NmeaReader();
  let at = Date.now() / 1000;
  for (;;) {
    const { value, done } = await stream.read();
    if (done) return;
    for (const epoch of reader.push(value)) {
      alive();
      at = secondsOf(epoch.time, at);
      take({ at, ...judgeEpoch(epoch, rule) });
    }
  }
}

/** Positions of a receiver on a serial port, which the person chooses; resolves when it reads. */
async function openSerial(rule, baudRate, take, said) {
  stop();
  /** @type {any} */
  const port = await (/** @type {any} */ (navigator)).serial.requestPort();
  await port.open({ baudRate });
  const stream = port.readable.getReader();
  const quiet = watchQuiet(said, `nothing that can be read comes from the receiver at ${baudRate} baud: GGA, GST and RMC must be switched on`);
  let wanted = true;
  open.kind = "serial";
  open.stop = () => {
    wanted = false;
    quiet.end();
    void stream.cancel().catch(() => {});
  };
  const ended = (error) => {
    quiet.end();
    if (wanted) said(`the receiver is gone${error?.message ? `: ${error.message}` : ""}`);
    stream.releaseLock();
    void Promise.resolve(port.close()).catch(() => {});
  };
  void pump(stream, rule, take, quiet.alive).then(ended, ended);
}

/** Let go of where positions come from. */
function stop() {
  open.stop();
  open.stop = () => {};
  open.kind = "";
}

/** Which source is open: "browser", "serial" or "". */
const openKind = () => open.kind;

export { BAUDS, hasSerial, openBrowser, openSerial, openKind, stop };
