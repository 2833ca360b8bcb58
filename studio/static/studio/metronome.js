// The metronome on the page. A timer hands clicks to the audio clock well before they sound (beat.js), so a busy page
// does not shift them; what is seen follows the same clock.
"use strict";

(function () {
  const box = document.querySelector("[data-metronome]");
  const Beat = window.Beat;
  if (!box || !Beat || !window.AudioContext) return;

  const EVERY = 25; // ms
  const AHEAD = 0.15; // s
  // a hidden page's timers fire about once a second
  const AHEAD_HIDDEN = 2.5;
  // the slowest beat is 2 s; a tenth more, so that it can be tapped
  const FORGET = 2200; // ms

  const at = (name) => box.querySelector("[data-" + name + "]");
  const [tempo, metre, parts, countIn] = ["tempo", "metre", "parts", "count-in"].map(at);
  const [start, error, beats, bar, cue] = ["start", "error", "beats", "bar", "cue"].map(at);

  // run: of Beat.begin, or null; due: clicks handed over and not yet seen; goal: { names, each } or null
  const state = { bpm: Number(tempo.value), ctx: null, out: null, buffers: null, run: null, timer: 0, frame: 0, due: [], taps: [], goal: null };

  const within = (bpm) => Math.min(Beat.HIGHEST, Math.max(Beat.LOWEST, bpm));
  const make = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });

  function setTempo(bpm) {
    const fits = bpm >= Beat.LOWEST && bpm <= Beat.HIGHEST;
    error.hidden = fits;
    tempo.setAttribute("aria-invalid", String(!fits));
    if (!fits) return; // what was typed stays, the old tempo sounds on
    state.bpm = bpm;
    tempo.value = bpm;
    if (state.run) Beat.retime(state.run, bpm, Number(parts.value));
  }

  function setMetre(text) {
    if (![...metre.options].some((one) => one.value === text)) metre.add(new Option(text, text));
    metre.value = text;
    const { beats: count, parts: own } = Beat.metre(text);
    parts.value = own;
    beats.replaceChildren(...Array.from({ length: count }, (_, i) => make("li", i + 1)));
    if (state.run) play(); // a new metre begins with its own first beat
  }

  function feed() {
    const ahead = document.hidden ? AHEAD_HIDDEN : AHEAD;
    if (document.hidden) state.due = []; // nobody looks
    state.due.push(...Beat.feed(state.ctx, state.out, state.buffers, state.run, ahead));
  }

  function play() {
    stop();
    // made on a tap: before one, a browser lets no page sound
    state.ctx = state.ctx || new AudioContext();
    state.buffers = state.buffers || Beat.sounds(state.ctx);
    state.ctx.resume();
    state.out = state.ctx.createGain();
    state.out.connect(state.ctx.destination);
    const count = Beat.metre(metre.value).beats;
    state.run = Beat.begin(state.ctx.currentTime + 0.1, state.bpm, count, Number(parts.value), countIn.checked);
    state.timer = setInterval(feed, EVERY);
    start.textContent = start.dataset.stop;
    feed();
    look();
  }

  function stop() {
    if (!state.run) return;
    clearInterval(state.timer);
    cancelAnimationFrame(state.frame);
    state.out.disconnect(); // silences what was handed over already
    state.ctx.suspend(); // or the phone keeps its audio awake
    state.run = null;
    state.due = [];
    start.textContent = start.dataset.start;
    show(null);
  }

  function look() {
    const heard = state.ctx.currentTime - (state.ctx.outputLatency || 0);
    let click = null;
    while (state.due.length && state.due[0].at <= heard) {
      const one = state.due.shift();
      if (!one.part) click = one;
    }
    if (click) show(click);
    state.frame = requestAnimationFrame(look);
  }

  // Filled or not, and a number: told without movement. The pulse is the style sheet's, where motion is wanted.
  function show(click) {
    const count = beats.children.length;
    const beat = click ? click.beat : -1;
    [...beats.children].forEach((item, i) => item.classList.toggle("on", click !== null && i === click.inBar));
    bar.textContent = !click ? "" : beat < 0 ? bar.dataset.counting : bar.dataset.bar + " " + (Math.floor(beat / count) + 1);
    cue.hidden = !state.goal;
    if (cue.hidden) return;
    const { names, each } = state.goal; // a chord lasts a bar where the goal does not say
    const { now, next } = Beat.chords(names, each || count, count, beat);
    at("now").textContent = now || "–";
    at("then").textContent = next.join(" ") || now;
  }

  function choose(item, button) {
    const data = item.dataset;
    const names = (data.chords || "").split(" ").filter(Boolean);
    state.goal = names.length ? { names, each: Number(data.beats) } : null;
    for (const other of at("goals").children) other.setAttribute("aria-pressed", String(other === button));
    if (data.tempo) setTempo(Number(data.tempo));
    if (data.metre) setMetre(data.metre);
    if (!state.run) show(null);
  }

  for (const item of document.querySelectorAll("[data-goal][data-tempo], [data-goal][data-chords]")) {
    const { tempo: bpm, title } = item.dataset;
    const button = make("button", bpm ? bpm + " · " + title : title);
    button.type = "button";
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => choose(item, button));
    at("goals").append(button);
  }
  at("goals-part").hidden = !at("goals").children.length;

  function tap(event) {
    const last = state.taps[state.taps.length - 1];
    state.taps = event.timeStamp - last <= FORGET ? [...state.taps.slice(-5), event.timeStamp] : [event.timeStamp];
    const bpm = Beat.tapped(state.taps);
    if (bpm) setTempo(within(Math.round(bpm)));
  }

  // a finger's own instant is its coming down; a keyboard has only the click
  at("tap").addEventListener("pointerdown", tap);
  at("tap").addEventListener("click", (event) => event.detail === 0 && tap(event));
  start.addEventListener("click", () => (state.run ? stop() : play()));
  tempo.addEventListener("change", () => setTempo(Number(tempo.value)));
  for (const step of box.querySelectorAll("[data-step]")) {
    step.addEventListener("click", () => setTempo(within(state.bpm + Number(step.dataset.step))));
  }
  metre.addEventListener("change", () => setMetre(metre.value));
  parts.addEventListener("change", () => state.run && Beat.retime(state.run, state.bpm, Number(parts.value)));
  document.addEventListener("visibilitychange", () => {
    if (!state.run) return;
    if (!document.hidden) state.ctx.resume(); // a locked screen may have stopped it
    feed();
  });

  setMetre(metre.value);
  box.hidden = false;
})();
