// Dwell timers on the bench. Without this script the page still says how long each dwell is.
"use strict";

(function () {
  function shown(seconds) {
    const left = Math.abs(seconds);
    const sign = seconds < 0 ? "+" : "";
    return sign + Math.floor(left / 60) + ":" + String(left % 60).padStart(2, "0");
  }

  function start(button) {
    const face = document.getElementById(button.dataset.face);
    const end = Date.now() + Number(button.dataset.seconds) * 1000;
    clearInterval(Number(button.dataset.ticking));
    const tick = setInterval(function () {
      const left = Math.round((end - Date.now()) / 1000);
      face.textContent = shown(left);
      if (left === 0) {
        face.setAttribute("role", "alert");
        if (navigator.vibrate) { navigator.vibrate([300, 150, 300]); }
      }
    }, 250);
    button.dataset.ticking = String(tick);
    button.textContent = "Start again";
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("button[data-seconds]");
    if (button) { start(button); }
  });
  document.querySelectorAll("button[data-seconds]").forEach(function (button) { button.hidden = false; });
}());
