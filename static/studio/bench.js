// Dwell timers on the bench: several at once, kept through a reload, counting on past their end, with a sound and a
// flash. Without this script the page still says how long each dwell is.
"use strict";

(function () {
  const running = new Map();

  function kept(name, value) {
    try {
      if (value === undefined) { return Number(localStorage.getItem(name)); }
      if (value === null) { localStorage.removeItem(name); } else { localStorage.setItem(name, String(value)); }
    } catch (refused) { /* a browser that keeps nothing: the timer runs, and ends with the page */ }
    return 0;
  }

  function shown(seconds) {
    const left = Math.abs(seconds);
    const sign = seconds < 0 ? "+" : "";
    return sign + Math.floor(left / 60) + ":" + String(left % 60).padStart(2, "0");
  }

  function sound() {
    const Sound = window.AudioContext || window.webkitAudioContext;
    if (!Sound) { return; }
    const audio = new Sound();
    [0, 0.4, 0.8].forEach(function (at) {
      const tone = audio.createOscillator();
      tone.frequency.value = 880;
      tone.connect(audio.destination);
      tone.start(audio.currentTime + at);
      tone.stop(audio.currentTime + at + 0.25);
    });
  }

  function over(face) {
    face.setAttribute("role", "alert");
    face.classList.add("timer-over");
    if (navigator.vibrate) { navigator.vibrate([300, 150, 300]); }
    sound();
  }

  function stayAwake() {
    if (navigator.wakeLock) { navigator.wakeLock.request("screen").catch(function () { /* as the browser likes */ }); }
  }

  function run(button, end) {
    const face = document.getElementById(button.dataset.face);
    let told = end <= Date.now();
    clearInterval(running.get(button.dataset.face));
    face.classList.toggle("timer-over", told);
    function tick() {
      const left = Math.round((end - Date.now()) / 1000);
      face.textContent = shown(left);
      if (left <= 0 && !told) { told = true; over(face); }
    }
    tick();
    running.set(button.dataset.face, setInterval(tick, 250));
    button.textContent = "Start again";
  }

  function start(button) {
    const end = Date.now() + Number(button.dataset.seconds) * 1000;
    if (button.dataset.kept) { kept(button.dataset.kept, end); }
    document.getElementById(button.dataset.face).removeAttribute("role");
    run(button, end);
    stayAwake();
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("button[data-seconds]");
    if (button) { start(button); }
  });
  document.querySelectorAll("button[data-seconds]").forEach(function (button) {
    button.hidden = false;
    const end = button.dataset.kept ? kept(button.dataset.kept) : 0;
    // a dwell that ended more than half a day ago is of another day
    if (end > Date.now() - 43200000) { run(button, end); } else if (end) { kept(button.dataset.kept, null); }
  });
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState === "visible" && running.size) { stayAwake(); }
  });
  // the code printed on a load's side opens that load
  const aimed = location.hash && document.querySelector("details" + location.hash.replace(/[^#\w-]/g, ""));
  if (aimed) { aimed.open = true; aimed.scrollIntoView(); }
}());
