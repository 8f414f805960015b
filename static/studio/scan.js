// Labels at a mix: a scanner types the address of a lot, or its number; a camera reads it.
"use strict";

(function () {
  const say = window.sayAtTheBench;

  function scanned(field) {
    const lots = JSON.parse((document.getElementById("lots") || {}).textContent || "{}");
    const typed = field.value.trim(), address = typed.match(/\/lots\/(\d+)\//);
    const number = address ? lots[address[1]] : typed, form = field.closest("form");
    // an ingredient that goes in twice is of one bottle
    const selects = Array.from(form.querySelectorAll("select")).filter(function (one) {
      return one.name !== "lot" && Array.from(one.options).some(function (option) { return option.value === number; });
    });
    if (!selects.length) { say(field, (number || "That label") + " is no lot of what goes into this mix."); return; }
    selects.forEach(function (select) { select.value = number; });
    selects[0].focus();
    field.value = "";
    const said = selects[0].selectedOptions[0].text;
    if (said !== number) { say(field, "Lot " + said + ": take another, or ask the owner first."); }
  }

  document.addEventListener("keydown", function (event) {
    if (event.key === "Enter" && event.target.matches("[data-scanned]")) { event.preventDefault(); scanned(event.target); }
  });

  async function scan(button) {
    const field = button.parentElement.querySelector("[data-scanned]"), view = document.createElement("video");
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch (refused) { say(button, "The camera cannot be used: type the lot’s number."); return; }
    button.after(view);
    view.srcObject = stream;
    await view.play();
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    const look = setInterval(async function () {
      const found = await detector.detect(view);
      if (!found.length) { return; }
      clearInterval(look);
      stream.getTracks().forEach(function (track) { track.stop(); });
      view.remove();
      field.value = found[0].rawValue;
      scanned(field);
    }, 300);
  }

  document.addEventListener("click", function (event) {
    const camera = event.target.closest("[data-camera]");
    if (camera) { scan(camera); }
  });
}());
