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
  // A stretch with the page closed or the phone asleep is asked about when it is longer than LONG, or longer than
  // SHORT and past the day's most [derived: nobody plays on for so long without a look, or has to be told to stop].
  const LONG = 45 * MINUTE;
  const SHORT = 10 * MINUTE;
  const BEAT = 15000; // how often it is kept that the page is looked at
  const key = "ledgerline.timer." + box.dataset.timer;
  const goals = [...document.querySelectorAll("[data-goal]")].map((item) => ({
    code: item.dataset.goal,
    title: item.dataset.title,
    item: item,
  }));
  goals.push({ code: "", title: box.dataset.other, item: null });

  // code: the entry's; begun: when the session began; since: when the clock was last started, or null; spent:
  // milliseconds by goal; stretch: milliseconds since the last rest; paused: when it was last stopped; seen: when the
  // page was last looked at while the clock ran; held: [{ goal, from, to }], stretches that nobody has spoken for yet
  const fresh = () => ({
    code: null, begun: null, since: null, current: goals[0].code, spent: {}, stretch: 0, paused: null, seen: null, held: [],
  });

  function parse(text) {
    try {
      const kept = JSON.parse(text);
      if (kept && typeof kept.spent === "object" && kept.spent) {
        const whole = Object.assign(fresh(), kept);
        return Object.assign(whole, { held: Array.isArray(whole.held) ? whole.held : [] });
      }
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
  // the way to stop and what asks to rest: in view wherever the page is while the clock runs, so outside of the box
  const always = document.querySelector("[data-always]");
  const hurt = document.querySelector("[data-hurt]");
  const rested = document.querySelector("[data-rested]");

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
    if (state.seen !== null) state.seen += back;
    keep();
  }

  // The clock ran while nobody looked. Where that was long, the stretch is set apart until somebody says what it was.
  let beat = 0; // when `seen` was last kept
  function look(now) {
    if (document.visibilityState !== "visible" || state.since === null) return;
    if (now - beat >= BEAT) readSeen(); // another tab may have been looked at
    if (state.since === null) return;
    const from = Math.max(state.since, state.seen || 0);
    const away = now - from;
    const most = (box.dataset.most - box.dataset.done) * MINUTE;
    const past = whole(now) > most && whole(now) - away <= most;
    const long = away > LONG || (away > SHORT && past);
    if (long) {
      settle(from);
      state.held = state.held.concat([{ goal: state.current, from: from, to: now }]);
    }
    state.seen = now;
    if (!long && now - beat < BEAT) return;
    beat = now;
    keep();
  }

  function readSeen() {
    const seen = state.seen || 0;
    state = read();
    state.seen = Math.max(seen, state.seen || 0);
  }

  function keepSeen() {
    if (state.since === null) return;
    readSeen();
    if (state.since !== null) keep();
  }

  // -- what nobody has spoken for ---------------------------------------------------------------------------------------

  const away = box.querySelector("[data-away]");

  function showAway() {
    const one = state.held[0];
    away.hidden = !one;
    if (!one || away.dataset.shown === String(one.from)) return;
    away.dataset.shown = one.from;
    const minutes = Math.max(1, Math.round((one.to - one.from) / MINUTE));
    for (const line of away.querySelectorAll("[data-words]")) line.textContent = line.dataset.words.replace("%s", minutes);
    const some = away.querySelector("[data-some]");
    some.value = "";
    some.max = minutes;
    away.querySelector("[data-wrong]").hidden = true;
  }

  // ms of the stretch that were played; goesOn: the clock runs on from its end
  function answer(ms, goesOn) {
    state = read();
    const [one, ...rest] = state.held;
    if (!one) return draw();
    const now = Date.now();
    state.held = rest;
    state.spent[one.goal] = (state.spent[one.goal] || 0) + ms;
    if (goesOn) {
      state.stretch += ms;
      // nothing else was begun meanwhile: it was played through until now
      if (!rest.length && state.since === null && state.paused === one.from) {
        state.current = one.goal;
        state.since = one.to;
        state.seen = now;
      }
    }
    keep();
    draw();
    if (form.elements.total.value !== "" && form.elements.code.value === state.code) fillIn();
    start.focus({ preventScroll: true });
  }

  function answerSome() {
    const one = read().held[0];
    const some = away.querySelector("[data-some]");
    const wrong = away.querySelector("[data-wrong]");
    const minutes = Number(some.value);
    const fits = one && /^[0-9]+$/.test(some.value.trim()) && minutes <= Math.max(1, Math.round((one.to - one.from) / MINUTE));
    wrong.hidden = fits;
    some.setAttribute("aria-invalid", String(!fits));
    if (!fits) return some.focus();
    answer(Math.min(minutes * MINUTE, one.to - one.from), false);
  }

  function ask() {
    away.scrollIntoView({ block: "center" });
    away.focus({ preventScroll: true });
  }

  function draw() {
    follow();
    const now = Date.now();
    look(now);
    showAway();
    const goal = goals.find((one) => one.code === state.current) || goals[0];
    at("now").textContent = goal.title;
    at("clock").textContent = text(spent(state.current, now));
    at("whole").textContent = text(whole(now)) + " / " + text(box.dataset.plan * MINUTE);
    start.textContent = state.since === null ? box.dataset.paused : box.dataset.running;
    box.classList.toggle("runs", state.since !== null);
    for (const one of goals) if (one.item) one.item.classList.toggle("now", one.code === state.current);
    always.querySelector("[data-break-note]").hidden = state.since === null || state.stretch + running(now) < box.dataset.break * MINUTE;
    const enough = box.dataset.most > 0 && box.dataset.done * MINUTE + whole(now) >= box.dataset.most * MINUTE;
    always.querySelector("[data-most-note]").hidden = state.code === null || !enough;
    drawEnough(enough);
    stayAwake();
  }

  // The day's most is reached: the page says so in its head, offers what rests the hand, and Start is no longer its main
  // action. A hand's answer stays the head.
  function drawEnough(enough) {
    start.classList.toggle("main", !enough);
    for (const offers of document.querySelectorAll("[data-enough]")) offers.hidden = !enough;
    for (const head of document.querySelectorAll("[data-head-of-day]")) {
      const over = head.dataset.headOfDay;
      if (enough && head.textContent !== over) {
        head.dataset.usual = head.textContent;
        head.textContent = over;
      } else if (!enough && "usual" in head.dataset) {
        head.textContent = head.dataset.usual;
        delete head.dataset.usual;
      }
    }
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
      look(Date.now());
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
    form.dispatchEvent(new Event("filled"));
  }

  start.addEventListener("click", act((now) => {
    rested.hidden = true;
    if (state.since !== null) return settle(now);
    if (!goals.some((goal) => goal.code === state.current)) state.current = goals[0].code;
    if (state.begun === null) state.begun = now;
    if (state.code === null) state.code = form.elements.code.value;
    if (state.paused !== null && now - state.paused >= REST) state.stretch = 0;
    state.since = now;
    state.seen = now;
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
    if (state.held.length) return ask();
    form.scrollIntoView({ block: "start" });
    const first = form.querySelector(".part input, [name=total]");
    if (first) first.focus({ preventScroll: true });
  }));

  hurt.addEventListener("click", act((now) => {
    settle(now);
    fillIn();
    // the page goes there: the first that is seen is to rest
    document.querySelector(hurt.hash).prepend(rested);
    rested.hidden = false;
  }));

  away.querySelector("[data-all]").addEventListener("click", () => {
    const one = read().held[0];
    if (one) answer(one.to - one.from, true);
  });
  away.querySelector("[data-none]").addEventListener("click", () => answer(0, false));
  away.querySelector("[data-count]").addEventListener("click", answerSome);
  away.querySelector("[data-some]").addEventListener("keydown", (event) => event.key === "Enter" && answerSome());

  self.ledgerline.timer = {
    code: () => state.code,
    runs: () => state.since !== null,
    // whether a stretch waits for an answer
    held: () => state.held.length > 0,
    // the same, and it is asked for
    asks() {
      if (!state.held.length) return false;
      ask();
      return true;
    },
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
  window.addEventListener("pagehide", keepSeen);
  document.addEventListener("visibilitychange", () => {
    asking = false;
    if (document.visibilityState === "hidden") keepSeen();
    draw();
  });

  box.hidden = always.hidden = false;
  draw();
  setInterval(draw, 500);
})();
