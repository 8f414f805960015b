// The lines of an order on the page itself: a row begun, duplicated, moved, removed and put back, without asking anybody.
// Without this script every button sends the form, and the page comes back with the same done.
"use strict";

window.orderLines = (function () {
  const form = document.getElementById("sheet"), list = document.getElementById("rows");
  const total = form.elements["lines-TOTAL_FORMS"], most = Number(form.elements["lines-MAX_NUM_FORMS"].value);
  const presets = JSON.parse(document.getElementById("presets").textContent);
  // what a new line takes from the one above: what the page's own buttons send for it
  const carried = ["shape", "recipe_version", "glass", "edge", "route", "backing", "cut_price_per_m2", "cut_minimum_each",
    "plan", "match_group"];
  const spread = carried.filter(function (name) { return name !== "shape" && name !== "match_group"; });
  const pattern = list.lastElementChild.cloneNode(true);

  function rows() { return Array.from(list.children); }
  function standing() { return rows().filter(function (row) { return !row.classList.contains("removed"); }); }
  function field(row, name) { return row.querySelector('[name$="-' + name + '"]'); }
  function rowOf(element) { return element && element.closest ? element.closest(".line") : null; }
  function blank(row) {
    return Array.from(row.querySelectorAll("input, textarea")).every(function (input) {
      const name = input.name.replace(/^lines-\d+-/, "");
      if (carried.includes(name) || name === "DELETE" || name === "preset_name") { return true; }
      if (input.type === "checkbox") { return !input.checked; }
      return !input.value.trim() || (name === "quantity" && input.value.trim() === "1");
    });
  }
  function changed() { form.querySelector("#typed").dispatchEvent(new Event("change", { bubbles: true })); }

  const NAMED = ["id", "name", "for", "aria-describedby", "formaction", "hx-post", "aria-controls"];

  // Give a row its place: in the names of its fields, in the addresses of its buttons, and as people count.
  function place(row, at, number) {
    if (Number(row.dataset.row) !== at) {
      [row].concat(Array.from(row.querySelectorAll("*"))).forEach(function (element) {
        NAMED.forEach(function (attribute) {
          const value = element.getAttribute(attribute);
          if (value) {
            element.setAttribute(attribute, value.replace(/lines-\d+-/g, "lines-" + at + "-")
              .replace(/\/lines\/\d+\//, "/lines/" + at + "/"));
          }
        });
      });
      row.dataset.row = String(at);
    }
    if (number) { row.id = "line-" + number; } else { row.removeAttribute("id"); }
    row.querySelectorAll("[data-number]").forEach(function (shown) { shown.textContent = number || ""; });
  }

  function renumber() {
    let number = 0;
    rows().forEach(function (row, at) {
      const gone = row.classList.contains("removed");
      if (!gone) { number += 1; }
      place(row, at, gone ? 0 : number);
    });
    total.value = String(list.children.length);
  }

  function copy(from, to, names) {
    names.forEach(function (name) {
      const source = field(from, name), target = field(to, name);
      if (source && target) { target.value = source.value; }
    });
  }

  function emptied(row) {
    row.querySelectorAll("input:not([type=hidden]):not([type=checkbox]), textarea").forEach(function (input) {
      input.value = /-quantity$/.test(input.name) ? "1" : "";
    });
    row.querySelectorAll("[type=checkbox]").forEach(function (input) { input.checked = false; });
    ["written", "DELETE"].forEach(function (name) { field(row, name).value = ""; });
    row.querySelectorAll(".line-said, .pane-drawn, .found, .margin-left, .preset-told").forEach(function (said) {
      said.replaceChildren();
    });
    row.querySelectorAll(".written").forEach(function (said) { said.remove(); });
    row.querySelectorAll("details").forEach(function (drawer) { drawer.open = false; });
    row.classList.add("fresh");
    row.classList.remove("removed");
    return row;
  }

  // The row that stands ready begins as the last filled one, or as the preset says.
  function begin(row) {
    if (!blank(row)) { return; }
    const before = standing()[standing().indexOf(row) - 1];
    if (before) { copy(before, row, carried); }
    const preset = presets[form.elements.preset.value];
    Object.entries(preset || {}).forEach(function (entry) {
      const target = field(row, entry[0]);
      if (target) { target.value = entry[1]; }
    });
  }

  function ready() {
    const all = standing(), last = all[all.length - 1];
    if (last && blank(last)) { return last; }
    if (list.children.length >= most) { return null; }
    const fresh = emptied(pattern.cloneNode(true));
    fresh.dataset.row = "-1";
    list.append(fresh);
    renumber();
    begin(fresh);
    window.htmx.process(fresh);
    return fresh;
  }

  function toSize(row) {
    if (!row) { return; }
    const size = field(row, "size_text");
    size.focus();
    size.select();
    row.scrollIntoView({ block: "nearest" });
  }

  const acts = {
    add: function () { toSize(ready()); },
    duplicate: function (row) {
      const twin = row.cloneNode(true);
      twin.querySelectorAll("select").forEach(function (select, at) {  // a copy forgets what was chosen
        select.value = row.querySelectorAll("select")[at].value;
      });
      twin.querySelectorAll(".written, .error").forEach(function (said) { said.remove(); });
      field(twin, "written").value = "";
      twin.querySelectorAll("details").forEach(function (drawer) { drawer.open = false; });
      twin.dataset.row = "-1";
      row.after(twin);
      renumber();
      window.htmx.process(twin);
      toSize(twin);
    },
    up: function (row) { move(row, -1, "up"); },
    down: function (row) { move(row, 1, "down"); },
    spread: function (row) {
      const all = standing();
      all.slice(all.indexOf(row) + 1).forEach(function (below) { copy(row, below, spread); });
    },
    remove: function (row) {
      row.classList.add("removed");
      field(row, "DELETE").value = "on";
      row.querySelector("[data-removed]").textContent = field(row, "quantity").value + " × " + field(row, "size_text").value;
      renumber();
      ready();
      row.querySelector("[data-act=put-back]").focus();
    },
    unit: function (row, button) {
      const size = field(row, "size_text");
      if (/\d\s*$/.test(size.value)) { size.value = size.value.trim() + " " + button.value; }
      toSize(row);
    },
    "put-back": function (row) {
      row.classList.remove("removed");
      field(row, "DELETE").value = "";
      renumber();
      toSize(row);
    },
  };

  function move(row, by, act) {
    const all = standing(), other = all[all.indexOf(row) + by];
    if (!other || blank(other)) { return; }
    if (by < 0) { other.before(row); } else { other.after(row); }
    renumber();
    row.querySelector("[data-act=" + act + "]").focus();
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-act], [data-takes], [data-opens], [data-raises]");
    if (!button) { return; }
    if (button.dataset.act) {
      event.preventDefault();
      acts[button.dataset.act](rowOf(button), button);
      changed();
    } else if (button.dataset.takes) {
      event.preventDefault();
      const row = rowOf(button);
      (row ? [row] : standing()).forEach(function (taking) { field(taking, "recipe_version").value = button.dataset.takes; });
      button.closest("details").open = false;
      button.closest("details").querySelector("summary").focus();
      changed();
    } else if (button.dataset.opens) {
      document.getElementById(button.dataset.opens).open = true;
    } else {
      event.preventDefault();
      document.querySelector(".price-sheet").classList.toggle("raised");
    }
  });

  form.addEventListener("input", function (event) {
    const row = rowOf(event.target);
    if (row && !blank(row)) {
      row.classList.remove("fresh");
      ready();
    }
  });
  form.addEventListener("focusin", function (event) {
    const row = rowOf(event.target);
    if (row && row.classList.contains("fresh") && event.target === field(row, "size_text") && row === ready()) { begin(row); }
  });
  form.elements.preset.addEventListener("change", function () { begin(ready()); });

  return { standing: standing, field: field, rowOf: rowOf, blank: blank, ready: ready, toSize: toSize, form: form };
}());
