// Dwell timers of the bench: several at once, counted from when the step began, on past their end, with a sound and a
// flash. Where a step began is recorded, so that they go on after a reload, on another device, and without a network.
"use strict";

window.benchTimers = (function () {
  const running = new Map();
  let audio, awake;

  function words(seconds) {
    const left = Math.abs(seconds), hours = Math.floor(left / 3600);
    const minutes = Math.floor(left / 60) % 60, rest = String(left % 60).padStart(2, "0");
    return hours ? hours + ":" + String(minutes).padStart(2, "0") + ":" + rest : minutes + ":" + rest;
  }

  // a sound is only allowed once somebody has touched the page
  document.addEventListener("pointerdown", function () {
    const Sound = window.AudioContext || window.webkitAudioContext;
    if (Sound && !audio) { audio = new Sound(); }
    if (audio && audio.state === "suspended") { audio.resume(); }
  });

  function sound() {
    if (navigator.vibrate) { navigator.vibrate([300, 150, 300]); }
    if (!audio) { return; }
    [0, 0.4, 0.8].forEach(function (at) {
      const tone = audio.createOscillator();
      tone.frequency.value = 880;
      tone.connect(audio.destination);
      tone.start(audio.currentTime + at);
      tone.stop(audio.currentTime + at + 0.25);
    });
  }

  function stayAwake() {
    if (!navigator.wakeLock || document.visibilityState !== "visible" || !running.size) { return; }
    navigator.wakeLock.request("screen").then(function (lock) { awake = lock; }, function () { awake = null; });
  }
  document.addEventListener("visibilitychange", stayAwake);

  function left(face) { return Math.round((face.ends - Date.now()) / 1000); }

  function draw(name, face) {
    const seconds = left(face), share = Math.min(1, Math.max(0, 1 - seconds / face.seconds));
    face.place.classList.add("runs");
    face.place.classList.toggle("over", seconds < 0);
    face.place.querySelector("[data-face]").textContent = words(seconds);
    face.place.querySelector(".silver").setAttribute("width", String(598 * share));
    if (seconds <= 0 && !face.told) {
      face.told = true;
      face.place.setAttribute("aria-live", "assertive");
      face.place.classList.add("flash");
      setTimeout(function () { face.place.classList.remove("flash"); }, 1500);
      sound();
    }
  }

  setInterval(function () { running.forEach(function (face, name) { draw(name, face); }); }, 250);

  return {
    words: words,
    // begin, or go on with, the timer of a step; began in this device's time
    set: function (name, began) {
      const place = document.querySelector('[data-timer="' + CSS.escape(name) + '"]');
      if (!place) { return; }
      const seconds = Number(place.dataset.seconds), known = running.get(name);
      const ends = began + seconds * 1000;
      if (known && known.place === place && known.ends === ends) { return; }
      running.set(name, { place: place, seconds: seconds, ends: ends, told: ends <= Date.now() });
      draw(name, running.get(name));
      if (!awake || awake.released) { stayAwake(); }
    },
    stop: function (name) {
      const face = running.get(name);
      if (!face) { return; }
      running.delete(name);
      face.place.classList.remove("runs", "over");
      face.place.querySelector("[data-face]").textContent = words(face.seconds);
      if (!running.size && awake) { awake.release(); awake = null; }
    },
    runs: function (name) { return running.has(name); },
    left: function (name) { return running.has(name) ? left(running.get(name)) : null; },
  };
}());
