// Fetches the parts of a page that may come later (figures) and puts them where a plain link stood.
"use strict";

for (const place of document.querySelectorAll("[data-load]")) {
  fetch(place.dataset.load, { credentials: "same-origin" })
    .then((answer) => (answer.ok ? answer.text() : Promise.reject(answer.status)))
    .then((html) => {
      place.innerHTML = html;
    })
    .catch(() => {
      // the link stays and leads to the same thing
    });
}
