// Entries, notes about a hand and wishes for a word on their way to the studio. They wait in IndexedDB until the server
// has answered, in JSON, that this very one is stored; nothing else lets go of it. What the server answered about a hand
// is kept until a page has shown it (answer.js). Runs in a page and in the service worker.
"use strict";

self.ledgerline = self.ledgerline || {};

self.ledgerline.queue = (function () {
  const STORE = "entries";
  const PATIENCE = 20000;
  const loose = new Map(); // entries that the phone had no room for: kept as long as this page is open
  const listeners = [];
  const channel = "BroadcastChannel" in self ? new BroadcastChannel("ledgerline") : null;

  function tell(news, elsewhere) {
    for (const listener of listeners) listener(news, elsewhere);
  }
  if (channel) channel.onmessage = (event) => tell(event.data, true);

  function announce(news) {
    tell(news, false);
    if (channel) channel.postMessage(news);
  }

  function opened() {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open("ledgerline", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "code" });
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }

  // Runs work(store) in one transaction; resolves with what work's request found once all of it is on the disk.
  async function within(mode, work) {
    const database = await opened();
    try {
      return await new Promise((resolve, reject) => {
        const transaction = database.transaction(STORE, mode, { durability: "strict" });
        let found;
        transaction.oncomplete = () => resolve(found && found.result);
        transaction.onerror = transaction.onabort = () => reject(transaction.error);
        found = work(transaction.objectStore(STORE));
      });
    } finally {
      database.close();
    }
  }

  // The server's answers about a hand lie beside what waits, one a student.
  const ANSWER = "answer";
  const answerKey = (student) => "hand." + student;

  async function all() {
    let kept = [];
    try {
      kept = await within("readonly", (store) => store.getAll());
    } catch (_) {
      // no database here: what is loose is all there is
    }
    return kept.filter((row) => row.state !== ANSWER && !loose.has(row.code)).concat([...loose.values()]).sort((a, b) => a.made - b.made);
  }

  // Keeps an entry. row: code, student, address, token (addresses), body. False when the phone has no room for it.
  async function put(row) {
    const whole = Object.assign({ state: "waiting", made: Date.now() + Math.random() }, row);
    let kept = true;
    try {
      await within("readwrite", (store) => store.put(whole));
      loose.delete(whole.code);
    } catch (_) {
      loose.set(whole.code, whole);
      kept = false;
    }
    if (kept) announce({ queued: whole.code, student: whole.student });
    return kept;
  }

  // Changes a row, or lets go of it, unless another tab has put a newer one in its place since it was read. answer: what
  // is kept with that, all or nothing.
  async function settle(row, change, answer = null) {
    if (loose.has(row.code)) {
      if (loose.get(row.code).made === row.made) {
        if (change) loose.set(row.code, Object.assign({}, row, change));
        else loose.delete(row.code);
      }
      return;
    }
    await within("readwrite", (store) => {
      const asked = store.get(row.code);
      asked.onsuccess = () => {
        if (!asked.result || asked.result.made !== row.made) return;
        if (change) store.put(Object.assign({}, asked.result, change));
        else store.delete(row.code);
      };
      if (answer) store.put(answer);
      return null;
    });
  }

  async function asked(address, options) {
    const limit = AbortSignal.timeout ? { signal: AbortSignal.timeout(PATIENCE) } : {};
    const base = { credentials: "same-origin", cache: "no-store", redirect: "error" };
    const answer = await fetch(address, Object.assign(base, limit, options));
    // a page in place of JSON comes from something between here and the studio
    return { status: answer.status, said: await answer.json() };
  }

  const CLOSED = [401, 404];

  // "sent", "refused", "closed" (the link has ended), "locked" (it waits for its PIN) or "away" (no connection, no server)
  async function one(row, tokens) {
    let answer;
    try {
      if (!tokens.has(row.token)) {
        const got = await asked(row.token, { headers: { Accept: "application/json" } });
        if (CLOSED.includes(got.status)) return got.said.pin ? "locked" : "closed";
        if (got.status !== 200) return "away";
        tokens.set(row.token, got.said.token);
      }
      answer = await asked(row.address, {
        method: "PUT",
        headers: {
          Accept: "application/json",
          "Content-Type": "application/json",
          "X-CSRFToken": tokens.get(row.token),
        },
        body: JSON.stringify(row.body),
      });
    } catch (_) {
      return "away";
    }
    const { status, said } = answer;
    if ((status === 200 || status === 201) && said && said.code === row.code) {
      const news = { sent: row.code, student: row.student, said: said.said || "" };
      const hand = row.body.hand ? { hand: true, html: said.html || "", level: said.level || "", at: said.at || 0 } : null;
      const about = { code: answerKey(row.student), state: ANSWER, of: row.code };
      await settle(row, null, hand && Object.assign(about, hand));
      announce(Object.assign(news, hand));
      return "sent";
    }
    if (CLOSED.includes(status)) return said.pin ? "locked" : "closed";
    if ([400, 409, 413, 415, 422].includes(status)) {
      const stored = said.stored ? said.stored.version : null;
      await settle(row, {
        state: "refused",
        error: said.error || "",
        errors: said.errors || {},
        stored: stored,
        taken: Boolean(said.taken),
      });
      announce({ refused: row.code, student: row.student });
      return "refused";
    }
    return "away";
  }

  async function run() {
    const tokens = new Map();
    let outcome = "done";
    for (const row of await all()) {
      if (row.state !== "waiting") continue;
      const came = await one(row, tokens);
      if (came === "away") return "away";
      if (came === "closed" || came === "locked") outcome = came;
    }
    return outcome;
  }

  // Sends what waits, one sender at a time over all tabs and the service worker.
  // "done", "closed", "locked", "away", or "busy" when another one is at it.
  function send() {
    if (!navigator.locks) return run();
    return navigator.locks.request("ledgerline.send", { ifAvailable: true }, (lock) => (lock ? run() : "busy"));
  }

  // What the server last answered about a student's hand: {code, html, level, at}, or null.
  async function answered(student) {
    try {
      const found = await within("readonly", (store) => store.get(answerKey(student)));
      return found ? { code: found.of, html: found.html, level: found.level, at: found.at } : null;
    } catch (_) {
      return null;
    }
  }

  const forgetAnswer = (student) => within("readwrite", (store) => store.delete(answerKey(student))).catch(() => null);

  // For a page: what the server says now, at `address`, in place of what is marked data-fresh (its data alone where it says
  // "data"). Where the day now asks for something else (data-day) the whole page is drawn anew: nothing that was typed or
  // timed is lost by that.
  async function freshen(address) {
    try {
      const answer = await fetch(address, { credentials: "same-origin" });
      if (!answer.ok) return;
      const drawn = new DOMParser().parseFromString(await answer.text(), "text/html");
      const [here, there] = [document, drawn].map((page) => page.querySelector("[data-day]"));
      if (here && there && here.dataset.day !== there.dataset.day) return location.reload();
      const lines = drawn.querySelectorAll("[data-fresh]");
      document.querySelectorAll("[data-fresh]").forEach((line, n) => {
        if (!lines[n] || lines[n].tagName !== line.tagName) return;
        if (line.dataset.fresh !== "data") line.replaceChildren(...lines[n].childNodes);
        for (const name of Object.keys(line.dataset)) delete line.dataset[name];
        Object.assign(line.dataset, lines[n].dataset);
      });
    } catch (_) {
      // they stay as they were
    }
  }

  return {
    all: all,
    put: put,
    send: send,
    freshen: freshen,
    answer: answered,
    forgetAnswer: forgetAnswer,
    // for entries that somebody says to throw away
    drop: (row) => settle(row, null),
    isLoose: (code) => loose.has(code),
    listen: (listener) => listeners.push(listener),
  };
})();
