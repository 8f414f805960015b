// The second of two clicks on a form that is on its way does nothing. The server takes a form with a key once; what has
// none, a new password say, would be refused the second time, and the browser shows the second answer alone.
(function () {
  "use strict";
  const MOMENT = 1500;
  const sent = new WeakMap();
  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (event.defaultPrevented || (form.getAttribute("method") || "").toLowerCase() !== "post") {
      return;
    }
    if (Date.now() - (sent.get(form) || 0) < MOMENT) {
      event.preventDefault();
    } else {
      sent.set(form, Date.now());
    }
  });
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form").forEach(function (form) { sent.delete(form); });
  });
}());
