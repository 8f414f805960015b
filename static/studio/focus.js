// Where a fragment takes the place of what had the focus, the focus stays with the work: on what is refused, else on
// the same control, else on the new part. Without this script a page is loaded anew and starts at its top.
"use strict";

(function () {
  let had = null;

  function alike(part) {
    const controls = Array.from(part.querySelectorAll("button, input, select, textarea, a[href], summary, .handle"));
    return controls.find(function (control) { return had.id && control.id === had.id; })
      || controls.find(function (control) { return had.name && control.name === had.name && control.value === had.value; })
      || controls.find(function (control) { return control.tagName === had.tag && control.textContent.trim() === had.words; });
  }

  document.addEventListener("htmx:beforeSwap", function (event) {
    const target = event.detail.target, active = document.activeElement;
    if (!target || !active || active === document.body || !target.contains(active)) { had = null; return; }
    const around = target.parentElement;
    had = { around: around, at: Array.from(around.children).indexOf(target), id: active.id, name: active.name,
      value: active.value, tag: active.tagName, words: active.textContent.trim() };
  });

  // What is swapped beside it, out of band, settles too: the part is the one that stands where its target stood.
  document.addEventListener("htmx:afterSettle", function () {
    const part = had ? had.around.children[had.at] : null;
    if (!part) { had = null; return; }
    const lost = document.activeElement === document.body || !document.activeElement;
    const refused = part.querySelector("[aria-invalid='true']");
    if (!lost && !refused) { had = null; return; }
    const next = refused || alike(part) || part;
    if (next === part && !part.hasAttribute("tabindex")) { part.setAttribute("tabindex", "-1"); }
    next.focus({ preventScroll: next === part });
    had = null;
  });
}());
