// Logs a session without losing it: the form becomes an entry, or a note about the hand alone, with an id of its own, which
// waits in the queue (queue.js) until the server has it, and what was typed is kept until then. What was said of a hand is
// answered first (answer.js). Without this script the plain form logs.
"use strict";

(function () {
  const form = document.getElementById("log");
  const box = document.querySelector("[data-queue]");
  const { queue, timer, answer, entry } = self.ledgerline;
  if (!form || !box || !queue || !self.indexedDB || !self.crypto.getRandomValues) return;

  const says = box.dataset;
  const student = says.queue;
  const told = box.querySelector("[data-told]");
  const list = box.querySelector("[data-refused]");
  const draftKey = "ledgerline.draft." + student;
  const { field, values, pour, clearErrors, showErrors } = self.ledgerline.form(form, says.look);
  const newCode = entry.newCode;

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

  // what was said of the hand has gone on its way by itself; the rest stays for its own minutes
  function clearHand() {
    for (const control of form.querySelectorAll("#hand input, #hand select")) {
      if (control.name === "tiring") continue;
      if (control.type === "checkbox" || control.type === "radio") control.checked = false;
      else control.value = "";
    }
    form.dispatchEvent(new Event("change", { bubbles: true }));
    keepDraft();
  }

  // What the form says. While a stretch of the timer waits for an answer, the minutes wait for it; the hand does not.
  function build() {
    const named = values();
    const handOnly = Boolean(timer && timer.held() && form.querySelector("#hand") && self.ledgerline.rules.read(form));
    return Object.assign(entry.read(form, named, says, timer, dayIsTyped(), handOnly), { named: named, handOnly: handOnly });
  }

  function rowOf(built) {
    const common = { student: student, token: says.base + "token/", values: built.named };
    if (!built.alone) {
      const { code } = built.body;
      return Object.assign(common, { code: code, address: says.base + "entries/" + code + "/", body: built.body });
    }
    // a note has an id of its own: the form's belongs to the session that is still to come
    const code = (mending && !mending.taken && mending.code) || newCode();
    return Object.assign(common, { kind: "hand", code: code, address: says.base + "hand/" + code + "/", body: built.body });
  }

  async function submitted(event) {
    event.preventDefault();
    freshDay();
    if (timer && timer.code() && field("total") && (timer.code() === field("code").value || !field("total").value)) {
      timer.stop();
      if (!field("total").value) timer.fill();
    }
    const built = build();
    if (timer && !built.handOnly && timer.code() === field("code").value && timer.asks()) return;
    if (built.wrong.length) return showErrors(built.wrong, "", answer && built.hand && answer.warning(built.hand));
    const button = form.querySelector("button.main");
    button.disabled = true;
    const row = rowOf(built);
    try {
      if (answer && built.hand) answer.give(built.hand, row.code);
      await queue.put(row);
      if (mending && mending.code !== row.code && built.alone) await queue.drop(mending);
      mending = null;
      // kept, or held by this page: the timer and the form are free for the next session
      if (!queue.isLoose(row.code) && timer) timer.clear(row.code);
      if (built.handOnly) clearHand();
      else if (built.alone) clearForm(false);
      else if (queue.isLoose(row.code)) keepDraft();
      else clearForm();
      touched = false;
      last = "";
      register();
      await go();
      // refused at once: back into the form, as long as nothing else was begun there and no answer stands before it
      const kept = (await queue.all()).find((one) => one.code === row.code);
      if (kept && kept.state === "refused" && !touched && !isAnswered()) mend(kept);
      else if (!isAnswered()) told.closest("section").scrollIntoView({ block: "nearest" });
    } finally {
      button.disabled = false;
    }
  }

  const isAnswered = () => Boolean(answer && answer.stands());

  let touched = false; // something was typed since the form was sent
  let mending = null; // the refused note about a hand that stands in the form

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
    const entries = waiting.filter((row) => !row.kind);
    const lines = [];
    if (last) lines.push(last);
    if (entries.length) lines.push(counted(entries.length, says.one, says.many));
    if (waiting.some((row) => row.kind === "hand")) lines.push(says.note);
    if (waiting.some(isWish)) lines.push(says.word);
    if (waiting.some((row) => queue.isLoose(row.code))) lines.push(says.loose);
    if (waiting.length && ended) lines.push(says.ended);
    if (waiting.length && locked) lines.push(says.locked);
    if (told.textContent !== lines.join(" ")) told.textContent = lines.join(" ");
    const refused = rows.filter((row) => row.state === "refused");
    list.replaceChildren(...refused.map(shownRefused));
    box.hidden = !lines.length && !refused.length;
    // what waits is told beside an answer, too; what was logged is not
    box.toggleAttribute("data-waits", waiting.length > 0 || refused.length > 0);
  }

  function shownRefused(row) {
    const item = box.querySelector("template").content.cloneNode(true).firstElementChild;
    const all = Object.values(row.errors || {}).flat();
    item.querySelector("[data-what]").textContent = whatOf(row);
    item.querySelector("[data-why]").textContent = all.length ? all.join(" ") : row.error;
    item.querySelector("[data-mend]").addEventListener("click", () => mend(row));
    item.querySelector("[data-drop]").addEventListener("click", async () => {
      await queue.drop(row);
      if (field("code").value === row.code) clearForm(false);
      show();
    });
    return item;
  }

  function whatOf(row) {
    if (isWish(row)) return says.wordRefused;
    const day = (row.values.day || [""])[0];
    return row.kind === "hand" ? says.noteRefused + " · " + day : day + " · " + ((row.values.total || [""])[0] || "–");
  }

  // A refused entry or note back in the form; it stays in the queue until it is sent again.
  async function mend(row) {
    if (isWish(row)) {
      // said anew, under a code of its own
      await queue.drop(row);
      return wish(newCode());
    }
    if (isAnswered()) answer.goOn();
    pour(row.values);
    mending = row.kind === "hand" ? row : null;
    // the code of somebody else's entry cannot be had
    field("code").value = row.taken || mending ? newCode() : row.code;
    field("day").dataset.typed = "yes";
    if (row.body.begun) {
      const begun = new Date(row.body.begun);
      field("day").value = dayOf(begun);
      field("start").value = new Intl.DateTimeFormat("en-GB", { timeZone: says.zone, timeStyle: "short" }).format(begun);
    }
    delete form.dataset.version;
    if (row.stored) form.dataset.version = row.stored;
    const errors = Object.entries(row.errors || {}).map(([path, messages]) => [entry.nameOf(path, row.body), messages]);
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
      // what an answer stands before is drawn anew when somebody goes on from it
      if (!isAnswered()) queue.freshen(says.base);
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
      const scope = says.worker.replace(/[^/]*$/, "");
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
