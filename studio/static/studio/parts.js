// Keeps the log short: what was practised, or already filled in, stands first and open; the other goals wait under one
// heading. Without this script the first goals stand open and the others under the same heading.
"use strict";

(function () {
  const form = document.getElementById("log");
  const others = form && form.querySelector("[data-others]");
  if (!others) return;

  const parts = [...form.querySelectorAll(".part")];
  const first = parts.filter((part) => !others.contains(part));

  const spokenFor = (part) => [...part.querySelectorAll("input")].some((control) => {
    if (control.type === "checkbox" || control.type === "radio") return control.checked;
    return control.type !== "hidden" && control.value !== "";
  });

  function fold() {
    const focused = document.activeElement;
    const filled = parts.filter(spokenFor);
    const shown = filled.length ? filled : first;
    for (const part of parts) {
      if (shown.includes(part)) others.before(part);
      else others.append(part);
    }
    const left = parts.length - shown.length;
    others.querySelector("[data-count]").textContent = left;
    others.hidden = !left;
    others.open = false;
    if (form.contains(focused) && focused !== document.activeElement && !others.contains(focused)) focused.focus();
  }

  form.addEventListener("filled", fold);
  form.addEventListener("reset", () => setTimeout(fold));
})();
