// Logs a session without losing it: the form becomes an entry with an id of its own, the entry waits in the queue
// (queue.js) until the server has it, and what was typed is kept until then. Without this script the plain form logs.
"use strict";

(function () {
  const form = document.getElementById("log");
  const box = document.querySelector("[data-queue]");
  const { queue, timer } = self.ledgerline;
  if (!form || !box || !queue || !self.indexedDB || !self.crypto.getRandomValues) return;

  const says = box.dataset;
  const student = says.queue;
  const told = box.querySelector("[data-told]");
  const list = box.querySelector("[data-refused]");
  const draftKey = "ledgerline.draft." + student;
  const field = (name) => form.elements[name];

  // randomUUID is there on https alone
  function newCode() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((n) => n.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  // -- the form ------------------------------------------------------------------------------------------------------

  const dayIsTyped = () => field("day").dataset.typed === "yes";

  // the page may have been drawn on an earlier day and opened without a connection today
  const dayOf = (instant) => new Intl.DateTimeFormat("en-CA", { timeZone: says.zone }).format(instant);
  const today = () => dayOf(new Date());

  function freshDay() {
    if (dayIsTyped()) return;
    const day = today();
    if (day > field("day").value) {
      field("day").max = day;
      field("day").value = day;
    }
  }

  function openRound(place) {
    for (let within = place.closest("details"); within; within = within.parentElement.closest("details")) within.open = true;
  }

  function values() {
    const named = {};
    for (const [name, value] of new FormData(form)) {
      if (name !== "csrfmiddlewaretoken") (named[name] = named[name] || []).push(value);
    }
    return named;
  }

  function pour(named) {
    for (const control of form.elements) {
      if (!control.name || control.name === "csrfmiddlewaretoken" || control.type === "submit") continue;
      const given = named[control.name] || [];
      if (control.type === "checkbox" || control.type === "radio") control.checked = given.includes(control.value);
      else if (given.length) control.value = given[0];
      else if (control.name !== "day") control.value = "";
    }
    for (const name of Object.keys(named)) {
      const control = field(name);
      if (control && control.closest && named[name][0]) openRound(control);
    }
    form.dispatchEvent(new Event("filled"));
    form.dispatchEvent(new Event("change", { bubbles: true }));
    for (const part of form.querySelectorAll(".part")) part.dispatchEvent(new Event("change", { bubbles: true }));
    for (const drawn of form.querySelectorAll("[data-strings]")) drawn.dispatchEvent(new Event("change", { bubbles: true }));
  }

  function keepDraft() {
    try {
      localStorage.setItem(draftKey, JSON.stringify({ values: values(), version: form.dataset.version || "" }));
    } catch (_) {
      // no room: what is typed lives as long as the page
    }
  }

  function dropDraft() {
    try {
      localStorage.removeItem(draftKey);
    } catch (_) {
      // there is none
    }
  }

  // kept: what stood in the form is an entry now
  function clearForm(kept = true) {
    if (kept) form.dispatchEvent(new Event("kept"));
    form.reset();
    delete field("day").dataset.typed;
    delete form.dataset.version;
    field("code").value = newCode();
    clearErrors();
    dropDraft();
    freshDay();
  }

  // -- errors beside their fields --------------------------------------------------------------------------------------

  function clearErrors() {
    for (const said of form.querySelectorAll("[data-said]")) said.remove();
    for (const old of form.querySelectorAll(".summary")) old.remove();
    for (const wrong of form.querySelectorAll(".wrong")) wrong.classList.remove("wrong");
    for (const control of form.querySelectorAll("[aria-invalid]")) control.removeAttribute("aria-invalid");
  }

  function showErrors(errors, first) {
    clearErrors();
    const summary = document.createElement("div");
    summary.className = "summary stop";
    summary.setAttribute("role", "alert");
    summary.tabIndex = -1;
    summary.dataset.said = "";
    const line = summary.appendChild(document.createElement("p"));
    line.textContent = "■ " + (first || says.look);
    const items = summary.appendChild(document.createElement("ul"));
    for (const [name, messages] of errors) {
      const item = items.appendChild(document.createElement("li"));
      const found = name && field(name);
      const control = found && found.length !== undefined && !found.tagName ? found[0] : found;
      const place = control && control.closest(".field");
      if (!place) {
        item.textContent = messages.join(" ");
        continue;
      }
      const label = place.querySelector("label, legend");
      const link = item.appendChild(document.createElement("a"));
      link.href = "#" + (control.id || place.id);
      link.textContent = label ? label.firstChild.textContent.trim() : name;
      item.append(": " + messages.join(" "));
      place.classList.add("wrong");
      control.setAttribute("aria-invalid", "true");
      const said = place.appendChild(document.createElement("p"));
      said.className = "error";
      said.dataset.said = "";
      said.id = (control.id || name) + "_said";
      said.textContent = "■ " + messages.join(" ");
      control.setAttribute("aria-describedby", said.id);
      openRound(place);
    }
    form.prepend(summary);
    summary.scrollIntoView({ block: "start" });
    summary.focus({ preventScroll: true });
  }

  // the field of this form that a path of the server's answer is about
  function nameOf(path, body) {
    const [part, index, last] = path.split(".");
    const item = (body[part] || [])[index];
    if (part === "segments" && item) return "minutes-" + item.goal;
    if (part === "results" && item) return (last === "failed" ? "failed-" : "value-") + item.goal;
    if (part === "hand") return index || "discomfort";
    return { seconds: "total", begun: "start", body: "", code: "", version: "" }[part] ?? part;
  }

  // -- from the form to an entry -----------------------------------------------------------------------------------------

  // "12" minutes, "12:30", "1:05:00" -> seconds; null: nothing there; NaN: not to be read
  function seconds(text) {
    const parts = text.trim().split(":");
    if (parts[0] === "" && parts.length === 1) return null;
    if (parts.length > 3 || !parts.every((part) => /^[0-9]{1,5}$/.test(part))) return NaN;
    const [head, ...rest] = parts.map(Number);
    if (rest.some((n) => n > 59)) return NaN;
    if (!rest.length) return head * 60;
    return rest.length === 1 ? head * 60 + rest[0] : head * 3600 + rest[0] * 60 + rest[1];
  }

  function build() {
    const wrong = [];
    const named = values();
    const one = (name) => (named[name] || [""])[0];
    const body = { code: one("code"), segments: [], results: [], note: one("note") };
    const read = (name) => {
      const found = seconds(one(name));
      if (Number.isNaN(found)) wrong.push([name, [says.minutes]]);
      return found || null;
    };
    let sum = 0;
    for (const part of form.querySelectorAll("[data-part]")) {
      const goal = part.dataset.part;
      const spent = read("minutes-" + goal);
      if (spent) {
        body.segments.push({ goal: goal, seconds: spent });
        sum += spent;
      }
      const value = field("value-" + goal);
      const failed = (named["failed-" + goal] || []).map(Number);
      const tried = failed.length > 0 || Boolean(named["tried-" + goal]);
      if (value && value.type !== "hidden" && !value.checkValidity()) {
        wrong.push(["value-" + goal, [value.validationMessage]]);
      } else if (tried || (value && value.type !== "hidden" && value.value !== "")) {
        const result = { goal: goal, measure: part.dataset.measure };
        if (value.value !== "") result.value = Number(value.value);
        if (tried) result.failed = failed;
        body.results.push(result);
      }
    }
    const total = read("total");
    if (!wrong.some(([name]) => name === "total")) {
      if (total === null && !sum && !wrong.length) wrong.push(["total", [says.long]]);
      else if (total !== null && sum > total + 60) wrong.push(["total", [says.sum]]);
    }
    body.seconds = total === null ? null : Math.max(total, sum);
    if (form.dataset.version) body.version = Number(form.dataset.version);
    if (timer && timer.code() === body.code && timer.begun() !== null && !dayIsTyped() && !one("start")) {
      // timed here: the instant is known; whoever adds minutes by hand began as much earlier
      const played = (body.seconds || sum) * 1000;
      body.begun = new Date(Math.min(timer.begun(), Date.now() - played)).toISOString();
    } else {
      body.day = one("day") || null;
      if (one("start")) body.start = one("start").slice(0, 5);
    }
    const inWords = Boolean(form.querySelector("[data-words]"));
    if (one("tiring")) body.tiring = Number(one("tiring"));
    if (one("tiring") && inWords) body.tiring_in_words = true;
    const hand = {};
    for (const name of ["hand", "place", "sensation", "settles", "began"]) if (one(name)) hand[name] = one(name);
    for (const name of ["at_rest", "daily", "sudden", "tip_only"]) if (one(name)) hand[name] = one(name) === "yes";
    for (const name of ["discomfort", "rested"]) if (one(name)) hand[name] = Number(one(name));
    if (Object.keys(hand).length) {
      body.hand = hand;
      if (inWords) hand.in_words = true;
    }
    if (hand.discomfort || ["numb", "weak"].includes(hand.sensation)) {
      for (const name of ["hand", "place"]) if (!hand[name]) wrong.push([name, [says.where]]);
    } else if (hand.discomfort === undefined && Object.keys(hand).length) {
      wrong.push(["discomfort", [says.rate]]);
    }
    return { body: body, wrong: wrong, values: named };
  }

  async function submitted(event) {
    event.preventDefault();
    freshDay();
    if (timer && timer.code() && (timer.code() === field("code").value || !field("total").value)) {
      timer.stop();
      if (!field("total").value) timer.fill();
      if (timer.asks()) return;
    }
    const { body, wrong, values: typed } = build();
    if (wrong.length) return showErrors(wrong);
    const button = form.querySelector("button.main");
    button.disabled = true;
    const base = says.base;
    try {
      await queue.put({
        code: body.code,
        student: student,
        address: base + "entries/" + body.code + "/",
        token: base + "token/",
        body: body,
        values: typed,
      });
      // kept, or held by this page: the timer and the form are free for the next session
      if (!queue.isLoose(body.code) && timer) timer.clear(body.code);
      if (queue.isLoose(body.code)) keepDraft();
      else clearForm();
      touched = false;
      last = "";
      register();
      await go();
      // refused at once: back into the form, as long as nothing else was begun there
      const row = (await queue.all()).find((one) => one.code === body.code);
      if (row && row.state === "refused" && !touched) mend(row);
      else told.closest("section").scrollIntoView({ block: "nearest" });
    } finally {
      button.disabled = false;
    }
  }

  let touched = false; // something was typed since the form was sent

  // -- a wish for a word with the teacher: kept and sent like an entry, and no value goes with it -------------------

  const isWish = (row) => row.kind === "tell";

  async function wish(code) {
    await queue.put({
      kind: "tell",
      code: code,
      student: student,
      address: says.base + "tell/" + code + "/",
      token: says.base + "token/",
      body: {},
      values: {},
    });
    last = "";
    register();
    await go();
  }

  for (const asked of document.querySelectorAll("form.tell[data-wish]")) {
    asked.addEventListener("submit", async (event) => {
      event.preventDefault();
      const button = asked.querySelector("button");
      button.disabled = true;
      try {
        // one wish that waits says it all
        const rows = await queue.all();
        const waits = rows.some((row) => isWish(row) && row.student === student && row.state === "waiting");
        await (waits ? go() : wish(newCode()));
        told.closest("section").scrollIntoView({ block: "nearest" });
      } finally {
        button.disabled = false;
      }
    });
  }

  // -- what waits ----------------------------------------------------------------------------------------------------------

  const counted = (n, one, many) => (n === 1 ? one : many.replace("%s", n));

  let ended = false;
  let locked = false;
  let last = "";

  async function show() {
    const rows = (await queue.all()).filter((row) => row.student === student);
    const waiting = rows.filter((row) => row.state === "waiting");
    const entries = waiting.filter((row) => !isWish(row));
    const lines = [];
    if (last) lines.push(last);
    if (entries.length) lines.push(counted(entries.length, says.one, says.many));
    if (waiting.length > entries.length) lines.push(says.word);
    if (waiting.some((row) => queue.isLoose(row.code))) lines.push(says.loose);
    if (waiting.length && ended) lines.push(says.ended);
    if (waiting.length && locked) lines.push(says.locked);
    if (told.textContent !== lines.join(" ")) told.textContent = lines.join(" ");
    const refused = rows.filter((row) => row.state === "refused");
    list.replaceChildren(...refused.map(shownRefused));
    box.hidden = !lines.length && !refused.length;
  }

  function shownRefused(row) {
    const item = box.querySelector("template").content.cloneNode(true).firstElementChild;
    const all = Object.values(row.errors || {}).flat();
    item.querySelector("[data-what]").textContent = isWish(row) ? says.wordRefused : (row.values.day || [""])[0] + " · " + ((row.values.total || [""])[0] || "–");
    item.querySelector("[data-why]").textContent = all.length ? all.join(" ") : row.error;
    item.querySelector("[data-mend]").addEventListener("click", () => mend(row));
    item.querySelector("[data-drop]").addEventListener("click", async () => {
      await queue.drop(row);
      if (field("code").value === row.code) clearForm(false);
      show();
    });
    return item;
  }

  // A refused entry back in the form; it stays in the queue until it is sent again.
  async function mend(row) {
    if (isWish(row)) {
      // said anew, under a code of its own
      await queue.drop(row);
      return wish(newCode());
    }
    pour(row.values);
    // the code of somebody else's entry cannot be had
    field("code").value = row.taken ? newCode() : row.code;
    field("day").dataset.typed = "yes";
    if (row.body.begun) {
      const begun = new Date(row.body.begun);
      field("day").value = dayOf(begun);
      field("start").value = new Intl.DateTimeFormat("en-GB", { timeZone: says.zone, timeStyle: "short" }).format(begun);
    }
    delete form.dataset.version;
    if (row.stored) form.dataset.version = row.stored;
    const errors = Object.entries(row.errors || {}).map(([path, messages]) => [nameOf(path, row.body), messages]);
    showErrors(errors, row.error);
    keepDraft();
  }

  let wait = 5000;
  let next = null;

  async function go() {
    clearTimeout(next);
    next = null;
    const outcome = await queue.send();
    ended = outcome === "closed";
    locked = outcome === "locked";
    await show();
    const rows = await queue.all();
    if (!rows.some((row) => row.state === "waiting")) {
      wait = 5000;
      return;
    }
    next = setTimeout(go, wait);
    wait = Math.min(wait * 2, 300000);
  }

  function soon() {
    wait = 5000;
    go();
  }

  queue.listen((news, elsewhere) => {
    if (news.sent && news.student === student) {
      last = news.said;
      queue.freshen(says.base);
    }
    if (news.queued) last = "";
    // another tab has sent what stands in this one's form
    if (elsewhere && news.queued && news.queued === field("code").value) clearForm();
    if (timer && news.sent) timer.clear(news.sent);
    // an entry that there was no room for stood in the form until now
    if (news.sent && news.sent === field("code").value) clearForm();
    show();
  });

  // -- the service worker ----------------------------------------------------------------------------------------------------

  async function register() {
    if (!navigator.serviceWorker) return;
    try {
      const scope = says.scope;
      const found = await navigator.serviceWorker.register(says.worker, { scope: scope, updateViaCache: "none" });
      const ready = await navigator.serviceWorker.ready;
      ready.active.postMessage({ keep: location.pathname });
      // sent also when this tab is closed before the connection returns, where the browser can do that
      const rows = await queue.all();
      if (found.sync && rows.some((row) => row.state === "waiting")) await found.sync.register("entries");
    } catch (_) {
      // the page works without it, as long as there is a connection
    }
  }

  // -- at the start ----------------------------------------------------------------------------------------------------------

  field("code").value = newCode();
  try {
    const draft = JSON.parse(localStorage.getItem(draftKey));
    if (draft && draft.values && draft.values.code) {
      pour(draft.values);
      if (draft.version) form.dataset.version = draft.version;
      if (draft.values.day && draft.values.day[0] !== today()) field("day").dataset.typed = "yes";
    }
  } catch (_) {
    // nothing was left there, or nothing to be read
  }
  freshDay();
  // the tab was closed between keeping an entry and letting go of what it was made of
  queue.all().then((rows) => {
    for (const row of rows) {
      if (queue.isLoose(row.code)) continue;
      if (timer) timer.clear(row.code);
      if (row.state === "waiting" && row.code === field("code").value) clearForm();
    }
  });

  form.addEventListener("input", (event) => {
    if (event.target.name === "day") event.target.dataset.typed = "yes";
    touched = true;
    keepDraft();
  });
  form.addEventListener("change", keepDraft);
  form.addEventListener("submit", submitted);
  window.addEventListener("online", soon);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") soon();
  });
  go();
  register();
})();
