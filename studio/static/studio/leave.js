// Leaving on this device: with the session go the student's pages that the service worker kept and what was typed.
// What waits to be sent stays in the queue; nothing that is not sent goes without a word. Without this script the
// plain form ends the session.
"use strict";

(function () {
  const OURS = "ledgerline";

  // The entries that are not sent: from the page's own queue, which also knows those that there was no room for.
  async function unsent() {
    if (self.ledgerline && self.ledgerline.queue) return (await self.ledgerline.queue.all()).length;
    return new Promise((resolve) => {
      const asked = indexedDB.open(OURS, 1);
      // there was none: none is made
      asked.onupgradeneeded = () => asked.transaction.abort();
      asked.onerror = () => resolve(0);
      asked.onsuccess = () => {
        const found = asked.result.transaction("entries").objectStore("entries").getAll();
        found.onsuccess = () => resolve(found.result.filter((row) => row.state !== "answer").length);
        found.onerror = () => resolve(0);
        asked.result.close();
      };
    });
  }

  // What the server answered about a hand goes with the pages; what waits to be sent stays.
  async function forgetAnswers() {
    await new Promise((resolve) => {
      const asked = indexedDB.open(OURS, 1);
      asked.onupgradeneeded = () => asked.transaction.abort();
      asked.onerror = resolve;
      asked.onsuccess = () => {
        const work = asked.result.transaction("entries", "readwrite");
        work.oncomplete = work.onabort = resolve;
        work.objectStore("entries").delete(IDBKeyRange.bound("hand.", "hand/", false, true));
        asked.result.close();
      };
    });
  }

  const ours = () => Object.keys(localStorage).filter((key) => key.startsWith(OURS + "."));

  // whether something is kept under this key that somebody timed or typed and did not send
  function isWork(key) {
    const [, part, , more] = key.split(".");
    if (part === "draft") return true;
    try {
      const kept = JSON.parse(localStorage.getItem(key));
      if (part === "drill" && !more) return kept.spent > 0 && !kept.sent;
      if (part !== "timer") return false;
      return kept.since !== null || Object.values(kept.spent).some((ms) => ms >= 1000) || kept.held.length > 0;
    } catch (_) {
      return false; // its own page cannot read it either
    }
  }

  async function forget(area) {
    for (const key of ours()) localStorage.removeItem(key);
    if (self.indexedDB) await forgetAnswers();
    if (!self.caches) return;
    for (const name of await caches.keys()) {
      if (!name.startsWith(OURS + "-")) continue;
      const cache = await caches.open(name);
      for (const request of await cache.keys()) {
        if (new URL(request.url).pathname.startsWith(area)) await cache.delete(request);
      }
    }
  }

  async function isRefused(form) {
    if (form.dataset.asked) return false;
    const waits = (await unsent()) > 0;
    const lost = ours().some(isWork);
    form.querySelector("[data-waits]").hidden = !waits;
    form.querySelector("[data-lost]").hidden = !lost;
    if (!waits && !lost) return false;
    form.dataset.asked = "yes";
    const button = form.querySelector("button");
    button.textContent = button.dataset.anyway;
    return true;
  }

  async function left(event) {
    const form = event.target;
    event.preventDefault();
    try {
      if (await isRefused(form)) return;
    } catch (_) {
      // storage that cannot be read keeps nobody from leaving
    }
    // the session ends first: whatever asks for a page meanwhile gets none to keep
    const sent = { method: "POST", body: new URLSearchParams(new FormData(form)), redirect: "manual" };
    const answer = await fetch(form.action, sent).catch(() => null);
    form.querySelector("[data-no-line]").hidden = answer !== null;
    if (answer === null) return;
    await forget(form.dataset.leave.replace(/[^/]*$/, "")).catch(() => null);
    if (answer.type === "opaqueredirect") location.assign(form.dataset.after);
    else form.submit(); // refused, and the server's page says why
  }

  for (const form of document.querySelectorAll("form[data-leave]")) form.addEventListener("submit", left);
})();
