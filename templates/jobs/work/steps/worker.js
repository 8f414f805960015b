// Keeps the pages of the bench, so that they open without a network. The server makes it: files have names of the day.
"use strict";

const KEPT = "daybook-bench", FILES = [
{% for file in files %}  "{{ file|escapejs }}",
{% endfor %}];
const PAGE = /^\/(bench|finishes\/trials)\/\d+\/steps\/$/;

self.addEventListener("install", function (event) {
  event.waitUntil(caches.open(KEPT).then(function (kept) { return kept.addAll(FILES); }).then(function () {
    return self.skipWaiting();
  }));
});

self.addEventListener("activate", function (event) {
  event.waitUntil(caches.open(KEPT).then(async function (kept) {
    const files = new Set(FILES.map(function (file) { return new URL(file, location.origin).href; }));
    for (const request of await kept.keys()) {
      if (!PAGE.test(new URL(request.url).pathname) && !files.has(request.url)) { await kept.delete(request); }
    }
    await self.clients.claim();
  }));
});

// the newest page where there is a network, within a few seconds; the kept one where there is none
async function page(request) {
  const kept = await caches.open(KEPT);
  const aborting = new AbortController(), patience = setTimeout(function () { aborting.abort(); }, 4000);
  try {
    const answer = await fetch(request, { signal: aborting.signal });
    if (answer.ok && !answer.redirected) { await kept.put(request.url.split("#")[0], answer.clone()); }
    if (answer.status < 500) { return answer; }
    return (await kept.match(request.url.split("#")[0])) || answer;
  } catch (lost) {
    const there = await kept.match(request.url.split("#")[0]);
    if (there) { return there; }
    throw lost;
  } finally {
    clearTimeout(patience);
  }
}

self.addEventListener("fetch", function (event) {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== location.origin) { return; }
  if (PAGE.test(address.pathname)) { event.respondWith(page(event.request)); return; }
  if (FILES.includes(address.pathname)) {
    event.respondWith(caches.match(event.request.url).then(function (file) { return file || fetch(event.request); }));
  }
});
