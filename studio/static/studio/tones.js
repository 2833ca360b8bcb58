// Reference tones for tuning: one tap sounds a string, another tap stops it. Both hands are at the guitar meanwhile,
// so the tone is struck again every few seconds and ends by itself.
"use strict";

window.Tone = (function () {
  // Loudness of fundamental and overtones. A phone's speaker gives little below 300 Hz: there the ear makes out the
  // low strings by their overtones.
  const OVERTONES = [0, 1, 0.9, 0.75, 0.65, 0.5, 0.35, 0.22, 0.12];
  const AGAIN = 4; // s
  const TIMES = 8;

  function ring(ctx, out, hz, at) {
    const tone = ctx.createOscillator();
    const gain = ctx.createGain();
    const sines = new Float32Array(OVERTONES);
    tone.setPeriodicWave(ctx.createPeriodicWave(new Float32Array(sines.length), sines));
    tone.frequency.value = hz;
    gain.gain.value = 0;
    for (let time = at; time < at + AGAIN * TIMES; time += AGAIN) {
      gain.gain.setTargetAtTime(0.6, time, 0.006);
      gain.gain.setTargetAtTime(0, time + 0.04, 1.4);
    }
    tone.connect(gain).connect(out);
    tone.start(at);
    tone.stop(at + AGAIN * TIMES);
    return { tone, gain: gain.gain };
  }

  function hush(ctx, sounding) {
    sounding.gain.cancelScheduledValues(ctx.currentTime);
    sounding.gain.setTargetAtTime(0, ctx.currentTime, 0.02);
    sounding.tone.stop(ctx.currentTime + 0.2);
  }

  return { ring, hush };
})();

(function () {
  const box = document.querySelector("[data-tune]");
  if (!box || !window.AudioContext) return;

  const state = { ctx: null, button: null, sounding: null };

  function stop() {
    if (!state.button) return;
    state.button.setAttribute("aria-pressed", "false");
    window.Tone.hush(state.ctx, state.sounding);
    state.button = state.sounding = null;
  }

  box.addEventListener("click", (event) => {
    const button = event.target.closest("[data-hz]");
    if (!button) return;
    const again = button === state.button;
    stop();
    if (again) return;
    // made on a tap: before one, a browser lets no page sound
    state.ctx = state.ctx || new AudioContext();
    state.ctx.resume();
    const sounding = window.Tone.ring(state.ctx, state.ctx.destination, Number(button.dataset.hz), state.ctx.currentTime);
    state.sounding = sounding;
    state.button = button;
    button.setAttribute("aria-pressed", "true");
    sounding.tone.onended = () => state.sounding === sounding && stop();
  });
  box.hidden = false;
})();
