// The hand's questions: the place is tapped on a drawn hand that stays in step with the list, and a question shows only
// where it belongs (practice/handcare.py, asks_more). What is hidden is disabled, and so is not sent.
"use strict";

(function () {
  const part = document.getElementById("hand");
  const form = part && part.closest("form");
  if (!form) return;

  const firm = Number(part.dataset.firm);
  const asking = part.dataset.asking.split(" ");
  const value = (name) => {
    const field = form.elements[name];
    return field ? field.value : "";
  };

  // -- which questions show ------------------------------------------------------------------------------------------

  const more = part.querySelector("[data-more]");
  let opened = false; // by this script, so that it may close it again

  function ask() {
    const discomfort = Number(value("discomfort") || 0);
    const sensation = value("sensation");
    const wanted = { firm: discomfort >= firm || asking.includes(sensation), numb: sensation === "numb" };
    for (const group of part.querySelectorAll("[data-when]")) {
      const shown = wanted[group.dataset.when];
      group.hidden = !shown;
      for (const control of group.querySelectorAll("input")) control.disabled = !shown;
    }
    if (discomfort > 0 && !more.open) {
      more.open = true;
      opened = true;
    } else if (value("discomfort") === "0" && opened && !value("place") && !sensation) {
      more.open = false;
      opened = false;
    }
  }
  for (const help of part.querySelectorAll("[data-no-script]")) help.remove();

  // -- the drawn hand --------------------------------------------------------------------------------------------------

  const drawn = part.querySelector("[data-drawn]");
  const radios = [...part.querySelectorAll("input[name='place']")];
  const spots = [...drawn.querySelectorAll("[data-place]")];
  const sides = drawn.querySelector("[data-sides]");
  const WIDTH = drawn.querySelector("svg").viewBox.baseVal.width;

  function side() {
    const frets = drawn.dataset.plays === "left" ? "right" : "left";
    const picks = frets === "left" ? "right" : "left";
    return value("hand") === "picking" ? picks : frets;
  }

  function turn() {
    const right = side() === "right";
    if (right) sides.setAttribute("transform", `matrix(-1 0 0 1 ${WIDTH} 0)`);
    else sides.removeAttribute("transform");
    // words and ticks are not mirrored with the hand
    for (const text of sides.querySelectorAll("text")) {
      if (right) text.setAttribute("transform", `matrix(-1 0 0 1 ${2 * Number(text.getAttribute("x"))} 0)`);
      else text.removeAttribute("transform");
    }
    for (const mark of sides.querySelectorAll(".mark")) {
      const across = 2 * Number(mark.firstElementChild.getAttribute("cx"));
      if (right) mark.setAttribute("transform", `matrix(-1 0 0 1 ${across} 0)`);
      else mark.removeAttribute("transform");
    }
    const line = drawn.querySelector("[data-side]");
    line.textContent = line.dataset[side()];
  }

  const wordOf = (radio) => radio.closest("label").textContent.trim();

  function follow() {
    ask();
    turn();
    const chosen = radios.find((radio) => radio.checked);
    for (const spot of spots) spot.setAttribute("aria-pressed", String(Boolean(chosen) && spot.dataset.place === chosen.value));
    const line = drawn.querySelector("[data-chosen]");
    const text = chosen ? line.dataset.marked.replace("%s", wordOf(chosen)) : line.dataset.none;
    if (line.textContent !== text) line.textContent = text;
  }

  function choose(spot) {
    const radio = radios.find((one) => one.value === spot.dataset.place);
    radio.checked = !radio.checked;
    radio.dispatchEvent(new Event("input", { bubbles: true }));
    radio.dispatchEvent(new Event("change", { bubbles: true }));
  }

  for (const spot of spots) {
    spot.addEventListener("click", () => choose(spot));
    spot.addEventListener("keydown", (event) => {
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      if (!event.repeat) choose(spot);
    });
  }
  form.addEventListener("change", follow);
  form.addEventListener("reset", () => setTimeout(follow));
  drawn.hidden = false;
  follow();
})();
