// How long ammoniacal silver has stood, counted up between loads. Without this script it stands as the page was loaded.
"use strict";

(function () {
  const WORDS = { "": "fresh", attention: "make it safe soon", danger: "past its limit" };

  function stood(minutes) {
    return minutes < 60 ? minutes + " min" : Math.floor(minutes / 60) + " h " + (minutes % 60) + " min";
  }

  function show(row) {
    const now = Date.now();
    const minutes = Math.max(0, Math.floor((now - Date.parse(row.dataset.since)) / 60000));
    let tone = "";
    if (now >= Date.parse(row.dataset.amber)) { tone = "attention"; }
    if (now >= Date.parse(row.dataset.red)) { tone = "danger"; }
    const word = row.querySelector("[data-word]");
    row.querySelector("[data-stood]").textContent = stood(minutes);
    word.className = tone ? "state state-" + tone : "state";
    row.querySelector("[data-what-to-do]").hidden = tone !== "danger";
    if (word.textContent.trim() !== WORDS[tone]) { word.textContent = WORDS[tone]; }
  }

  function all() { document.querySelectorAll("[data-since]").forEach(show); }

  if (!window.countsStanding) {
    window.countsStanding = setInterval(all, 15000);
    all();
  }
}());
