// Counts changes: start, one tap for each arrival, and it stops by itself after half a minute (doubled) or a whole
// one, measured from wall-clock instants, so that a reload or a locked screen changes nothing. The card of a goal and
// its part of the log show one and the same count. The day's first try counts: a repeat takes its place only by a tap.
"use strict";

(function () {
  const form = document.getElementById("log");
  const owner = document.querySelector("[data-queue]");
  const boxes = [...document.querySelectorAll("[data-counter]")].filter((box) => field(box.dataset.counter));
  if (!form || !owner || !boxes.length) return;

  const key = "ledgerline.counter." + owner.dataset.queue;
  const NEARLY = 10; // s left, said once
  const STILL = 1500; // ms after the end during which the button stays, so that one tap too many hits nothing else

  // run: the count that goes on: goal, began (instant), length (s), count; done: the last count of each goal; firsts:
  // the first try of a day that went into an entry from this phone
  const fresh = () => ({ run: null, done: {}, firsts: {} });
  let state = fresh();
  let loose = false;
  let ended = { goal: "", at: 0 };
  let timer = null;

  function field(goal) {
    return form && form.elements["value-" + goal];
  }

  function parse(text) {
    try {
      const kept = JSON.parse(text);
      if (kept && kept.done && typeof kept.done === "object") return Object.assign(fresh(), kept);
    } catch (_) {
      // unreadable: begin anew
    }
    return fresh();
  }

  function read() {
    if (loose) return;
    try {
      state = parse(localStorage.getItem(key));
    } catch (_) {
      loose = true;
    }
  }

  function keep() {
    try {
      localStorage.setItem(key, JSON.stringify(state));
    } catch (_) {
      loose = true; // no room: the count lives as long as the page
    }
  }

  const left = (run) => run.length - (Date.now() - run.began) / 1000;

  // a clock that was set back while this page ran would make a count that never ends
  let wall = Date.now();
  let steady = performance.now();
  function follow() {
    const back = Date.now() - wall - (performance.now() - steady);
    wall = Date.now();
    steady = performance.now();
    if (back > -2000 || !state.run) return;
    state.run.began += back;
    keep();
  }

  function put(goal, value) {
    const into = field(goal);
    into.value = value;
    into.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function finish() {
    const { goal, began, length, count } = state.run;
    state.run = null;
    state.done[goal] = { id: began, count: count, length: length, value: (count * 60) / length };
    ended = { goal: goal, at: Date.now() };
    keep();
    if (field(goal).value === "") put(goal, state.done[goal].value);
    // felt with both hands on the guitar; a page that nobody has touched yet may not
    if (navigator.vibrate && navigator.userActivation && navigator.userActivation.hasBeenActive) navigator.vibrate(300);
  }

  const today = () => new Intl.DateTimeFormat("en-CA", { timeZone: owner.dataset.zone }).format(new Date());

  // the day's first try where one is logged already: as the studio knows it, or as it was sent from this phone
  function logged(box) {
    if (box.dataset.first && box.dataset.firstDay === today()) return box.dataset.first;
    const sent = state.firsts[box.dataset.counter];
    return sent && sent.day === today() ? sent.value : "";
  }

  const fill = (text, ...values) => values.reduce((line, value) => line.replace("%s", value), text);

  function words(box, goal) {
    const says = box.dataset;
    if (state.run && state.run.goal === goal) {
      const begun = fill(says.begun, state.run.length);
      return left(state.run) > NEARLY ? begun : fill(says.nearly, NEARLY);
    }
    const done = state.done[goal];
    if (!done) return "";
    const lines = [fill(done.length === 30 ? says.doubled : says.full, done.count, done.value)];
    const stands = field(goal).value;
    const first = logged(box);
    if (first) lines.push(fill(says.logged, first));
    else if (stands !== "" && Number(stands) !== done.value) lines.push(fill(says.kept, stands));
    else if (stands !== "") lines.push(says.taken);
    return lines.join(" ");
  }

  function draw() {
    follow();
    if (state.run && left(state.run) <= 0) finish();
    for (const box of boxes) {
      const goal = box.dataset.counter;
      const at = (name) => box.querySelector("[data-" + name + "]");
      const mine = state.run !== null && state.run.goal === goal;
      const still = !mine && ended.goal === goal && Date.now() - ended.at < STILL;
      const tap = at("arrival");
      const focused = box.contains(document.activeElement);
      at("idle").hidden = mine || still;
      at("counting").hidden = !(mine || still);
      for (const start of box.querySelectorAll("[data-length]")) start.disabled = state.run !== null && !mine;
      tap.setAttribute("aria-disabled", String(still));
      at("give-up").hidden = still;
      const shown = mine ? state.run : state.done[goal];
      at("count").textContent = shown ? shown.count : 0;
      at("left").textContent = mine ? fill(box.dataset.left, Math.ceil(left(state.run))) : box.dataset.over;
      const said = at("result");
      const line = words(box, goal);
      if (said.textContent !== line) said.textContent = line;
      const done = state.done[goal];
      const other = at("replace");
      other.hidden = mine || still || !done || field(goal).value === String(done.value);
      if (done) other.textContent = fill(field(goal).value === "" ? box.dataset.put : box.dataset.instead, done.value);
      // what had the focus is gone: what was counted has it now
      if (focused && !box.contains(document.activeElement)) said.focus();
      else if (focused && document.activeElement.closest("[hidden]")) said.focus();
    }
    const goesOn = state.run !== null || Date.now() - ended.at < STILL;
    if (goesOn && timer === null) timer = setInterval(draw, 200);
    if (!goesOn && timer !== null) {
      clearInterval(timer);
      timer = null;
    }
  }

  for (const box of boxes) {
    const goal = box.dataset.counter;
    const tap = box.querySelector("[data-arrival]");
    for (const start of box.querySelectorAll("[data-length]")) {
      start.addEventListener("click", () => {
        read();
        if (state.run && left(state.run) > 0) return draw();
        state.run = { goal: goal, began: Date.now(), length: Number(start.dataset.length), count: 0 };
        keep();
        draw();
        tap.focus();
      });
    }
    tap.addEventListener("click", () => {
      read();
      if (state.run && state.run.goal === goal && left(state.run) > 0) {
        state.run.count += 1;
        keep();
      }
      draw();
    });
    // a key that is held down is one arrival
    tap.addEventListener("keydown", (event) => event.repeat && event.preventDefault());
    box.querySelector("[data-give-up]").addEventListener("click", () => {
      read();
      state.run = null;
      keep();
      draw();
    });
    box.querySelector("[data-replace]").addEventListener("click", () => {
      put(goal, state.done[goal].value);
      draw();
    });
    box.hidden = false;
  }

  form.addEventListener("input", (event) => event.target.name && event.target.name.startsWith("value-") && draw());
  form.addEventListener("kept", () => {
    read();
    for (const box of boxes) {
      const goal = box.dataset.counter;
      const value = field(goal).value;
      if (value === "" || form.elements.day.value !== today() || logged(box)) continue;
      state.firsts[goal] = { day: today(), value: value };
    }
    keep();
  });
  // the form is free for the next session: what was counted went with the last
  form.addEventListener("reset", () => setTimeout(() => {
    read();
    state.done = {};
    keep();
    draw();
  }));
  window.addEventListener("storage", (event) => {
    if (event.key !== key && event.key !== null) return;
    state = parse(event.newValue);
    for (const [goal, done] of Object.entries(state.done)) {
      // counted in another tab, just now
      if (field(goal) && field(goal).value === "" && Date.now() - done.id < (done.length + 5) * 1000) put(goal, done.value);
    }
    draw();
  });
  document.addEventListener("visibilitychange", draw);
  window.addEventListener("pageshow", draw);

  read();
  if (state.run && !field(state.run.goal)) state.run = null; // the goal was set aside meanwhile
  draw();
})();
