// The price as it is worked out anew: only what changed is put into the page, what was opened stays open, and what is
// wrong with a field is said of it.
"use strict";

(function () {
  const form = document.getElementById("sheet");
  let opened = new Set();

  function name(details) {
    const summary = details.querySelector("summary"), words = summary.querySelector("span") || summary;
    return words.textContent.replace(/[\d.,]+/g, "").trim();
  }

  // A drawer that is shut needs no drawing, and one that is closed again asks for nothing.
  document.addEventListener("htmx:configRequest", function (event) {
    if (event.detail.path !== form.dataset.priceNow) { return; }
    const open = Array.from(document.querySelectorAll(".drawer-of[open]"), function (details) {
      return "lines-" + details.closest(".line").dataset.row;
    });
    event.detail.parameters.drawn = open.join(",");
  });
  document.addEventListener("htmx:beforeRequest", function (event) {
    if (event.detail.elt.tagName === "DETAILS" && !event.detail.elt.open) { event.preventDefault(); }
  });
  form.addEventListener("toggle", function (event) {
    if (event.target.matches(".drawer-of") && event.target.open) {
      document.getElementById("typed").dispatchEvent(new Event("priced"));
    }
  }, true);

  document.addEventListener("htmx:oobBeforeSwap", function (event) {
    const now = event.detail.target, then = event.detail.fragment.firstElementChild || event.detail.fragment;
    const ticking = now.contains(document.activeElement) && document.activeElement !== document.body;
    if (ticking || now.innerHTML === then.innerHTML) { event.detail.shouldSwap = false; }
  });

  // The day that was asked for stays where the price is worked out anew, and goes once something else is typed.
  let askedFor = "";
  function typed() { return new URLSearchParams(new FormData(form)).toString(); }
  document.addEventListener("htmx:beforeRequest", function (event) {
    if (event.detail.target.id === "ready-of-typed") { askedFor = typed(); }
  });
  document.addEventListener("htmx:beforeSwap", function (event) {
    const ready = document.getElementById("ready-of-typed");
    if (event.detail.target.id !== "price" || !ready || !ready.querySelector("[role=status]")) { return; }
    if (askedFor !== typed()) { ready.removeAttribute("id"); }
  });
  document.addEventListener("htmx:afterSettle", function (event) {
    if (event.detail.target.id !== "ready-of-typed" || askedFor === typed()) { return; }
    document.getElementById("typed").dispatchEvent(new Event("priced"));
  });

  document.addEventListener("htmx:beforeSwap", function (event) {
    const within = event.detail.target.closest("#price, #working");
    if (within) { opened = new Set(Array.from(within.querySelectorAll("details[open]"), name)); }
  });
  document.addEventListener("htmx:afterSettle", function (event) {
    document.querySelectorAll("#price details:not([open]), #working .found details:not([open])").forEach(function (details) {
      if (opened.has(name(details))) { details.open = true; }
    });
    if (event.detail.target.id !== "price") { return; }
    opened.clear();
    mark();
    const working = document.getElementById("working");
    if (working.open) { working.dispatchEvent(new Event("priced")); }
  });

  // A refusal in a row is the description of its field.
  function mark() {
    form.querySelectorAll(".line [aria-invalid]").forEach(function (field) {
      if (!document.getElementById(field.id + "_error")) { field.removeAttribute("aria-invalid"); }
    });
    form.querySelectorAll(".line .error[id]").forEach(function (error) {
      const field = document.getElementById(error.id.replace(/_error$/, ""));
      if (!field || field.type === "hidden") { return; }
      field.setAttribute("aria-invalid", "true");
      const described = (field.getAttribute("aria-describedby") || "").split(" ").filter(Boolean);
      if (!described.includes(error.id)) { field.setAttribute("aria-describedby", described.concat(error.id).join(" ")); }
    });
  }
  mark();

  const problems = document.getElementById("problems");
  if (problems) { problems.focus(); }
}());
