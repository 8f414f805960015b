// The bench one step at a time. Each press is kept on this device first and sent then; what others record is asked for
// every few seconds. Without this script every press is an ordinary form.
"use strict";

(function () {
  const body = document.body, of = body.dataset.of, line = document.querySelector("[data-line]");
  const NOT_FIELDS = new Set(["csrfmiddlewaretoken", "key", "kind", "subject", "screen", "next", "after"]);
  let server = { said: {}, mark: "", csrf: "" }, skew = 0, offSince = null, loggedOut = false, sending = null;
  let keeps = true, refusedOnce = "", waiting = [], unsent = [], between = [];

  function clock(moment) {
    return moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  }
  function $all(what, within) { return Array.from((within || document).querySelectorAll(what)); }
  function token() { return server.csrf || (document.querySelector("[name=csrfmiddlewaretoken]") || {}).value || ""; }

  // What is recorded: by the book, and here on top of it ------------------------------------------------------------

  // on a bench tablet that locked itself; what is Trouble goes up all the same
  function locked() { return Boolean(window.idleLock && window.idleLock.isLocked()); }
  function mayGo(record) { return !locked() || (record.kind === "note" && Boolean(record.fields.what)); }

  function known(kind, subject) {
    let found = server.said[kind + " " + subject] || null;
    const there = new Set(unsent.map(function (record) { return record.key; }));
    unsent.concat(between.filter(function (record) { return !there.has(record.key); })).forEach(function (record) {
      if (record.kind === "undone" && record.subject === subject && record.fields.of[0] === kind) { found = null; }
      if (record.kind === kind && record.subject === subject) {
        const did = (record.fields.did || [])[0], before = (found && found.numbers) || [];
        found = {
          record: record.key, kept: true, at: record.at, done: kind !== "step" || did === "done",
          began: did === "began" ? record.at : found && found.began, numbers: ticked(before, record.fields),
          device: did === "began" || Boolean(found && found.device),
          words: (did === "began" ? "Begun " : record.fields.outcome ? record.fields.outcome[0] + " " : "Recorded ") +
            clock(new Date(record.at)) + ", " + record.by + ", kept here",
        };
      }
    });
    return found;
  }

  // a tick says what was put in or taken out: what another helper ticked meanwhile stays
  function ticked(before, fields) {
    if (!fields.put_in && !fields.taken_out) { return (fields.number || []).map(Number); }
    const out = (fields.taken_out || []).map(Number);
    return before.concat((fields.put_in || []).map(Number)).filter(function (number) { return !out.includes(number); });
  }

  // a mix that was mixed once more: each making has its line, and the form is for the one after them
  function makings() {
    $all("form[data-again]").forEach(function (form) {
      const batch = form.dataset.again, first = document.querySelector('[data-said="mixed ' + CSS.escape(batch) + '"]');
      let number = 2;
      for (; known("mixed", batch + "-" + number); number += 1) {
        const name = batch + "-" + number;
        if (document.querySelector('[data-said="mixed ' + CSS.escape(name) + '"]')) { continue; }
        const line = first.cloneNode(true), subject = line.querySelector("[name=subject]");
        line.dataset.said = "mixed " + name;
        if (subject) { subject.value = name; }
        form.closest(".when-done").prepend(line);
      }
      form.elements.subject.value = batch + "-" + number;
    });
  }

  function render() {
    makings();
    $all("[data-said]").forEach(function (place) {
      const at = place.dataset.said.indexOf(" ", place.dataset.said.startsWith("made safe") ? 9 : 0);
      const said = known(place.dataset.said.slice(0, at), place.dataset.said.slice(at + 1));
      place.hidden = !said || !said.words;
      place.querySelector("[data-words]").textContent = said ? said.words + (said.ask ? ". " + said.ask : "") : "";
      place.querySelector("[data-words]").classList.toggle("kept", Boolean(said && said.kept));
      const newest = place.querySelector("[name=undoes]");
      if (newest) { newest.value = said ? said.record : ""; }
      const screen = place.closest(".screen");
      if (said && said.ask && screen && !screen.querySelector('[value="once"]') && !asks.has(said.record)) {
        asks.add(said.record);
        freshen(screen.id);
      }
    });
    $all("[data-done-by]").forEach(function (screen) {
      const done = screen.dataset.doneBy.split("|").every(function (name) {
        const at = name.indexOf(" "), said = known(name.slice(0, at), name.slice(at + 1));
        return said && said.done;
      });
      screen.toggleAttribute("data-done", done);
    });
    $all("form[data-record] [name=after][data-newest]").forEach(function (field) {
      const form = field.form, said = known(form.elements.kind.value, form.elements.subject.value);
      field.value = said ? said.record : "";
    });
    $all("[data-ticks]").forEach(function (list) {
      const added = known("added", list.dataset.ticks), mixed = known("mixed", list.dataset.ticks);
      if (added) {
        $all("input", list).forEach(function (tick) { tick.checked = added.numbers.includes(Number(tick.value)); });
      } else if (!mixed) { return; }
    });
    $all("[data-timer]").forEach(function (place) {
      const said = known("step", place.dataset.timer);
      if (said && said.began && !said.done) {
        window.benchTimers.set(place.dataset.timer, Date.parse(said.began) - (said.device ? 0 : skew));
      } else { window.benchTimers.stop(place.dataset.timer); }
    });
    tabs();
    keptClock();
    showLine();
  }

  function tabs() {
    const here = location.hash.slice(1) || "all", shown = document.getElementById(here);
    $all("[data-tab]").forEach(function (tab) {
      const load = tab.dataset.tab, screens = $all('[data-load="' + load + '"]');
      const next = screens.find(function (screen) { return !screen.hasAttribute("data-done"); });
      const begun = screens.some(function (screen) {
        return screen.dataset.kind !== "panes" && (screen.hasAttribute("data-done") ||
          known("step", screen.id) || (screen.querySelector("[data-ticks]") &&
          known("added", screen.querySelector("[data-ticks]").dataset.ticks)));
      });
      const runs = screens.find(function (screen) { return window.benchTimers.runs(screen.id); });
      let words = !next ? "done" : begun ? next.dataset.short : "not begun";
      if (runs) {
        const left = window.benchTimers.left(runs.id);
        words += left < 0 ? ", over by " + window.benchTimers.words(left) : ", " + window.benchTimers.words(left) + " left";
      }
      const state = !next ? "good" : begun ? "half" : "";
      [tab, document.querySelector('[data-tab-words="' + load + '"]')].forEach(function (place) {
        if (!place) { return; }
        place.querySelector("span").textContent = words;
        place.classList.remove("good", "half");
        if (state) { place.classList.add(state); }
      });
      const address = "#" + (next || screens[screens.length - 1]).id;
      tab.href = address;
      const go = document.querySelector('[data-tab-go="' + load + '"]');
      if (go) { go.href = address; }
      const current = Boolean(shown && shown.dataset.load === load);
      tab.classList.toggle("current", current);
      if (current) { tab.setAttribute("aria-current", "page"); } else { tab.removeAttribute("aria-current"); }
    });
    $all("[data-for]").forEach(function (link) {
      const screen = document.getElementById(link.dataset.for);
      link.classList.toggle("good", Boolean(screen && screen.hasAttribute("data-done")));
    });
  }

  // The safety clock: of what the book knows, and of silver that was mixed here and is not sent yet -------------------

  function keptClock() {
    const place = document.getElementById("clock"), template = document.getElementById("clock-kept");
    if (!place || !template || (place.dataset.since && !place.dataset.kept)) { return; }
    const silver = unsent.filter(function (record) { return record.silver; })[0];
    if (!silver) {
      if (place.dataset.kept) { place.replaceWith(Object.assign(document.createElement("div"), { id: "clock" })); }
      return;
    }
    const made = template.content.firstElementChild.cloneNode(true);
    made.dataset.since = silver.at;
    made.dataset.kept = "1";
    made.querySelector("[data-what]").textContent = silver.silver + ", " + clock(new Date(silver.at));
    place.replaceWith(made);
    age();
  }

  function age() {
    const place = document.getElementById("clock");
    if (!place || !place.dataset.since) { return; }
    const now = Date.now() + (place.dataset.kept ? 0 : skew), minutes = Math.floor((now - Date.parse(place.dataset.since)) / 60000);
    const stood = place.querySelector("[data-stood]"), whole = Math.max(0, minutes);
    if (stood) { stood.textContent = whole < 60 ? whole + " min" : Math.floor(whole / 60) + " h " + String(whole % 60).padStart(2, "0"); }
    const past = place.dataset.red && now >= Date.parse(place.dataset.red);
    place.classList.toggle("past", Boolean(past));
    $all("[data-past]", place).forEach(function (words) { words.hidden = !past; });
    $all("[data-fresh]", place).forEach(function (words) { words.hidden = Boolean(past); });
  }

  // The line to the book -----------------------------------------------------------------------------------------------

  function ticks(count) { return count === 1 ? "1 tick kept here" : count + " ticks kept here"; }

  function showLine() {
    const off = offSince || loggedOut || locked();
    line.classList.toggle("off", Boolean(off));
    line.classList.toggle("on", !off);
    const head = document.createElement("b"), rest = document.createElement("span");
    if (loggedOut) {
      head.textContent = "Logged out";
      rest.append(unsent.length ? ticks(unsent.length) + ". " : "", Object.assign(document.createElement("a"), {
        href: "/log-in/?next=" + encodeURIComponent(location.pathname), textContent: "Log in",
      }));
    } else if (locked() && !offSince) {
      head.textContent = "Locked";
      rest.textContent = unsent.length ? ticks(unsent.length) + "; they go up once it is unlocked."
        : "What you tick is kept here until it is unlocked.";
    } else if (offSince) {
      head.textContent = "Not connected";
      rest.textContent = "since " + clock(offSince) + ". " + (unsent.length
        ? ticks(unsent.length) + "; they go up by themselves." : "What you tick is kept here.");
    } else {
      head.textContent = "Connected";
      rest.textContent = unsent.length ? ticks(unsent.length) + ", going up." : body.dataset.person;
    }
    if (waiting.length) { rest.textContent += " " + waiting.join(" "); }
    line.replaceChildren(head, rest);
    if (!keeps) {
      line.append("This browser keeps nothing: without a network nothing is recorded.");
    } else if (!window.isSecureContext) {
      line.append("Plain http: without a network this page does not open again, and the screen may go dark.");
    }
    $all("[data-finish]").forEach(function (link) {
      link.toggleAttribute("aria-disabled", Boolean(off || unsent.length));
    });
  }

  function lost() { offSince = offSince || new Date(); render(); }
  function there() { offSince = null; loggedOut = false; }

  async function asked(address, more) {
    const patience = new AbortController(), timer = setTimeout(function () { patience.abort(); }, 15000);
    try {
      const answer = await fetch(address, Object.assign({ signal: patience.signal, credentials: "same-origin" }, more));
      if (answer.redirected || answer.status === 401) { loggedOut = true; offSince = null; render(); return null; }
      if (answer.status >= 500 && answer.status !== 503) { throw new Error(String(answer.status)); }
      return answer;
    } finally { clearTimeout(timer); }
  }

  const asks = new Set();
  let order = 0, applied = 0, refreshing = false;

  async function refresh() {
    if (refreshing) { return; }
    refreshing = true;
    const mine = ++order;
    try {
      const answer = await asked(body.dataset.state + "?mark=" + encodeURIComponent(server.mark));
      if (!answer) { return; }
      there();
      if (answer.status === 200) { apply(await answer.json(), mine); }
      await send();
      render();
    } catch (failed) { lost(); } finally { refreshing = false; }
  }

  // a screen as the book has it now, where what is asked on it was not there when the page was loaded
  async function freshen(id) {
    const answer = await asked(location.pathname).catch(function () { return null; });
    if (!answer || !answer.ok) { return; }
    const made = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById(id);
    const place = document.getElementById(id);
    if (!made || !place) { return; }
    place.replaceChildren.apply(place, Array.from(made.childNodes));
    prepare();
    render();
  }

  // an answer asked for earlier than the one that is shown says nothing new, unless the book gave it later
  function apply(state, mine) {
    if (mine < applied && Date.parse(state.now) <= Date.parse(server.now)) { return; }
    applied = Math.max(applied, mine);
    server = state;
    skew = Date.parse(state.now) - Date.now();
    const clockPlace = document.getElementById("clock"), safe = document.getElementById("made-safe");
    if (clockPlace) { swap(clockPlace, state.clock); }
    ["still", "noted"].forEach(function (name) {
      const list = document.getElementById(name);
      if (list && state[name]) { swap(list, state[name]); }
    });
    if (safe && location.hash !== "#made-safe" && state.safe) { swap(safe, state.safe); }
    if (keeps) { window.keptRecords.know("state " + of, state).catch(function () { keeps = false; }); }
    age();
  }

  function swap(place, html) {
    const holder = document.createElement("template");
    holder.innerHTML = html;
    const made = holder.content.firstElementChild;
    if (made) { place.replaceWith(made); }
    return made;
  }

  function send() {
    sending = sending || sendAll().finally(function () { sending = null; });
    return sending;
  }

  async function sendAll() {
    for (;;) {
      unsent = keeps ? await window.keptRecords.of(of) : unsent;
      const going = unsent.filter(mayGo);
      if (!going.length) { return null; }
      const records = going.slice(0, 50).map(function (record) {
        return Object.assign({}, record, { live: record.live && Date.now() - Date.parse(record.at) < 10000 });
      });
      const mine = ++order;
      const answer = await asked(body.dataset.records, {
        method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
        body: JSON.stringify({ now: new Date().toISOString(), records: records }),
      });
      if (!answer) { return null; }
      if (answer.status === 423) {
        if (!window.idleLock) { if (keeps) { location.reload(); } return null; }
        if (locked()) { return null; }
        window.idleLock.show();
        continue;
      }
      if (answer.status === 403) {
        const fresh = await asked(body.dataset.state);
        if (!fresh || fresh.status !== 200) { return null; }
        const before = server.csrf;
        apply(await fresh.json(), ++order);
        if (server.csrf === before) { return null; }
        continue;
      }
      if (!answer.ok) { throw new Error(String(answer.status)); }
      there();
      const told = await answer.json();
      let refused = null;
      // between the store and the shown answer a record stands for itself, or a tick goes out for a moment
      between = between.concat(records);
      for (const one of told.answers) {
        await forget(one.key);
        if (one.is === "waits") { waiting = ["One was kept for the owner to look at."]; }
        if (one.is === "refused") { refused = one; }
      }
      unsent = keeps ? await window.keptRecords.of(of) : unsent;
      between = between.filter(function (record) { return !records.includes(record); });
      apply(told, mine);
      if (refused) { refuse(refused); return refused; }
    }
  }

  async function forget(key) {
    if (keeps) { await window.keptRecords.remove(key); } else {
      unsent = unsent.filter(function (record) { return record.key !== key; });
    }
  }

  function refuse(answer) {
    const holder = document.createElement("template");
    holder.innerHTML = answer.screen || "";
    const made = holder.content.firstElementChild, place = made && document.getElementById(made.id);
    // the section itself stays: exchanged, it is no longer what the address names, and another screen would be shown
    if (place) { place.replaceChildren(...made.childNodes); location.hash = place.id; }
    const screen = place || document.getElementById(location.hash.slice(1)) || document.getElementById("all");
    const words = screen.querySelector("[data-refusal]") || document.querySelector("[data-refusal]");
    prepare();
    render();
    if (words) { words.textContent = answer.sentence; words.hidden = false; words.scrollIntoView({ block: "center" }); }
  }

  // What is pressed ----------------------------------------------------------------------------------------------------

  function record(form, submitter) {
    const fields = {};
    new FormData(form).forEach(function (value, name) {
      if (!NOT_FIELDS.has(name)) { (fields[name] = fields[name] || []).push(String(value)); }
    });
    if (submitter && submitter.name) { fields[submitter.name] = [submitter.value]; }
    const kind = form.elements.kind.value, subject = form.elements.subject.value, said = known(kind, subject);
    return {
      of: of, key: window.keptRecords.key(), kind: kind, subject: subject,
      screen: form.elements.screen.value, after: said ? said.record : "", fields: fields, by: body.dataset.person,
      at: new Date().toISOString(), live: !offSince && !loggedOut,
      silver: kind === "mixed" && submitter && ["as-written", "amounts"].includes(submitter.value)
        ? form.dataset.silver || "" : "",
    };
  }

  async function keep(made) {
    between = between.concat([made]);
    if (keeps) {
      try { await window.keptRecords.add(made); unsent = await window.keptRecords.of(of); } catch (failed) { keeps = false; }
    }
    if (!keeps) { unsent = unsent.concat([made]); }
    between = between.filter(function (record) { return record !== made; });
    render();
  }

  async function press(form, submitter) {
    const buttons = $all("button", form).concat($all('button[form="' + form.id + '"]'));
    const made = record(form, submitter), next = form.elements.next.value, from = location.hash;
    buttons.forEach(function (button) { button.disabled = true; });
    try {
      await keep(made);
      let refused = null;
      if (made.live) {
        const patience = new Promise(function (done) { setTimeout(done, 4000); });
        refused = await Promise.race([send().catch(function () { lost(); }), patience]);
      }
      if (refused) { return; }
      $all("[data-refusal], .error", form.closest(".screen")).forEach(function (words) {
        if (words.matches(".error")) { words.textContent = ""; } else { words.hidden = true; }
      });
      render();
      if (submitter && submitter.value === "began") { return; }
      if (made.kind === "note") { form.reset(); }
      // whoever went elsewhere while the book was slow is not fetched back
      if (next && location.hash === from && "#" + next !== from) { location.hash = next; }
    } finally {
      buttons.forEach(function (button) { button.disabled = false; });
    }
  }

  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (!form.matches("form[data-record]")) { return; }
    event.preventDefault();
    const dwells = Number((event.submitter && event.submitter.dataset.dwells) || 0), name = form.elements.subject.value;
    const left = window.benchTimers.left(name);
    if (dwells && refusedOnce !== name && (left === null || left > 0)) {
      refusedOnce = name;
      say(form, left === null ? "Its time was not started here: press again if it was timed otherwise."
        : "There are " + window.benchTimers.words(left) + " left: press again to go on all the same.");
      return;
    }
    refusedOnce = "";
    press(form, event.submitter);
  });

  window.sayAtTheBench = say;
  function say(form, sentence) {
    const place = (form.closest(".screen") || document).querySelector("[data-refusal]");
    if (place) { place.textContent = sentence; place.hidden = false; place.scrollIntoView({ block: "nearest" }); }
  }

  // what is not ticked yet is said in a sentence, at the first of it
  document.addEventListener("invalid", function (event) {
    const tick = event.target;
    if (!tick.matches(".ingredients input")) { return; }
    event.preventDefault();
    const open = $all("input:not(:checked)", tick.closest("ol"))[0];
    if (open !== tick) { return; }
    const label = tick.closest("label");
    say(tick.form, "Tick " + label.querySelector(".number").textContent + ", " +
      label.querySelector(".name b").textContent + ": each is ticked as it goes in.");
    tick.focus();
  }, true);

  document.addEventListener("change", async function (event) {
    const list = event.target.closest("[data-ticks]");
    if (!list || event.target.type !== "checkbox") { return; }
    const numbers = $all("input:checked", list).map(function (tick) { return tick.value; });
    const did = event.target.checked ? { put_in: [event.target.value] } : { taken_out: [event.target.value] };
    const form = list.closest("form"), words = form.closest(".screen").querySelector("[data-refusal]");
    if (words) { words.hidden = true; }
    const made = {
      of: of, key: window.keptRecords.key(), kind: "added", subject: list.dataset.ticks,
      screen: form.elements.screen.value, after: "", fields: Object.assign({ number: numbers }, did),
      by: body.dataset.person, at: new Date().toISOString(), live: false, silver: numbers.length > 1 ? form.dataset.silver || "" : "",
    };
    await keep(made);
    if (!offSince && !loggedOut) { send().then(render, lost); }
  });

  document.addEventListener("click", function (event) {
    const back = event.target.closest("[data-back]");
    if (back && history.length > 1) { event.preventDefault(); history.back(); return; }
    const opens = event.target.closest("[data-opens]");
    if (opens) {
      event.preventDefault();
      const other = document.getElementById(opens.hash.slice(1));
      other.open = true;
      other.scrollIntoView();
      other.querySelector("summary").focus();
    }
    const finish = event.target.closest("[data-finish]");
    if (finish && (offSince || loggedOut || unsent.length)) {
      event.preventDefault();
      say(finish, (finish.dataset.finish || "Finishing") + " needs the network and nothing unsent: " + (unsent.length ? ticks(unsent.length) : "not connected") + ".");
    }
  });

  function prepare() {
    $all("[data-scan]").forEach(function (place) { place.hidden = false; });
    if ("BarcodeDetector" in window && navigator.mediaDevices) {
      $all("[data-camera]").forEach(function (button) { button.hidden = false; });
    }
  }

  // A screen that is shown is read from its heading --------------------------------------------------------------------

  function arrived() {
    const screen = document.getElementById(location.hash.slice(1) || "all");
    const head = screen && screen.querySelector("h1");
    if (head) { head.focus({ preventScroll: true }); window.scrollTo(0, 0); }
    tabs();
  }
  window.addEventListener("hashchange", arrived);

  async function keepPage() {
    if (!("serviceWorker" in navigator) || !window.isSecureContext) { return; }
    await navigator.serviceWorker.register(body.dataset.worker, { scope: "/" });
    const answer = await fetch(location.pathname, { credentials: "same-origin" });
    if (answer.ok && !answer.redirected) {
      await (await caches.open(window.keptRecords.pages)).put(location.pathname, answer);
    }
  }

  // a load's printed code leads to its next step
  function aim() {
    const tab = document.querySelector('[data-tab="' + CSS.escape(location.hash.slice(1)) + '"]');
    if (tab) { location.replace(tab.href); }
  }

  (async function begin() {
    prepare();
    try {
      unsent = await window.keptRecords.of(of);
      const last = await window.keptRecords.known("state " + of);
      if (last) { server = Object.assign({}, last, { mark: "" }); skew = 0; }
    } catch (failed) { keeps = false; }
    render();
    aim();
    await refresh();
    keepPage().catch(function () { /* a browser that keeps no pages: the line says so */ });
    setInterval(function () { if (document.visibilityState === "visible") { refresh(); } }, 4000);
    setInterval(function () { age(); tabs(); }, 1000);
    document.addEventListener("visibilitychange", function () {
      if (document.visibilityState === "visible") { refresh(); }
    });
    document.addEventListener("locked", render);
    document.addEventListener("unlocked", refresh);
    window.addEventListener("online", refresh);
    window.addEventListener("offline", lost);
  }());
}());
