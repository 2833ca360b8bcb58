// The practice timer. It counts from wall-clock instants, so a sleeping phone is right when it wakes, and keeps its
// state in the browser at every change, so a reload or a crash loses nothing and two tabs show one session. The session
// has the id of the entry that it becomes; the state goes when that entry is kept (log.js) or stored.
"use strict";

self.ledgerline = self.ledgerline || {};

(function () {
  const box = document.querySelector("[data-timer]");
  const form = document.getElementById("log");
  if (!box || !form) return;

  const MINUTE = 60000;
  const REST = 5 * MINUTE; // a pause of this length is a rest: the next stretch begins anew
  const key = "ledgerline.timer." + box.dataset.timer;
  const goals = [...document.querySelectorAll("[data-goal]")].map((item) => ({
    code: item.dataset.goal,
    title: item.dataset.title,
    item: item,
  }));
  goals.push({ code: "", title: box.dataset.other, item: null });

  // code: the entry's; begun: when the session began; since: when the clock was last started, or null; spent:
  // milliseconds by goal; stretch: milliseconds since the last rest; paused: when it was last stopped
  const fresh = () => ({
    code: null, begun: null, since: null, current: goals[0].code, spent: {}, stretch: 0, paused: null,
  });

  function parse(text) {
    try {
      const kept = JSON.parse(text);
      if (kept && typeof kept.spent === "object" && kept.spent) return Object.assign(fresh(), kept);
    } catch (_) {
      // unreadable: begin anew
    }
    return fresh();
  }

  let loose = false; // the browser does not keep the state: the page's own is the only one

  function read() {
    if (loose) return state;
    try {
      return parse(localStorage.getItem(key));
    } catch (_) {
      loose = true;
      return state;
    }
  }

  function keep() {
    try {
      localStorage.setItem(key, JSON.stringify(state));
    } catch (_) {
      loose = true; // full or forbidden storage must not stop the practice
    }
  }

  let state = fresh();
  state = read();
  if (state.code && state.code === box.dataset.logged) {
    state = fresh();
    keep();
  }

  const at = (name) => box.querySelector("[data-" + name + "]");
  const start = at("start");

  function spent(code, now) {
    const running = state.since !== null && state.current === code ? now - state.since : 0;
    return (state.spent[code] || 0) + Math.max(0, running);
  }

  function whole(now) {
    return Object.keys(Object.assign({ [state.current]: 0 }, state.spent))
      .reduce((sum, code) => sum + spent(code, now), 0);
  }

  const running = (now) => (state.since === null ? 0 : Math.max(0, now - state.since));

  function settle(now) {
    if (state.since === null) return;
    state.spent[state.current] = spent(state.current, now);
    state.stretch += running(now);
    state.since = null;
    state.paused = now;
  }

  function text(ms) {
    const seconds = Math.floor(ms / 1000);
    const two = (n) => String(n).padStart(2, "0");
    const hours = Math.floor(seconds / 3600);
    const rest = two(Math.floor(seconds / 60) % 60) + ":" + two(seconds % 60);
    return hours ? hours + ":" + rest : rest;
  }

  // The phone's clock was set back while this page ran: the instants move with it. (Set forward cannot be told from
  // a sleep.)
  let wall = Date.now();
  let steady = performance.now();
  function follow() {
    const back = Date.now() - wall - (performance.now() - steady);
    wall = Date.now();
    steady = performance.now();
    if (back > -2000 || state.since === null) return;
    state.since += back;
    if (state.begun !== null) state.begun += back;
    keep();
  }

  function draw() {
    follow();
    const now = Date.now();
    const goal = goals.find((one) => one.code === state.current) || goals[0];
    at("now").textContent = goal.title;
    at("clock").textContent = text(spent(state.current, now));
    at("whole").textContent = text(whole(now)) + " / " + text(box.dataset.plan * MINUTE);
    start.textContent = state.since === null ? box.dataset.paused : box.dataset.running;
    for (const one of goals) if (one.item) one.item.classList.toggle("now", one.code === state.current);
    at("break-note").hidden = state.since === null || state.stretch + running(now) < box.dataset.break * MINUTE;
    at("most-note").hidden = state.code === null || box.dataset.done * MINUTE + whole(now) < box.dataset.most * MINUTE;
    stayAwake();
  }

  // the screen stays on while the clock runs, where the browser allows it
  let awake = null;
  let asking = false;
  async function stayAwake() {
    if (!navigator.wakeLock || asking) return;
    const wanted = state.since !== null && document.visibilityState === "visible";
    if (wanted === (awake !== null && !awake.released)) return;
    asking = true;
    try {
      if (wanted) awake = await navigator.wakeLock.request("screen");
      else {
        await awake.release();
        awake = null;
      }
    } catch (_) {
      awake = null; // refused, as in battery saving: asked again at the next change of the page
      return;
    } finally {
      asking = wanted && awake === null;
    }
  }

  function act(change) {
    return function () {
      state = read();
      change(Date.now());
      keep();
      asking = false;
      draw();
    };
  }

  function put(name, value) {
    const field = form.elements[name];
    if (!field || field.value === value) return;
    field.value = value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function fillIn() {
    const now = Date.now();
    if (state.code === null) return;
    form.elements.code.value = state.code;
    for (const goal of goals) {
      const ms = spent(goal.code, now);
      if (goal.code && ms >= 1000) put("minutes-" + goal.code, text(ms));
    }
    if (whole(now) >= 1000) put("total", text(whole(now)));
    // the start is the server's to place, or goes with the entry as an instant (log.js)
  }

  start.addEventListener("click", act((now) => {
    at("rested").hidden = true;
    if (state.since !== null) return settle(now);
    if (!goals.some((goal) => goal.code === state.current)) state.current = goals[0].code;
    if (state.begun === null) state.begun = now;
    if (state.code === null) state.code = form.elements.code.value;
    if (state.paused !== null && now - state.paused >= REST) state.stretch = 0;
    state.since = now;
  }));

  at("next").addEventListener("click", act((now) => {
    const goesOn = state.since !== null;
    settle(now);
    const index = goals.findIndex((goal) => goal.code === state.current);
    state.current = goals[(index + 1) % goals.length].code;
    if (goesOn) state.since = now;
  }));

  // what is timed on a page of its own (the root drill) is not timed here as well
  for (const link of document.querySelectorAll("[data-timed-there]")) link.addEventListener("click", act(settle));

  at("finish").addEventListener("click", act((now) => {
    settle(now);
    fillIn();
    form.scrollIntoView({ block: "start" });
    const first = form.querySelector(".part input, [name=total]");
    if (first) first.focus({ preventScroll: true });
  }));

  at("hurt").addEventListener("click", act((now) => {
    settle(now);
    fillIn();
    at("rested").hidden = false;
    const more = document.querySelector("#hand details");
    if (more) more.open = true;
  }));

  self.ledgerline.timer = {
    code: () => state.code,
    begun: () => state.begun,
    stop: act(settle),
    fill: fillIn,
    // lets go of the session of this entry
    clear(code) {
      state = read();
      if (state.code !== code) return;
      state = fresh();
      keep();
      draw();
    },
  };

  window.addEventListener("storage", (event) => {
    if (event.key !== key && event.key !== null) return;
    state = parse(event.newValue);
    draw();
  });
  document.addEventListener("visibilitychange", () => {
    asking = false;
    draw();
  });

  box.hidden = false;
  draw();
  setInterval(draw, 500);
})();
