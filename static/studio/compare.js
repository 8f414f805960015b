// Photographs side by side: all of them closer at once, one wiped over the other, and the square of a crop shown.
// Without this script they stand side by side at one size, and the crop is set by its sliders.
"use strict";

(function () {
  const zoom = document.getElementById("zoom");
  const views = document.querySelectorAll(".aligned img");
  if (zoom && views.length) {
    zoom.closest("label").hidden = false;
    zoom.addEventListener("input", function () {
      views.forEach(function (image) { image.style.transform = "scale(" + zoom.value + ")"; });
    });
    document.querySelectorAll(".aligned .view").forEach(function (view) {
      view.addEventListener("pointermove", function (event) {
        const box = view.getBoundingClientRect();
        const x = (event.clientX - box.left) / box.width * 100, y = (event.clientY - box.top) / box.height * 100;
        views.forEach(function (image) { image.style.transformOrigin = x + "% " + y + "%"; });
      });
    });
  }

  const wipe = document.getElementById("wipe");
  if (wipe) {
    wipe.closest(".slider").hidden = false;
    const cut = function () {
      document.querySelectorAll(".over .upper").forEach(function (image) {
        image.style.clipPath = "inset(0 0 0 " + wipe.value + "%)";
      });
    };
    wipe.addEventListener("input", cut);
    cut();
  }

  const crop = document.querySelector("form.crop");
  if (crop) {
    const view = document.querySelector(".crop-view"), image = view.querySelector("img");
    const square = view.querySelector(".crop-square");
    const draw = function () {
      const wide = image.clientWidth, high = image.clientHeight;
      const side = Math.min(wide, high) * crop.elements.side.value / 100;
      square.style.width = square.style.height = side + "px";
      square.style.left = Math.min(wide * crop.elements.left.value / 100, wide - side) + "px";
      square.style.top = Math.min(high * crop.elements.top.value / 100, high - side) + "px";
    };
    crop.addEventListener("input", draw);
    window.addEventListener("resize", draw);
    if (image.complete) { draw(); } else { image.addEventListener("load", draw); }
  }
}());
