// The practice timer. It counts from wall-clock instants, so a sleeping phone is right when it wakes, and keeps its
// state in the browser at every change, so a reload loses nothing. "Finish" fills in the form below; the state goes
// only when the page comes back and says that this form was stored.
"use strict";

(function () {
  const box = document.querySelector("[data-timer]");
  const form = document.getElementById("log");
  if (!box || !form) return;

  const key = "ledgerline.timer." + box.dataset.timer;
  const goals = [...document.querySelectorAll("[data-goal]")].map((item) => ({
    code: item.dataset.goal,
    title: item.dataset.title,
    item: item,
  }));
  goals.push({ code: "", title: box.dataset.other, item: null });

  // begun: when the session began; since: when the clock was last started, or null; spent: milliseconds by goal
  const fresh = () => ({ begun: null, since: null, current: goals[0].code, spent: {}, sent: null });
  let state = fresh();
  try {
    const kept = JSON.parse(localStorage.getItem(key));
    if (kept && kept.spent) state = Object.assign(fresh(), kept);
  } catch (_) {
    // storage is off or unreadable: the timer still runs while the page is open
  }
  if (state.sent && state.sent === box.dataset.logged) state = fresh();
  if (!goals.some((goal) => goal.code === state.current)) state.current = goals[0].code;

  const at = (name) => box.querySelector("[data-" + name + "]");
  const clock = at("clock");
  const start = at("start");

  function keep() {
    try {
      localStorage.setItem(key, JSON.stringify(state));
    } catch (_) {
      // full or forbidden storage must not stop the practice
    }
  }

  function spent(code, now) {
    const running = state.since !== null && state.current === code ? now - state.since : 0;
    return (state.spent[code] || 0) + Math.max(0, running);
  }

  function whole(now) {
    return Object.keys(Object.assign({ [state.current]: 0 }, state.spent))
      .reduce((sum, code) => sum + spent(code, now), 0);
  }

  function settle(now) {
    if (state.since === null) return;
    state.spent[state.current] = spent(state.current, now);
    state.since = null;
  }

  function text(ms) {
    const seconds = Math.floor(ms / 1000);
    const two = (n) => String(n).padStart(2, "0");
    const minutes = Math.floor(seconds / 60);
    return two(minutes) + ":" + two(seconds % 60);
  }

  function draw() {
    const now = Date.now();
    const goal = goals.find((one) => one.code === state.current);
    at("now").textContent = goal.title;
    clock.textContent = text(spent(state.current, now));
    at("whole").textContent = text(whole(now)) + " / " + box.dataset.plan + ":00";
    start.textContent = state.since === null ? box.dataset.paused : box.dataset.running;
    for (const one of goals) if (one.item) one.item.classList.toggle("now", one.code === state.current);
  }

  function act(change) {
    return function () {
      change(Date.now());
      keep();
      draw();
    };
  }

  function put(name, value) {
    const field = form.elements[name];
    if (field && value) field.value = value;
  }

  start.addEventListener("click", act((now) => {
    if (state.since !== null) return settle(now);
    if (state.begun === null) state.begun = now;
    state.since = now;
  }));

  at("next").addEventListener("click", act((now) => {
    const running = state.since !== null;
    settle(now);
    const index = goals.findIndex((goal) => goal.code === state.current);
    state.current = goals[(index + 1) % goals.length].code;
    if (running) state.since = now;
  }));

  function fillIn() {
    const now = Date.now();
    for (const goal of goals) {
      const ms = spent(goal.code, now);
      if (goal.code && ms >= 1000) put("minutes-" + goal.code, text(ms));
    }
    if (whole(now) >= 1000) put("total", text(whole(now)));
    // day and start are the studio's, so they are only filled where the phone's clock stands in the same zone;
    // the server puts a session without a start where it fits
  }

  at("finish").addEventListener("click", act((now) => {
    settle(now);
    fillIn();
    form.scrollIntoView({ block: "start" });
    const first = form.querySelector("input:not([type=hidden])");
    if (first) first.focus({ preventScroll: true });
  }));

  at("hurt").addEventListener("click", act((now) => {
    settle(now);
    fillIn();
  }));

  form.addEventListener("submit", () => {
    settle(Date.now());
    state.sent = form.elements.code.value;
    keep();
  });

  box.hidden = false;
  draw();
  setInterval(draw, 500);
  document.addEventListener("visibilitychange", draw);
})();
