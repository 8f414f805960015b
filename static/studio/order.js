// Keep what was opened in the price open while it is reckoned anew.
"use strict";

(function () {
  let opened = new Set();

  function name(details) {
    const summary = details.querySelector("summary");
    const words = summary.querySelector("span") || summary;
    return words.textContent.replace(/[\d.,]+/g, "").trim();
  }

  document.addEventListener("htmx:beforeSwap", function (event) {
    if (event.detail.target.id === "price") {
      opened = new Set(Array.from(event.detail.target.querySelectorAll("details[open]"), name));
    }
  });
  document.addEventListener("htmx:afterSettle", function () {
    document.querySelectorAll("#price details:not([open])").forEach(function (details) {
      if (opened.has(name(details))) { details.open = true; }
    });
    opened.clear();
  });
}());
