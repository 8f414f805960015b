// An order typed through by keyboard alone: Enter begins the next row, arrows go up and down, Alt and M open the drawer.
"use strict";

(function () {
  const lines = window.orderLines;
  const CELLS = ["size_text", "quantity", "shape", "recipe_version", "glass", "edge"];

  function cellOf(element) {
    return CELLS.find(function (name) { return element.name && element.name.endsWith("-" + name); });
  }

  function to(row, name) {
    if (!row) { return; }
    const cell = lines.field(row, name);
    cell.focus();
    if (cell.select) { cell.select(); }
    row.scrollIntoView({ block: "nearest" });
  }

  function beside(row, by) {
    const all = lines.standing();
    return all[all.indexOf(row) + by];
  }

  function onward(row) {
    if (lines.blank(row) && !beside(row, 1)) { return; }  // the empty last row is where the next size goes
    lines.toSize(beside(row, 1) || lines.ready());
  }

  function drawer(row, cell) {
    const details = row.querySelector(".drawer-of");
    details.open = !details.open;
    if (details.open) { details.querySelector(".drawer input, .drawer select").focus(); } else { to(row, cell || "size_text"); }
  }

  lines.form.addEventListener("keydown", function (event) {
    const target = event.target, row = lines.rowOf(target), cell = cellOf(target);
    if (row && event.altKey && event.code === "KeyM") {
      event.preventDefault();
      drawer(row, cell);
    } else if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) {
      return;
    } else if (event.key === "Enter" && /^(INPUT|SELECT)$/.test(target.tagName)) {
      event.preventDefault();  // Enter never sends an order half typed
      if (row) { onward(row); } else if (!target.closest(".below")) { lines.toSize(lines.standing()[0]); }
    } else if (cell && target.tagName === "INPUT" && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
      event.preventDefault();
      to(beside(row, event.key === "ArrowUp" ? -1 : 1), cell);
    }
  });
}());
