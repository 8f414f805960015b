// What is recorded on this device until the book has it: in the browser's own store, in the order in which it was done.
// A record counts as kept once the store has written it, so that a closed tab or an empty battery loses nothing.
"use strict";

window.keptRecords = (function () {
  const NAME = "daybook-bench";
  let opening;

  function opened() {
    opening = opening || new Promise(function (done, failed) {
      const asked = indexedDB.open(NAME, 1);
      asked.onupgradeneeded = function () {
        asked.result.createObjectStore("records", { keyPath: "id", autoIncrement: true });
        asked.result.createObjectStore("known");
      };
      asked.onsuccess = function () { done(asked.result); };
      asked.onerror = asked.onblocked = function () { failed(asked.error); };
    });
    return opening;
  }

  async function within(store, mode, work) {
    const base = await opened();
    return new Promise(function (done, failed) {
      const writing = base.transaction(store, mode, { durability: "strict" });
      const asked = work(writing.objectStore(store));
      writing.oncomplete = function () { done(asked && asked.result); };
      writing.onerror = writing.onabort = function () { failed(writing.error); };
    });
  }

  // plain http has no randomUUID
  function uuid() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = Array.from(bytes, function (byte) { return byte.toString(16).padStart(2, "0"); }).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  async function all() { return within("records", "readonly", function (store) { return store.getAll(); }); }

  return {
    pages: NAME,
    key: function () { return crypto.randomUUID ? crypto.randomUUID() : uuid(); },
    add: function (record) { return within("records", "readwrite", function (store) { return store.add(record); }); },
    all: all,
    of: async function (place) { return (await all()).filter(function (record) { return record.of === place; }); },
    remove: async function (key) {
      const mine = (await all()).filter(function (record) { return record.key === key; });
      return within("records", "readwrite", function (store) {
        mine.forEach(function (record) { store.delete(record.id); });
      });
    },
    know: function (name, value) {
      return within("known", "readwrite", function (store) { return store.put(value, name); });
    },
    known: function (name) { return within("known", "readonly", function (store) { return store.get(name); }); },
    // the kept pages and what was known: nothing of the studio stays on a device that nobody is logged in on
    empty: async function () {
      if ("caches" in window) { await caches.delete(NAME); }
      await within("known", "readwrite", function (store) { return store.clear(); });
    },
  };
}());
