// A part of a page that could not be had: the sentence that came instead, above the page, until the next part comes.
(function () {
  "use strict";
  function say(sentence) {
    let shown = document.getElementById("out-of-reach");
    if (!shown) {
      shown = document.createElement("p");
      shown.id = "out-of-reach";
      shown.className = "notice notice-error";
      shown.setAttribute("role", "alert");
      document.querySelector("#main .column").prepend(shown);
    }
    shown.textContent = sentence;
  }
  document.addEventListener("htmx:responseError", function (event) {
    const answer = event.detail.xhr;
    if ((answer.getResponseHeader("Content-Type") || "").startsWith("text/plain")) {
      say(answer.responseText);
    }
  });
  document.addEventListener("htmx:afterSwap", function () {
    const shown = document.getElementById("out-of-reach");
    if (shown) {
      shown.remove();
    }
  });
}());
