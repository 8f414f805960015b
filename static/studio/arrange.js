// Put steps and ingredients in another order: by dragging the handle, or with Alt and the arrow keys on it.
// Without this script the Up and Down buttons, or the place numbers, do the same.
"use strict";

(function () {
  let dragged = null;

  function rowOf(element) { return element.closest(".arrange > *"); }

  function rows(list) { return Array.from(list.children).filter(function (row) { return row.querySelector(".handle"); }); }

  // A list whose rows are fields keeps their order in a field; one of saved steps sends it.
  function settled(list, row) {
    const places = list.querySelectorAll("input[data-place]");
    if (places.length) {
      places.forEach(function (place, at) { place.value = String(at + 1); });
      places[0].dispatchEvent(new Event("change", { bubbles: true }));
      return;
    }
    const form = row.querySelector("form.step-actions");
    form.elements.to.value = String(rows(list).indexOf(row) + 1);
    form.querySelector("button.place").click();
  }

  document.addEventListener("pointerdown", function (event) {
    const handle = event.target.closest(".handle");
    if (!handle) { return; }
    event.preventDefault();
    dragged = rowOf(handle);
    dragged.classList.add("dragged");
    handle.setPointerCapture(event.pointerId);
  });

  document.addEventListener("pointermove", function (event) {
    if (!dragged) { return; }
    const list = dragged.parentElement;
    const over = rows(list).find(function (row) {
      const box = row.getBoundingClientRect();
      return row !== dragged && event.clientY > box.top && event.clientY < box.bottom;
    });
    if (!over) { return; }
    const box = over.getBoundingClientRect();
    list.insertBefore(dragged, event.clientY < box.top + box.height / 2 ? over : over.nextElementSibling);
  });

  document.addEventListener("pointerup", function () {
    if (!dragged) { return; }
    const row = dragged;
    dragged = null;
    row.classList.remove("dragged");
    settled(row.parentElement, row);
  });

  document.addEventListener("keydown", function (event) {
    const handle = event.target.closest ? event.target.closest(".handle") : null;
    if (!handle || !event.altKey || (event.key !== "ArrowUp" && event.key !== "ArrowDown")) { return; }
    event.preventDefault();
    const row = rowOf(handle), list = row.parentElement, all = rows(list), at = all.indexOf(row);
    const to = at + (event.key === "ArrowUp" ? -1 : 1);
    if (to < 0 || to >= all.length) { return; }
    list.insertBefore(row, event.key === "ArrowUp" ? all[to] : all[to].nextElementSibling);
    handle.focus();
    settled(list, row);
  });
}());
