// What one note about a hand asks for by itself, before anything is sent and with no connection: the table of
// practice/handrows.py, which stands in the page as data. A test in a browser holds the two together.
"use strict";

self.ledgerline = self.ledgerline || {};

(function () {
  const source = document.getElementById("hand-rules");
  if (!source) return;
  const rows = JSON.parse(source.textContent);
  const more = JSON.parse(document.getElementById("hand-rules-more").textContent);
  const NUMBERS = ["discomfort", "rested"];
  const WORDS = ["hand", "place", "sensation", "settles", "began"];
  const QUESTIONS = ["at_rest", "daily", "tip_only", "face_arm_leg"];

  const parts = {
    from: (note, wanted) => (note.discomfort || 0) >= wanted,
    to: (note, wanted) => (note.discomfort || 0) <= wanted,
    any: (note, wanted) => wanted.some((code) => (note.also || []).includes(code)),
    all: (note, wanted) => wanted.every((code) => (note.also || []).includes(code)),
    none: (note, wanted) => !wanted.some((code) => (note.also || []).includes(code)),
  };

  function isTrue(name, wanted, note) {
    if (parts[name]) return parts[name](note, wanted);
    const value = note[name] ?? null;
    return wanted.includes(value) || (value === null && wanted.includes(""));
  }

  const holds = (condition, note) => Object.entries(condition).every(([name, wanted]) => isTrue(name, wanted, note));

  // The row that a note fires: {code, level}, or null where it asks for nothing.
  const row = (note) => rows.find((one) => one.when.some((condition) => holds(condition, note))) || null;

  // Which of a row's texts is the note's (practice/handanswer.py): by where it is, and for skin by how much.
  function where(found, note) {
    if (found.code === "skin") return (note.discomfort || 0) < more.firm ? "new" : "";
    if (!["pause", "see-someone"].includes(found.level)) return "";
    const resting = more.barre_hands.includes(note.hand || "") && more.barre_places.includes(note.place || "");
    return resting ? "barre" : "played";
  }

  // The note that a form holds; what is hidden is disabled there and not answered. Null where nothing was answered.
  function read(form) {
    const data = new FormData(form);
    const note = {};
    for (const name of NUMBERS) if (data.get(name)) note[name] = Number(data.get(name));
    for (const name of WORDS) if (data.get(name)) note[name] = data.get(name);
    for (const name of QUESTIONS) if (data.get(name)) note[name] = data.get(name) === "yes";
    const also = data.getAll("also");
    if (also.length) note.also = also;
    return Object.keys(note).length ? note : null;
  }

  self.ledgerline.rules = {
    row: row,
    where: where,
    read: read,
    firm: more.firm,
    // how strict a level is: the higher, the stricter
    rank: (level) => more.levels.indexOf(level || "nothing"),
    asksFurther: (also) => also.some((code) => more.further.includes(code)),
    // the text of a row in the reader's own words, as it stands in the page
    text(found, note) {
      const wanted = where(found, note);
      const texts = [...document.querySelectorAll(`template[data-answer="${found.code}"]`)];
      return texts.find((one) => one.dataset.where === wanted) || texts[0];
    },
  };
})();
