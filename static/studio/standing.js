// How long ammoniacal silver has stood, counted up between loads, and its alarm in a page that is left open. Without
// this script both stand as the page was loaded.
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
    word.className = tone ? "state is-" + tone : "state";
    row.querySelector("[data-what-to-do]").hidden = tone !== "danger";
    if (word.textContent.trim() !== WORDS[tone]) { word.textContent = WORDS[tone]; }
  }

  function alarm(row) {
    const now = Date.now();
    if (now < Date.parse(row.dataset.alarmFrom)) { return; }
    row.querySelector("[data-stood]").textContent = stood(Math.floor((now - Date.parse(row.dataset.began)) / 60000));
    row.hidden = false;
    row.setAttribute("role", "alert");
  }

  function all() {
    document.querySelectorAll("[data-since]").forEach(show);
    document.querySelectorAll("[data-alarm-from]").forEach(alarm);
  }

  if (!window.countsStanding) {
    window.countsStanding = setInterval(all, 15000);
    all();
  }
}());
