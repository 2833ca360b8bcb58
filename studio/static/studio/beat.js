// The metronome's arithmetic, and the sound of a click. No page, no timer and no clock in it: times are seconds on
// the clock of the audio context that plays them. Metres as in practice/sound.py.
"use strict";

window.Beat = (function () {
  const LOWEST = 30;
  const HIGHEST = 240;
  // by level: between beats, beat, first of the bar
  const PITCH = [900, 1200, 1800];
  const LOUD = [0.25, 0.55, 0.9];

  // 6/8, 9/8, 12/8 are compound: a third as many beats, of three parts each
  function metre(text) {
    const upper = Number(text.split("/")[0]);
    return upper > 3 && upper % 3 === 0 ? { beats: upper / 3, parts: 3 } : { beats: upper, parts: 1 };
  }

  // A run: click `index` lies at origin + index * step; beats before `lead` are the count-in.
  function begin(at, bpm, beats, parts, countIn) {
    return { origin: at, index: 0, step: 60 / bpm / parts, beats, parts, lead: countIn ? beats : 0 };
  }

  // Another tempo from the next click on, or another division from the next beat on.
  function retime(run, bpm, parts) {
    const from = parts === run.parts ? run.index : Math.ceil(run.index / run.parts) * run.parts;
    const at = run.origin + from * run.step;
    run.index = (from / run.parts) * parts;
    run.parts = parts;
    run.step = 60 / bpm / parts;
    run.origin = at - run.index * run.step;
  }

  // The clicks that fall due before `until`. Of a timer that woke late the past is left out: silence, not a burst.
  function plan(run, now, until) {
    const due = [];
    run.index = Math.max(run.index, Math.ceil((now - run.origin) / run.step));
    for (let at; (at = run.origin + run.index * run.step) < until; run.index += 1) {
      const part = run.index % run.parts;
      const beat = (run.index - part) / run.parts;
      const inBar = beat % run.beats;
      due.push({ at, part, inBar, beat: beat - run.lead, level: part ? 0 : inBar ? 1 : 2 });
    }
    return due;
  }

  // The chord at a beat, `each` beats long, and those that begin within the bar ahead of it.
  function chords(names, each, beats, beat) {
    const at = (n) => (n < 0 ? -1 : Math.floor(n / each));
    const now = at(beat);
    const next = [];
    for (let i = now + 1; i <= at(beat + beats); i += 1) next.push(names[i % names.length]);
    return { now: now < 0 ? "" : names[now % names.length], next };
  }

  // Beats a minute from instants of taps in ms: the median of the intervals, so that one slip does no harm.
  function tapped(taps) {
    const gaps = taps.slice(1).map((at, i) => at - taps[i]).sort((a, b) => a - b);
    const half = gaps.length / 2;
    return gaps.length ? 120000 / (gaps[Math.ceil(half) - 1] + gaps[Math.floor(half)]) : null;
  }

  // One short sound a level, drawn once.
  function sounds(ctx) {
    return PITCH.map((hz, level) => {
      const buffer = ctx.createBuffer(1, Math.ceil(ctx.sampleRate * 0.05), ctx.sampleRate);
      const wave = buffer.getChannelData(0);
      for (let i = 0; i < wave.length; i += 1) {
        const t = i / ctx.sampleRate;
        wave[i] = LOUD[level] * Math.sin(2 * Math.PI * hz * t) * Math.exp(-t / 0.01);
      }
      return buffer;
    });
  }

  // Hands to the audio clock what falls due within `ahead` seconds, and returns it.
  function feed(ctx, out, buffers, run, ahead) {
    const due = plan(run, ctx.currentTime, ctx.currentTime + ahead);
    for (const click of due) {
      const source = ctx.createBufferSource();
      source.buffer = buffers[click.level];
      source.connect(out);
      source.start(click.at);
    }
    return due;
  }

  return { LOWEST, HIGHEST, metre, begin, retime, plan, chords, tapped, sounds, feed };
})();
