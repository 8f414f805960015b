// A trial at the bench: a timer that counts up, photographs kept as soon as they are taken, labels read by the camera.
// Without this script the times are typed, the photographs kept by their button, and lots chosen from the list.
"use strict";

(function () {
  function shown(seconds) { return Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0"); }

  function start(button) {
    const form = button.closest("form"), face = form.querySelector(".timer");
    const began = Date.now(), planned = Number(button.dataset.planned);
    button.textContent = "Stop and record";
    button.dataset.ticking = "1";
    const tick = setInterval(function () {
      const passed = Math.round((Date.now() - began) / 1000);
      face.textContent = shown(passed) + " of " + shown(planned);
      if (passed === planned && navigator.vibrate) { navigator.vibrate([300, 150, 300]); }
      face.classList.toggle("is-danger", passed > planned);
    }, 250);
    button.addEventListener("click", function () {
      clearInterval(tick);
      form.elements.took.value = Math.max(1, Math.round((Date.now() - began) / 1000)) + " s";
      form.requestSubmit();
    }, { once: true });
  }

  document.addEventListener("click", function (event) {
    const timer = event.target.closest("button[data-timer]");
    if (timer && !timer.dataset.ticking) { start(timer); event.stopImmediatePropagation(); }
    const scan = event.target.closest("button[data-scan]");
    if (scan) { read(scan); }
  });

  async function read(button) {
    const view = document.getElementById("scan-view"), field = document.getElementById(button.dataset.scan);
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch (refused) {
      field.placeholder = "The camera cannot be used: type the lot's number.";
      return;
    }
    view.srcObject = stream;
    view.hidden = false;
    await view.play();
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    const look = setInterval(async function () {
      const found = await detector.detect(view);
      if (!found.length) { return; }
      clearInterval(look);
      field.value = found[0].rawValue;
      stream.getTracks().forEach(function (track) { track.stop(); });
      view.hidden = true;
      document.getElementById("other_amount").focus();
    }, 300);
  }

  document.querySelectorAll("form.photograph").forEach(function (form) {
    form.querySelector("button").hidden = true;
    form.elements.photograph.addEventListener("change", function () { form.requestSubmit(); });
  });
  document.querySelectorAll("button[data-timer]").forEach(function (button) { button.hidden = false; });
  if ("BarcodeDetector" in window && navigator.mediaDevices) {
    document.querySelectorAll("button[data-scan]").forEach(function (button) { button.hidden = false; });
  }
}());
