// The root drill. Questions, answers and their marks come from the server as data, so that the page knows no music.
// Every time is a difference of two wall-clock instants. What was drilled is kept in the browser at each answer until
// it is an entry of the queue (queue.js), which waits there until the server has it.
"use strict";

// As in studio/theory/drill.py (weights, pick, ready_for_twelve); a test in a browser holds the two together.
const ledgerlineDrill = {
  // history: [question id, right, seconds or null], oldest first
  weights(pool, history) {
    const found = new Map(pool.map((id) => [id, 2]));
    for (const [id, right, seconds] of history) {
      if (!found.has(id)) continue;
      let weight = found.get(id);
      if (!right) weight *= 2;
      else if (seconds === null || seconds < 5) weight *= 0.6;
      found.set(id, Math.min(8, Math.max(0.25, weight)));
    }
    return pool.map((id) => found.get(id));
  },

  pick(pool, history, at) {
    const last = history.length ? history[history.length - 1][0] : null;
    const weights = ledgerlineDrill.weights(pool, history);
    const open = pool
      .map((id, index) => [id, weights[index]])
      .filter(([id]) => id !== last || pool.length === 1);
    let mark = at * open.reduce((sum, [, weight]) => sum + weight, 0);
    for (const [id, weight] of open) {
      mark -= weight;
      if (mark < 0) return id;
    }
    return open[open.length - 1][0];
  },

  ready(naturals, history) {
    return naturals.length > 0 && naturals.every((natural) => {
      const lately = history.filter(([id]) => id === natural).slice(-2);
      return lately.length === 2 && lately.every(([, right]) => right);
    });
  },

  // What a round over all notes is worth in the goal's measure, or null where it lies outside of its range (two notes
  // in 3 s): whole numbers, halves up. took: seconds; minute: seconds of a whole minute; range: [lowest, highest].
  value(measure, took, right, minute, range) {
    const value = Math.floor((measure === "seconds" ? took : (right * minute) / Math.max(took, 0.1)) + 0.5);
    return value >= range[0] && value <= range[1] ? value : null;
  },
};

(function () {
  const box = document.querySelector("[data-drill]");
  const source = document.getElementById("drill-data");
  if (!box || !source) return;
  const data = JSON.parse(source.textContent);
  const at = (name) => box.querySelector("[data-" + name + "]");
  const answers = at("answers");
  const send = at("send");
  const { queue } = self.ledgerline;
  const [student, goal] = box.dataset.drill.split(".");
  const keys = [...answers.querySelectorAll("button")];
  const REMEMBERED = 240;

  function read(key, otherwise) {
    try {
      return JSON.parse(localStorage.getItem(key)) || otherwise;
    } catch (_) {
      // storage is off or unreadable: the drill still runs while the page is open
      return otherwise;
    }
  }

  function write(key, value) {
    try {
      if (value === null) localStorage.removeItem(key);
      else localStorage.setItem(key, JSON.stringify(value));
    } catch (_) {
      // full or forbidden storage must not stop the drill
    }
  }

  function say(template, values) {
    return template.replace(/{(\w+)}/g, (_, name) => values[name]);
  }

  function newCode() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  // begun, last: instants in ms, last null while nothing is asked; spent: ms played; counted: the first round over all
  // notes, {value}; sent: on its way, and kept here because the phone had no room for it in the queue
  const sessionKey = "ledgerline.drill." + box.dataset.drill;
  const historyKey = sessionKey + ".history";
  let history = read(historyKey, []);
  let session = read(sessionKey, null);
  if (!Array.isArray(history)) history = [];
  if (session && (!session.code || !session.spent)) drop();
  let round = null;

  function stage() {
    // whoever was measured over all notes, stored or not yet, is past the naturals, also after a miss among them
    const known = data.known || (session !== null && session.counted !== null);
    return known || ledgerlineDrill.ready(data.naturals, history) ? data.whole : data.first;
  }

  // wall-clock time since the last event goes to session and round; time beyond `away` was no practice
  function tick() {
    const now = Date.now();
    if (session.last !== null) {
      const gap = Math.max(0, now - session.last);
      if (gap > data.away * 1000) round.broken = true;
      const counted = Math.min(gap, data.away * 1000);
      session.spent += counted;
      round.spent += counted;
    }
    session.last = now;
    return now;
  }

  function show(name) {
    for (const part of ["start", "ask", "end"]) at(part).hidden = part !== name;
  }

  function begin() {
    const asked = stage();
    round = { asked: asked, left: [...asked], right: 0, missed: new Set(), spent: 0, broken: false, stopped: false };
    if (session === null) session = { code: newCode(), begun: Date.now(), last: null, spent: 0, counted: null, sent: false };
    session.last = null;
    mark(null, "");
    at("finish").hidden = false;
    show("ask");
    ask();
    at("question").focus({ preventScroll: true });
  }

  function ask() {
    const now = tick();
    round.question = ledgerlineDrill.pick(round.left, history, Math.random());
    round.shown = now;
    round.found = null;
    at("question").textContent = data.questions[round.question].text;
    at("count").textContent = say(data.words.count, { right: round.right, all: round.asked.length });
    at("next").hidden = true;
    at("keys").hidden = false;
    if (data.asks === "guitar") for (const key of keys) key.hidden = key.value !== "found";
  }

  function mark(right, text) {
    const place = at("mark");
    place.className = "mark" + (right === null ? "" : right ? " good" : " stop");
    place.replaceChildren();
    if (!text) return;
    if (right !== null) {
      const sign = place.appendChild(document.createElement("b"));
      sign.setAttribute("aria-hidden", "true");
      sign.textContent = right ? "●" : "■";
      place.append(" ");
    }
    place.appendChild(document.createElement("span")).textContent = text;
  }

  function answer(given) {
    const question = data.questions[round.question];
    if (data.asks === "guitar" && given === "found") {
      round.found = tick();
      mark(null, question.place + " " + question.walk);
      for (const key of keys) key.hidden = key.value === "found";
      keys[1].focus({ preventScroll: true });
      return;
    }
    const now = tick();
    const [right, text] = data.asks === "guitar" ? [given === "right", question.place] : question.marks[given];
    const seconds = Math.max(0, (round.found || now) - round.shown) / 1000;
    history = [...history, [round.question, right, seconds]].slice(-REMEMBERED);
    write(historyKey, history);
    if (right) {
      round.right += 1;
      if (data.measure === "seconds") round.left = round.left.filter((id) => id !== round.question);
    } else {
      round.missed.add(question.note);
    }
    mark(right, right ? text : text + " " + question.walk);
    const over = data.measure === "seconds" ? !round.left.length : round.spent >= data.minute * 1000;
    if (over) return end(false);
    write(sessionKey, session);
    if (right || data.asks === "guitar") {
      const judged = data.asks === "guitar";
      ask();
      if (judged) keys[0].focus({ preventScroll: true });
      return;
    }
    at("keys").hidden = true;
    at("next").hidden = false;
    at("next").focus({ preventScroll: true });
  }

  function end(stopped) {
    const took = Math.round(round.spent / 100) / 10;
    const whole = round.asked.length === data.whole.length;
    const value = ledgerlineDrill.value(data.measure, took, round.right, data.minute, data.range);
    if (data.counts && !stopped && whole && !round.broken && value !== null && session.counted === null) {
      session.counted = { value: value };
    }
    session.last = null;
    write(sessionKey, session);
    const values = { all: round.asked.length, right: round.right, took: Math.floor(took + 0.5) };
    at("sum").textContent = say(stopped ? data.words.stopped : data.words.done, values);
    const why = stopped || !data.counts ? "" : !whole ? data.words.first : round.broken ? data.words.away : value !== null ? "" : data.words.short;
    at("why").textContent = why;
    at("missed").textContent = round.missed.size ? say(data.words.missed, { notes: [...round.missed].join(", ") }) : "";
    finish();
  }

  // the end of a round, or a drill that an earlier visit left unsent
  function finish() {
    const seconds = session.spent / 1000;
    const time = seconds < 60
      ? say(data.words.time_s, { n: Math.round(seconds) })
      : say(data.words.time_min, { n: Math.round(seconds / 60) });
    const value = session.counted && say(data.words.value, { value: session.counted.value });
    at("sends").textContent = say(value ? data.words.sends : data.words.sends_time, { value: value, time: time });
    at("again").hidden = session.sent;
    show("end");
    at("sum").focus({ preventScroll: true });
  }

  function start() {
    const asked = stage();
    const first = asked.length < data.whole.length ? data.words.start_first : data.words.start_whole;
    at("about").textContent = say(first, { all: asked.length });
    show("start");
  }

  answers.addEventListener("submit", (event) => {
    event.preventDefault();
    if (round && event.submitter) answer(event.submitter.value);
  });
  at("begin").addEventListener("click", begin);
  at("next").addEventListener("click", () => {
    ask();
    at("question").focus({ preventScroll: true });
  });
  at("finish").addEventListener("click", () => {
    tick();
    end(true);
  });
  at("again").addEventListener("click", begin);
  at("drop").addEventListener("click", () => {
    drop();
    start();
    at("begin").focus({ preventScroll: true });
  });

  // -- what goes to the teacher ------------------------------------------------------------------------------------------

  function drop() {
    session = null;
    write(sessionKey, null);
  }

  // The session as an entry, and as the practice page's form would have it, to be put right there.
  function entry() {
    const seconds = Math.max(1, Math.floor(session.spent / 1000));
    const begun = new Date(Math.min(session.begun, Date.now() - seconds * 1000));
    const result = session.counted && { goal: goal, measure: data.measure, value: session.counted.value };
    const minutes = Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");
    const values = { code: [session.code], total: [minutes], ["minutes-" + goal]: [minutes] };
    values.day = [new Intl.DateTimeFormat("en-CA", { timeZone: box.dataset.zone }).format(begun)];
    if (result) values["value-" + goal] = [String(result.value)];
    return {
      code: session.code,
      student: student,
      drill: goal,
      address: box.dataset.base + "entries/" + session.code + "/",
      token: box.dataset.base + "token/",
      body: {
        code: session.code,
        begun: begun.toISOString(),
        seconds: seconds,
        segments: [{ goal: goal, seconds: seconds }],
        results: result ? [result] : [],
      },
      values: values,
    };
  }

  let last = ""; // what the server said of the last drill that it took

  async function tell() {
    const rows = (await queue.all()).filter((row) => row.student === student && row.drill === goal);
    const waiting = rows.filter((row) => row.state === "waiting");
    const lines = last ? [last] : [];
    if (waiting.length) lines.push(waiting.some((row) => queue.isLoose(row.code)) ? data.words.loose : data.words.waits);
    if (rows.length > waiting.length) lines.push(data.words.refused);
    at("told").textContent = lines.join(" ");
  }

  let next = null;

  async function pass() {
    clearTimeout(next);
    await queue.send();
    await tell();
    const rows = await queue.all();
    if (rows.some((row) => row.student === student && row.state === "waiting")) next = setTimeout(pass, 30000);
  }

  // sent also when this page is closed before the connection returns, where the browser can do that
  async function sendLater() {
    const found = navigator.serviceWorker && (await navigator.serviceWorker.getRegistration());
    if (found && found.sync) await found.sync.register("entries").catch(() => null);
  }

  send.addEventListener("click", async () => {
    send.disabled = true;
    last = "";
    const kept = await queue.put(entry());
    if (session.counted) data.known = true;
    if (kept) {
      drop();
      start();
      at("begin").focus({ preventScroll: true });
    } else {
      session.sent = true;
      write(sessionKey, session);
      finish();
    }
    send.disabled = false;
    await sendLater();
    await pass();
  });

  queue.listen((news) => {
    if (!news.sent || news.student !== student) return;
    last = news.said;
    if (session && session.code === news.sent) {
      drop();
      start();
    }
    tell();
    queue.freshen(location.href); // the last value, and whether all strings can be asked now
  });
  window.addEventListener("online", pass);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && pass());

  at("plain").hidden = true;
  if (session) {
    at("sum").textContent = data.words.kept;
    finish();
  } else {
    start();
  }
  // the tab was closed between keeping an entry and letting go of what it was made of
  queue.all().then((rows) => {
    if (session && rows.some((row) => row.code === session.code && !queue.isLoose(row.code))) {
      drop();
      start();
    }
    pass();
  });
})();
