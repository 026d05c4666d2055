// The page itself on the phone: kept by its worker, and exchanged when another job is served at this address.

import { status } from "./sync.js";

/** Is a newer page kept than the one that is shown; is what was dropped being written again? */
const kept = { newer: false, dropped: false };

/**
 * Another job is served here and its page is on the phone: show that one, unless somebody is typing. What waits for
 * this job stays on the phone, and the other page says so.
 * @param {() => boolean | undefined} typing
 */
function showServed(typing) {
  if (navigator.serviceWorker?.controller && kept.newer && status().otherJob && !typing()) location.reload();
}

/**
 * Keep the page on the phone.
 * @param {() => boolean | undefined} typing
 */
function keepPage(typing) {
  if (!("serviceWorker" in navigator)) return;
  void navigator.serviceWorker.register("/sw.js", { scope: "/" });
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    kept.newer = true;
    showServed(typing);
  });
}

/**
 * The browser took away what this page keeps: what is in memory is written again, and the rest is said.
 * @param {() => Promise<unknown>} rescue
 * @param {() => boolean | undefined} typing
 */
async function writeAgain(rescue, typing) {
  if (kept.dropped) return; // it is being written again, and dropped once more meanwhile
  kept.dropped = true;
  await rescue();
  kept.dropped = false;
  if (!typing()) location.reload();
}

export { keepPage, showServed, writeAgain };
