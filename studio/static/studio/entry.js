// From the log's form to what is sent: an entry, or a note about the hand alone where no minutes are claimed; and from
// the path of a server's error back to its field.
"use strict";

self.ledgerline = self.ledgerline || {};

self.ledgerline.entry = (function () {
  // randomUUID is there on https alone
  function newCode() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((n) => n.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  // "12" minutes, "12:30", "1:05:00" -> seconds; null: nothing there; NaN: not to be read
  function seconds(text) {
    const parts = text.trim().split(":");
    if (parts[0] === "" && parts.length === 1) return null;
    if (parts.length > 3 || !parts.every((part) => /^[0-9]{1,5}$/.test(part))) return NaN;
    const [head, ...rest] = parts.map(Number);
    if (rest.some((n) => n > 59)) return NaN;
    if (!rest.length) return head * 60;
    return rest.length === 1 ? head * 60 + rest[0] : head * 3600 + rest[0] * 60 + rest[1];
  }

  // the field of the form that a path of the server's answer is about
  function nameOf(path, body) {
    const [part, index, last] = path.split(".");
    const item = (body[part] || [])[index];
    if (part === "segments" && item) return "minutes-" + item.goal;
    if (part === "results" && item) return (last === "failed" ? "failed-" : "value-") + item.goal;
    if (part === "hand") return index || "discomfort";
    return { seconds: "total", begun: "start", at: "day", body: "", code: "", version: "" }[part] ?? part;
  }

  // What a form says: {body, hand, wrong, alone}. named: its values by name; says: the words for what is wrong; timer: the
  // page's, or nothing; dayIsTyped: somebody chose the day; handOnly: the minutes wait. hand: what was answered of it, or
  // null; alone: the body is that of a note about the hand by itself.
  function read(form, named, says, timer, dayIsTyped, handOnly) {
    if (handOnly) return noteAlone(form, named, says, dayIsTyped, []);
    const { rules } = self.ledgerline;
    const field = (name) => form.elements[name];
    const wrong = [];
    const one = (name) => (named[name] || [""])[0];
    const body = { code: one("code"), segments: [], results: [], note: one("note") };
    const minutes = (name) => {
      const found = seconds(one(name));
      if (Number.isNaN(found)) wrong.push([name, [says.minutes]]);
      return found || null;
    };
    let sum = 0;
    for (const part of form.querySelectorAll("[data-part]")) {
      const goal = part.dataset.part;
      const spent = minutes("minutes-" + goal);
      if (spent) {
        body.segments.push({ goal: goal, seconds: spent });
        sum += spent;
      }
      const value = field("value-" + goal);
      const failed = (named["failed-" + goal] || []).map(Number);
      const tried = failed.length > 0 || Boolean(named["tried-" + goal]);
      if (value && value.type !== "hidden" && !value.checkValidity()) {
        wrong.push(["value-" + goal, [value.validationMessage]]);
      } else if (tried || (value && value.type !== "hidden" && value.value !== "")) {
        const result = { goal: goal, measure: part.dataset.measure };
        if (value.value !== "") result.value = Number(value.value);
        if (tried) result.failed = failed;
        body.results.push(result);
      }
    }
    const total = minutes("total");
    const hand = form.querySelector("#hand") && rules ? rules.read(form) : null;
    const alone = hand !== null && total === null && !sum && !body.results.length && !wrong.length;
    if (alone || !field("total")) {
      if (one("note").trim()) wrong.push(["note", [says.noteAlone]]);
      return noteAlone(form, named, says, dayIsTyped, wrong);
    }
    if (!wrong.some(([name]) => name === "total")) {
      if (total === null && !sum && !wrong.length) wrong.push(["total", [says.long]]);
      else if (total !== null && sum > total + 60) wrong.push(["total", [says.sum]]);
    }
    body.seconds = total === null ? null : Math.max(total, sum);
    if (form.dataset.version) body.version = Number(form.dataset.version);
    if (timer && timer.code() === body.code && timer.begun() !== null && !dayIsTyped && !one("start")) {
      // timed here: the instant is known; whoever adds minutes by hand began as much earlier
      const played = (body.seconds || sum) * 1000;
      body.begun = new Date(Math.min(timer.begun(), Date.now() - played)).toISOString();
    } else {
      body.day = one("day") || null;
      if (one("start")) body.start = one("start").slice(0, 5);
    }
    const inWords = Boolean(form.querySelector("[data-words]"));
    if (one("tiring")) body.tiring = Number(one("tiring"));
    if (one("tiring") && inWords) body.tiring_in_words = true;
    if (hand) body.hand = handBody(form, hand, says, wrong);
    return { alone: false, body: body, hand: hand, wrong: wrong };
  }

  // The answers about the hand as they are sent; what is missing goes to `wrong`.
  function handBody(form, hand, says, wrong) {
    if (hand.discomfort === undefined) wrong.push(["discomfort", [says.rate]]);
    // what is ticked at 0 is taken without a place: nothing may hold it up
    if (hand.discomfort) for (const name of ["hand", "place"]) if (!hand[name]) wrong.push([name, [says.where]]);
    return Object.assign({}, hand, form.querySelector("[data-words]") ? { in_words: true } : null);
  }

  function noteAlone(form, named, says, dayIsTyped, wrong) {
    const hand = self.ledgerline.rules.read(form);
    if (!hand) return { alone: true, body: {}, hand: null, wrong: [["discomfort", [says.feel]]] };
    const when = dayIsTyped && named.day ? { day: named.day[0] } : { at: new Date().toISOString() };
    return { alone: true, body: Object.assign({ hand: handBody(form, hand, says, wrong) }, when), hand: hand, wrong: wrong };
  }

  return { newCode: newCode, nameOf: nameOf, read: read };
})();
