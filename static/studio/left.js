// At the door: nobody is logged in, so pages of the bench that this device kept are thrown away, unless something that
// was recorded on it still waits to be sent.
"use strict";

(async function () {
  const place = document.querySelector("[data-kept-here]");
  if (!("indexedDB" in window)) { return; }
  try {
    const count = (await window.keptRecords.all()).length;
    if (count === 0) { await window.keptRecords.empty(); return; }
    place.textContent = (count === 1 ? "1 tick of the bench is" : count + " ticks of the bench are") +
      " kept on this device: log in and open the bench, and they go up.";
    place.hidden = false;
  } catch (refused) { /* a browser that keeps nothing has nothing to throw away */ }
}());
