// The strings that failed are tapped on the diagram; the check boxes below say the same and stay in step with it.
"use strict";

for (const drawn of document.querySelectorAll("[data-strings]")) {
  const boxOf = (hit) => drawn.parentElement.querySelector(
    `input[type="checkbox"][value="${hit.dataset.string}"][name^="failed-"]`
  );
  const hits = [...drawn.querySelectorAll(".hit")].filter(boxOf);
  const follow = () => hits.forEach((hit) => hit.setAttribute("aria-pressed", String(boxOf(hit).checked)));
  for (const hit of hits) {
    const tap = (event) => {
      event.preventDefault();
      const box = boxOf(hit);
      box.checked = !box.checked;
      box.dispatchEvent(new Event("change", { bubbles: true }));
    };
    hit.addEventListener("click", tap);
    hit.addEventListener("keydown", (event) => {
      if (event.key === " " || event.key === "Enter") tap(event);
    });
  }
  drawn.parentElement.addEventListener("change", follow);
  if (drawn.closest("form")) drawn.closest("form").addEventListener("reset", () => setTimeout(follow));
  drawn.hidden = false;
  follow();
}
