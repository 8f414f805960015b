// What was typed into an order and not saved stays in this browser, for this person and order, and is offered again.
// It is thrown away once the order is saved, when its person says so, and when somebody logs out. Leaving asks.
"use strict";

(function () {
  const form = document.getElementById("sheet"), place = document.getElementById("kept-here");
  const slot = "order:" + form.dataset.person + ":" + form.dataset.order;
  const NOT_KEPT = ["csrfmiddlewaretoken"];
  let sending = false, timer = 0;

  function content() {
    return Array.from(new FormData(form)).filter(function (pair) { return !NOT_KEPT.includes(pair[0]); });
  }
  function typed() {  // what was entered, without what a page carries of its own
    return JSON.stringify(content().filter(function (pair) {
      return pair[0] !== "key" && !/_FORMS$/.test(pair[0]) && pair[1] !== "";
    }));
  }
  const before = form.hasAttribute("data-typed") ? "" : typed();

  function changed() { return typed() !== before; }
  function kept() {
    try { return JSON.parse(localStorage.getItem(slot)); } catch (refused) { return null; }
  }
  function keep() {
    try {
      if (changed()) { localStorage.setItem(slot, JSON.stringify({ at: Date.now(), fields: content() })); }
      else { localStorage.removeItem(slot); }
    } catch (refused) { /* a full or closed store keeps nothing: leaving still asks */ }
  }
  function value(fields, name) { return (fields.find(function (pair) { return pair[0] === name; }) || ["", ""])[1]; }

  // The server says which form it saved, and at which count of saves: just that one is thrown away.
  function saved(fields) {
    const name = "saved-order-" + value(fields, "key") + "=";
    const said = document.cookie.split("; ").find(function (cookie) { return cookie.startsWith(name); });
    return said !== undefined && said.slice(name.length).replace(/"/g, "") === value(fields, "saves");
  }

  function age(minutes) {
    if (minutes < 1) { return "less than a minute"; }
    if (minutes < 60) { return minutes === 1 ? "1 minute" : minutes + " minutes"; }
    const hours = Math.round(minutes / 60);
    if (hours < 24) { return hours === 1 ? "1 hour" : hours + " hours"; }
    const days = Math.round(hours / 24);
    return days === 1 ? "1 day" : days + " days";
  }

  function button(words, kind, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = kind;
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  }

  function offer(found) {
    const minutes = Math.floor((Date.now() - found.at) / 60000);
    const words = document.createElement("p"), strong = document.createElement("strong");
    strong.textContent = "Not saved: ";
    words.append(strong, "you typed this order " + age(minutes) + " ago and did not save it.");
    const actions = document.createElement("div");
    actions.className = "actions";
    actions.append(
      button("Take it up", "second", function () { takeUp(found); }),
      button("Discard it", "quiet", function () { localStorage.removeItem(slot); place.hidden = true; }),
    );
    place.replaceChildren(words, actions);
    place.hidden = false;
  }

  // The whole form as it was, sent to be shown and priced: nothing is saved by it.
  function takeUp(found) {
    const again = document.createElement("form");
    again.method = "post";
    again.action = form.dataset.priceNow;
    found.fields.concat([["csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value]]).forEach(function (pair) {
      const input = document.createElement("textarea");
      input.name = pair[0];
      input.value = pair[1];
      again.append(input);
    });
    again.hidden = true;
    document.body.append(again);
    sending = true;
    again.submit();
  }

  // Whatever was saved since this browser kept it is no longer unsaved: of this order and of any other.
  try {
    Object.keys(localStorage).filter(function (name) { return name.startsWith("order:" + form.dataset.person + ":"); })
      .forEach(function (name) {
        const entry = JSON.parse(localStorage.getItem(name));
        if (entry && saved(entry.fields)) { localStorage.removeItem(name); }
      });
  } catch (refused) { /* nothing kept */ }

  if (form.hasAttribute("data-typed")) { keep(); } else if (kept()) { offer(kept()); }

  form.addEventListener("input", later);
  form.addEventListener("change", later);
  function later() { clearTimeout(timer); timer = setTimeout(keep, 400); }

  form.addEventListener("submit", function () { clearTimeout(timer); keep(); sending = true; });
  // Whoever logs out asks for no price on the way: it would be answered after the session's end, and that answer would
  // lead to the door as one does who was logged out by time, where what was typed is kept.
  let leaving = false;
  document.querySelectorAll('form[action$="/log-out/"]').forEach(function (out) {
    out.addEventListener("submit", function () {
      sending = false;
      leaving = true;
      document.querySelectorAll("[hx-post]").forEach(function (part) { window.htmx.trigger(part, "htmx:abort"); });
    });
  });
  document.addEventListener("htmx:beforeRequest", function (event) { if (leaving) { event.preventDefault(); } });
  form.addEventListener("input", function () { leaving = false; });
  window.addEventListener("pageshow", function () { sending = false; });
  window.addEventListener("beforeunload", function (event) {
    if (sending || !changed()) { return; }
    keep();
    event.preventDefault();
    event.returnValue = "";
  });
}());
