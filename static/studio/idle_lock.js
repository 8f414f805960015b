// The bench tablet's lock appears by itself when nobody touches the tablet. The server decides whether it is locked: this
// only asks it, and shows. On a screen of the bench it stands within the page, so that clock, timers and Trouble stay.
"use strict";

(function () {
  const lock = document.getElementById("idle-lock"), atBench = "bench" in lock.dataset;
  const idle = Number(lock.dataset.minutes) * 60000, refusal = lock.querySelector("[data-lock-refusal]");
  const tabs = "BroadcastChannel" in window ? new BroadcastChannel("idle-lock") : null;
  let acted = Date.now(), told = Date.now(), asking = false, cameFrom = null;

  function isLocked() { return "locked" in lock.dataset; }

  function show() {
    if (!isLocked()) { lock.dataset.locked = ""; }
    if (atBench) { lock.open = true; } else if (!lock.matches(":modal")) {
      lock.close();
      lock.showModal();
    }
    document.dispatchEvent(new CustomEvent("locked"));
  }

  function hide() {
    delete lock.dataset.locked;
    lock.close();
    lock.querySelectorAll("input:not([type=hidden])").forEach(function (field) { field.value = ""; });
    refusal.hidden = true;
    acted = told = Date.now();
    document.dispatchEvent(new CustomEvent("unlocked"));
    if (cameFrom) { cameFrom.focus(); }
    cameFrom = null;
  }

  // what was pressed on a locked screen of the bench may stand far below the lock: it is said, and focus comes back
  function refusePressed() {
    show();
    if (!atBench) { return; }
    cameFrom = document.activeElement;
    refusal.textContent = "Not recorded yet, and still on this page: unlock, then press it again.";
    refusal.hidden = false;
    lock.scrollIntoView({ block: "center" });
    const field = Array.from(lock.querySelectorAll("input:not([type=hidden])")).find(function (one) {
      return one.offsetParent !== null;
    });
    if (field) { field.focus({ preventScroll: true }); }
  }

  // touched: the server is told; otherwise it is only asked, which touches nothing
  async function ask(touched) {
    if (asking) { return; }
    asking = true;
    try {
      const answer = await fetch(touched ? lock.dataset.touched : lock.dataset.state, { credentials: "same-origin" });
      told = Date.now();
      if (answer.status === 423) { show(); } else if (answer.ok && !answer.redirected) {
        const state = await answer.json(), left = state.left;
        if (state.person !== lock.dataset.person) { location.reload(); return; }
        if (left === null) { return; }
        acted = Date.now() - (idle - left * 1000);
        if (isLocked()) { hide(); }
      }
    } catch (lost) {
      if (!atBench) { show(); }
    } finally { asking = false; }
  }

  function check() {
    if (isLocked()) { return; }
    if (Date.now() - acted >= idle) { ask(false); } else if (acted > told && Date.now() - told >= 30000) { ask(true); }
  }

  ["pointerdown", "keydown", "input"].forEach(function (kind) {
    document.addEventListener(kind, function () {
      if (isLocked()) { return; }
      if (Date.now() - acted < idle) { acted = Date.now(); } else { check(); }
    }, true);
  });

  lock.addEventListener("close", function () { if (isLocked() && !atBench) { show(); } });
  lock.addEventListener("cancel", function (event) { event.preventDefault(); });

  lock.addEventListener("submit", async function (event) {
    const form = event.target.closest("[data-unlock]");
    if (!form) { return; }
    event.preventDefault();
    try {
      const answer = await fetch(form.action, {
        method: "POST", body: new URLSearchParams(new FormData(form)), credentials: "same-origin",
        headers: { "Accept": "application/json" },
      });
      if (answer.status === 204) {
        hide();
        if (tabs) { tabs.postMessage("unlocked"); }
        return;
      }
      if (answer.status !== 422) { location.reload(); return; }
      const told = await answer.json();
      refusal.textContent = told.refusal;
      if (told.field === "password") { lock.querySelector("[data-lock-password]").open = true; }
    } catch (lost) { refusal.textContent = "Not connected: unlocking needs the network."; }
    refusal.hidden = false;
    form.querySelector("input:not([type=hidden])").select();
  });

  document.addEventListener("htmx:responseError", function (event) {
    if (event.detail.xhr.status === 423) { refusePressed(); }
  });
  function lookAgain() { if (isLocked()) { ask(false); } else { check(); } }
  if (tabs) { tabs.onmessage = lookAgain; }
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState === "visible") { lookAgain(); }
  });
  window.addEventListener("pageshow", function (event) { if (event.persisted) { ask(false); } });
  window.idleLock = { isLocked: isLocked, show: show };
  if (isLocked()) { show(); }
  setInterval(check, 1000);
}());
