// At the door: nobody is logged in, so pages of the bench that this device kept are thrown away, unless something that
// was recorded on it still waits to be sent.
"use strict";

// Who logged out left what was typed and not saved to nobody; who was only logged out by time finds it again.
if (location.search === "?left") {
  try {
    Object.keys(localStorage).filter(function (name) { return name.startsWith("order:"); })
      .forEach(function (name) { localStorage.removeItem(name); });
  } catch (refused) { /* a browser that keeps nothing has nothing to throw away */ }
}

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
