// The students' service worker: pages open without a connection after a first visit, and entries that wait are sent
// when the connection returns, also when no page is open. The server puts TOLD = {version, kept, queue} above this.
//
// A page is asked of the server first, so that it is never an old one while there is a connection. Everything that
// is kept lies in one cache per version, the pages with the files they name: they come and go together.
"use strict";

importScripts(TOLD.queue);

const OURS = "ledgerline-";
const CACHE = OURS + TOLD.version;
const PATIENCE = 4000;
const HASHED = /\.[0-9a-f]{12}\.\w+$/;

const keyOf = (url) => url.origin + url.pathname;
// of a student's pages only those that practice needs are kept: never the record, a consent, the PIN or the entries
const KEPT_PAGE = /^[^/]+\/(progress\/|hand\/|drill\/[^/]+\/)?$/;
const below = (url) => (keyOf(url).startsWith(self.registration.scope) ? keyOf(url).slice(self.registration.scope.length) : "");
const isPage = (url) => KEPT_PAGE.test(below(url)) && !url.search;
// the address under which all pages of one student lie
const homeOf = (url) => self.registration.scope + below(url).split("/")[0] + "/";

function isWhole(answer) {
  return answer.status === 200 && !answer.redirected && (answer.headers.get("Content-Type") || "").includes("text/html");
}

// nobody's page for this phone any more (404), or it waits for a PIN (401)
const isClosed = (answer) => answer.status === 401 || answer.status === 404;

async function keepPage(cache, address) {
  const answer = await fetch(address, { credentials: "same-origin", cache: "no-store" });
  if (isWhole(answer)) await cache.put(address, answer);
  return answer;
}

// Whose link has ended, waits for a PIN or was left behind: none of that student's pages stays on this phone.
async function forget(cache, url) {
  if (!below(url)) return;
  for (const request of await cache.keys()) if (request.url.startsWith(homeOf(url))) await cache.delete(request);
  // a single page may be gone (a drill's goal): then the first one is still answered, and kept anew
  if (keyOf(url) !== homeOf(url)) await keepPage(cache, homeOf(url));
}

async function install() {
  const cache = await caches.open(CACHE);
  await cache.addAll(TOLD.kept.map((address) => new Request(address, { cache: "no-cache" })));
  // the pages of the former version, drawn anew; without a connection the former version stays
  for (const name of await caches.keys()) {
    if (name === CACHE || !name.startsWith(OURS)) continue;
    for (const request of await (await caches.open(name)).keys()) {
      if (isPage(new URL(request.url))) await keepPage(cache, request.url);
    }
  }
  await self.skipWaiting();
}

async function activate() {
  for (const name of await caches.keys()) {
    if (name !== CACHE && name.startsWith(OURS)) await caches.delete(name);
  }
  await self.clients.claim();
}

async function page(event, url) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(keyOf(url));
  const asked = fetch(event.request).then(async (answer) => {
    try {
      if (isWhole(answer) && isPage(url)) await cache.put(keyOf(url), answer.clone());
      else if (isClosed(answer)) await forget(cache, url);
    } catch (_) {
      // no room: the page is shown all the same
    }
    return answer.status >= 500 && kept ? kept : answer;
  });
  if (!kept) return asked;
  event.waitUntil(asked.catch(() => null));
  const slow = new Promise((resolve) => setTimeout(resolve, PATIENCE, kept.clone()));
  return Promise.race([asked.catch(() => kept), slow]);
}

async function file(request, url) {
  const kept = await (await caches.open(CACHE)).match(url.pathname, { ignoreVary: true });
  if (kept && HASHED.test(url.pathname)) return kept;
  try {
    return await fetch(request);
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (event.request.mode === "navigate") event.respondWith(page(event, url));
  else if (TOLD.kept.includes(url.pathname)) event.respondWith(file(event.request, url));
});

// a page that was opened before this worker came asks to be kept
self.addEventListener("message", (event) => {
  const url = new URL(event.data.keep, self.location.origin);
  if (!isPage(url)) return;
  event.waitUntil(
    caches.open(CACHE).then(async (cache) => {
      if (!(await cache.match(keyOf(url)))) {
        const answer = await keepPage(cache, keyOf(url));
        if (isClosed(answer)) await forget(cache, url);
      }
      if (event.source) event.source.postMessage({ kept: url.pathname });
    })
  );
});

self.addEventListener("sync", (event) => {
  if (event.tag !== "entries") return;
  event.waitUntil(
    self.ledgerline.queue.send().then((outcome) => {
      // told to the browser, which tries again later
      if (outcome === "away") throw new Error("no connection");
    })
  );
});
