// The hand's answer, first and alone. What was said of a hand is answered from the page at once (hand-rules.js), and by
// the server when it has it: that one knows the notes before, may only be stricter, and then stands in its place. Until a
// page is shown that was drawn after it, the answer is kept in the browser, so that no reload, tab or lost connection
// brings an older page back in front of it.
"use strict";

(function () {
  const box = document.querySelector("[data-answered]");
  const { rules, queue } = self.ledgerline;
  if (!box || !rules) return;

  const main = box.closest("main");
  const slot = box.querySelector("[data-slot]");
  const undo = box.querySelector("[data-undo]");
  const student = box.dataset.answered;
  const keeps = Boolean(queue) && "keeps" in box.dataset; // answers are kept on this device, and sent
  const key = "ledgerline.hand." + student;
  const drawn = Number(box.dataset.made); // when this page was drawn, by the server's clock

  // code: of the note or of the entry that it stands in; row, where: of the device's own answer; html, level: of the
  // answer that is shown, html empty for the device's own; page: when the page was drawn on which it was given; at: when
  // the server answered, null until then; next: what the server says happens next, where the device's own answer stays
  let record = null;

  function read() {
    try {
      const found = JSON.parse(localStorage.getItem(key));
      return found && typeof found === "object" ? found : null;
    } catch (_) {
      return null; // nothing is there, or nothing to be read
    }
  }

  function keep() {
    try {
      if (record) localStorage.setItem(key, JSON.stringify(record));
      else localStorage.removeItem(key);
    } catch (_) {
      // no room: it stands as long as the page does
    }
  }

  const inside = (html) => new DOMParser().parseFromString(html, "text/html").body;

  // -- showing -----------------------------------------------------------------------------------------------------------

  function draw() {
    if (record.html) {
      slot.replaceChildren(...inside(record.html).childNodes);
      return;
    }
    const text = [...document.querySelectorAll(`template[data-answer="${record.row}"]`)];
    const template = text.find((one) => one.dataset.where === record.where) || text[0];
    if (!template) return;
    slot.replaceChildren(template.content.cloneNode(true));
    const line = slot.querySelector("[data-head]");
    const head = document.createElement("h1");
    head.append(...line.childNodes);
    line.replaceWith(head);
    // it was answered meanwhile, and more mildly: what comes next is the server's to say, what to do stays
    const next = slot.querySelector("[data-next]");
    if (record.at === null || !next) return;
    if (record.next) next.replaceWith(...inside(record.next).childNodes);
    else next.remove();
  }

  // loud: it is new, and is looked at first; else who has gone on from it is not called back
  function show(loud) {
    draw();
    box.hidden = false;
    box.dataset.level = record.level;
    if (loud || !hasGoneOn()) {
      main.classList.add("answering");
      main.classList.remove("answered");
    }
    const { timer } = self.ledgerline;
    if (timer && timer.runs()) timer.stop();
    showUndo();
    const head = slot.querySelector("h1");
    head.tabIndex = -1;
    if (!loud) return;
    head.focus({ preventScroll: true });
    scrollTo(0, 0);
  }

  // The page goes on under the answer, without what was drawn before it.
  function goOn() {
    main.classList.replace("answering", "answered");
    scrollTo(0, 0);
  }

  const hasGoneOn = () => main.classList.contains("answered");

  function gone() {
    record = null;
    box.hidden = true;
    slot.replaceChildren();
    main.classList.remove("answering", "answered");
  }

  async function showUndo() {
    const rows = queue ? await queue.all() : [];
    undo.hidden = !record || !rows.some((row) => row.code === record.code && row.state === "waiting");
  }

  // The device's answer as it stands above what is still missing in a form; null for an answer that can wait.
  function warning(note) {
    const row = rules.row(note);
    if (!row || rules.rank(row.level) < rules.rank("pause")) return null;
    const text = rules.text(row, note).content;
    const found = document.createElement("aside");
    found.className = "advice stop";
    const mark = found.appendChild(document.createElement("p"));
    mark.append(text.querySelector(".m").cloneNode(true), " ", document.createElement("strong"));
    mark.lastChild.textContent = text.querySelector("[data-words]").textContent.trim();
    found.appendChild(document.createElement("p")).textContent = text.querySelector("[data-line]").textContent.trim();
    return found;
  }

  // -- the answers -------------------------------------------------------------------------------------------------------

  // What the device answers to a note; false where it asks for nothing. An answer that stands is not made milder.
  function give(note, code) {
    const row = rules.row(note);
    if (!row) return false;
    const waits = record || read();
    if (waits && rules.rank(waits.level) > rules.rank(row.level)) {
      record = waits;
    } else {
      record = { code: code, row: row.code, where: rules.where(row, note), level: row.level, html: "", page: drawn, at: null, next: "" };
    }
    keep();
    show(true);
    return true;
  }

  // What the server answered. said: {code, html, level, at}; loud: it has only now come.
  function take(said, loud) {
    const stands = record || read();
    const level = said.html ? said.level : "nothing";
    if (!said.html && !stands) return;
    const shown = record !== null && !box.hidden;
    if (stands && rules.rank(level) < rules.rank(stands.level)) {
      record = stands;
      if (said.code === record.code) {
        const next = said.html ? inside(said.html).querySelector("[data-next]") : null;
        Object.assign(record, { at: said.at, next: next ? next.outerHTML : "" });
      }
      keep();
      if (said.code === record.code && hasGoneOn()) location.reload();
      else show(loud && !shown);
      return;
    }
    const stricter = !stands || rules.rank(level) > rules.rank(stands.level);
    const first = stands || { row: "", where: "", page: drawn };
    record = Object.assign({}, first, { code: said.code, html: said.html, level: level, at: said.at, next: "" });
    keep();
    // who has gone on gets the page that is drawn from it; what was typed and timed is kept
    if (!stricter && hasGoneOn()) location.reload();
    else show(loud && (stricter || !shown));
  }

  // Whether this page was drawn after the server had answered: then it speaks for itself.
  const isPast = (one) => one.at !== null && drawn > one.at;

  function end() {
    gone();
    keep();
  }

  async function start() {
    record = read();
    if (record && isPast(record)) end();
    else if (record) show(false);
    // sent while no page listened
    const stored = await queue.answer(student);
    if (stored && drawn > stored.at) {
      await queue.forgetAnswer(student);
      if (record && record.at === null && record.code === stored.code) end();
    } else if (stored) {
      take(stored, false);
    }
    if (!record || record.at !== null) return;
    // thrown away before it went out: the page counts again
    const rows = await queue.all();
    if (!rows.some((row) => row.code === record.code) && drawn > record.page) end();
  }

  // -- ways on ------------------------------------------------------------------------------------------------------------

  const on = box.querySelector("[data-on]");
  on.addEventListener("click", (event) => {
    // this very page, and without a connection or before the server's answer: the one that is kept is older than ours
    const isHere = new URL(on.href).pathname === location.pathname;
    if (!keeps || !isHere || (record && record.at !== null && navigator.onLine)) return;
    event.preventDefault();
    goOn();
  });

  // An entry as it would be, had nothing been said of the hand.
  function withoutHand(row) {
    const { hand, ...body } = row.body;
    const asked = new Set([...document.querySelectorAll("#hand [name]")].map((control) => control.name));
    asked.delete("tiring");
    const values = Object.fromEntries(Object.entries(row.values).filter(([name]) => !asked.has(name)));
    return { body: body, values: values };
  }

  // Nothing has gone out yet: a wrong tap is taken back on the phone alone.
  undo.addEventListener("click", async () => {
    const row = (await queue.all()).find((one) => one.code === record.code && one.state === "waiting");
    if (!row) return showUndo();
    if (row.kind === "hand") await queue.drop(row);
    else await queue.put(Object.assign({}, row, withoutHand(row), { made: Date.now() + Math.random() }));
    end();
  });

  if (keeps) {
    queue.listen((news) => {
      if (news.student !== student) return;
      if (news.sent && (news.html || news.hand)) take({ code: news.sent, html: news.html, level: news.level, at: news.at }, true);
      else if (record && !box.hidden) showUndo();
    });
    window.addEventListener("storage", (event) => {
      if (event.key !== key || !event.newValue) return;
      const shown = record;
      record = read();
      if (record) show(!shown);
    });
  }

  // Without consent: answered here, and nothing of it is kept or sent.
  const asked = document.querySelector("form[data-ask]");
  if (asked) {
    asked.addEventListener("submit", (event) => {
      event.preventDefault();
      const note = rules.read(asked) || {};
      const row = rules.row(note);
      const nothing = asked.querySelector("[data-nothing]");
      nothing.hidden = Boolean(row);
      nothing.textContent = row ? "" : nothing.dataset.nothing;
      if (!row) return;
      record = { code: "", row: row.code, where: rules.where(row, note), level: row.level, html: "", page: drawn, at: null, next: "" };
      show(true);
    });
  }

  self.ledgerline.answer = {
    give: give,
    warning: warning,
    // whether an answer stands in front of the page
    stands: () => record !== null,
    goOn: goOn,
  };
  if (keeps) start();
  else keep(); // what an earlier consent left here
})();
