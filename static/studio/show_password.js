// A password field may show what is typed in it: a button beside it, which only a script can offer.
"use strict";

for (const box of document.querySelectorAll("input[type=password][data-may-show]")) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "second show-typed";
  button.textContent = "Show";
  button.setAttribute("aria-label", "Show what is typed");
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", () => {
    const shown = box.type === "password";
    box.type = shown ? "text" : "password";
    button.textContent = shown ? "Hide" : "Show";
    button.setAttribute("aria-pressed", String(shown));
  });
  box.form?.addEventListener("submit", () => { box.type = "password"; });
  box.insertAdjacentElement("afterend", button);

  const caps = document.createElement("p");
  caps.className = "help caps-lock";
  caps.setAttribute("role", "status");
  box.insertAdjacentElement("beforebegin", caps);
  box.addEventListener("keyup", (event) => {
    caps.textContent = event.getModifierState?.("CapsLock") ? "Caps Lock is on." : "";
  });
}
