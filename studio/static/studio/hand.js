// The hand's questions: the place is tapped on a drawn hand that stays in step with the list, a question shows only
// where it belongs (what is hidden is disabled, and so is not sent), and what must not wait for a server is said on the
// very answer that calls for it (hand-rules.js).
"use strict";

(function () {
  const part = document.getElementById("hand");
  const form = part && part.closest("form");
  const { rules } = self.ledgerline;
  if (!form || !rules) return;

  const value = (name) => {
    const field = form.elements[name];
    return field ? field.value : "";
  };

  // -- which questions show ------------------------------------------------------------------------------------------

  const groups = [...part.querySelectorAll("[data-when]")];
  const controls = groups.flatMap((group) => [...group.querySelectorAll("input, select")]);

  function ask() {
    const discomfort = Number(value("discomfort") || 0);
    const also = [...part.querySelectorAll("[name=also]:checked")].map((one) => one.value);
    const numb = also.includes("numb");
    const help = numb || also.includes("weak");
    const wanted = {
      further: rules.asksFurther(also),
      help: help,
      felt: discomfort > 0 || help,
      firm: discomfort >= rules.firm || help,
      numb: numb,
    };
    for (const group of groups) group.hidden = !wanted[group.dataset.when];
    for (const control of controls) control.disabled = Boolean(control.closest("[data-when][hidden]"));
  }
  for (const help of part.querySelectorAll("[data-no-script]")) help.remove();

  // -- what is said before anything is sent ----------------------------------------------------------------------------

  const alarm = part.querySelector("[data-alarm]");

  function warn() {
    const note = rules.read(form);
    const row = note && rules.row(note);
    const loud = Boolean(row) && rules.rank(row.level) >= rules.rank("stop");
    const code = loud ? row.code : "";
    if (alarm.dataset.row === code) return;
    alarm.dataset.row = code;
    alarm.hidden = true;
    if (!loud) return;
    const text = rules.text(row, note).content;
    const [head, line] = [document.createElement("strong"), document.createElement("span")];
    head.textContent = text.querySelector("[data-words]").textContent.trim();
    line.textContent = text.querySelector("[data-line]").textContent.trim();
    alarm.querySelector("[data-lines]").replaceChildren(head, " ", line);
    alarm.hidden = false;
    alarm.scrollIntoView({ block: "nearest" });
  }

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
    warn();
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
