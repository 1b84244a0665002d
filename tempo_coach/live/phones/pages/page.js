// A phone of one session: what it shows, what it notices, and rows that are kept here until they are acknowledged.
"use strict";
(() => {
  const TAP = 0, READING = 1, MARK = 2, REMOTE = 3;
  const HIDDEN = 0, SHOWN = 1, NO_MOTION = 2, NO_WAKE_LOCK = 3;
  const EVERY = 200;          // ms between two messages
  const PATIENCE = 4000;      // ms until an answer that does not come is given up
  const MOST_ROWS = 400;      // rows of one message
  const FORGET = 1800e3;      // ms without the program after which nothing is kept
  const RADIANS = Math.PI / 180;
  const me = Math.random().toString(36).slice(2, 12) + Date.now().toString(36);
  // this opening of the page, and when its clock began by the system's
  const page = [me, (performance.timeOrigin || Date.now() - performance.now()) / 1000];
  const $ = (id) => document.getElementById(id);
  const words = JSON.parse($("words").textContent);
  const clock = () => performance.now() / 1000;

  // ---------------------------------------------------------------- what is kept until it is acknowledged
  let db = null;
  let batches = [];           // {first, of, rows}: in order, each written before it is sent
  let fresh = [];             // rows without a number yet
  const unwritten = new Set();  // batches of which the store has not said that they are there
  let number = Number(localStorage.getItem("next") || 0);
  let acknowledged = 0;

  const openStore = () => new Promise((done) => {
    let asked;
    try { asked = indexedDB.open("rows", 1); } catch { done(null); return; }
    asked.onupgradeneeded = () => asked.result.createObjectStore("batches", { keyPath: "first" });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = asked.onblocked = () => done(null);
  });
  const store = (act, done = () => {}) => {
    if (!db) return;
    try {
      const going = db.transaction("batches", "readwrite");
      going.oncomplete = done;
      act(going.objectStore("batches"));
    } catch { db = null; }
  };
  const readStore = () => new Promise((done) => {
    if (!db) { done([]); return; }
    const asked = db.transaction("batches").objectStore("batches").getAll();
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => done([]);
  });
  function keep() {           // give fresh rows their numbers, and write them down
    if (!fresh.length || !ready) return;
    const batch = { first: number, of: page, rows: fresh };
    number += fresh.length;
    fresh = [];
    localStorage.setItem("next", String(number));
    batches.push(batch);
    unwritten.add(batch);
    store((s) => s.put(batch), () => unwritten.delete(batch));
  }
  function keepAtOnce() {     // the store writes later, and a page that is left has no later
    keep();
    if (unwritten.size) tellUnwritten();
  }
  function tellUnwritten() {
    try { localStorage.setItem("unwritten", JSON.stringify([...unwritten])); } catch { /* it is full */ }
  }
  function takeUp(stored) {   // what an earlier opening of this page had left
    const left = JSON.parse(localStorage.getItem("unwritten") || "[]").filter((b) => stored.every((s) => s.first !== b.first));
    left.forEach((b) => unwritten.add(b));  // this opening may be left too before they are in the store
    store((s) => left.forEach((b) => s.put(b)), () => { left.forEach((b) => unwritten.delete(b)); tellUnwritten(); });
    return [...stored, ...left].sort((a, b) => a.first - b.first);
  }
  function acknowledge(next) {
    if (next > number) number = next;
    acknowledged = Math.max(acknowledged, next);
    const done = batches.filter((b) => b.first + b.rows.length <= acknowledged);
    if (!done.length) return;
    done.forEach((b) => unwritten.delete(b));
    batches = batches.filter((b) => b.first + b.rows.length > acknowledged);
    store((s) => done.forEach((b) => s.delete(b.first)));
  }
  function forget() {
    batches = []; fresh = []; number = 0; acknowledged = 0;
    localStorage.clear();
    sessionStorage.clear();
    if (db) { db.close(); db = null; }
    try { indexedDB.deleteDatabase("rows"); } catch { /* there is none */ }
  }
  const waiting = () => batches.reduce((n, b) => n + b.rows.length, 0) - Math.max(0, acknowledged - (batches[0] ? batches[0].first : acknowledged));

  function add(stamp, kind, ...values) {
    fresh.push([stamp, kind, ...values]);
  }

  // ---------------------------------------------------------------- the way to the program: a socket, or requests
  let secret = sessionStorage.getItem("secret");
  let ready = false, over = false;
  let socket = null, socketWorks = false, socketFailed = 0;
  let inFlight = null;        // when the message went that is not answered yet
  let requests = 0;           // so far: each has its number
  let got = [];               // answers that came, and when
  let seen = 0, last = performance.now(), slowUntil = 0;
  let offset = null, half = null;

  function message() {
    keep();
    let first = 0, of = page, rows = [];
    for (const batch of batches) {
      if (batch.first + batch.rows.length <= acknowledged) continue;
      if (rows.length && (batch.of[0] !== of[0] || rows.length + batch.rows.length > MOST_ROWS)) break;
      const skip = Math.max(0, acknowledged - batch.first);
      if (!rows.length) { first = batch.first + skip; of = batch.of; }
      rows = rows.concat(batch.rows.slice(skip, skip + MOST_ROWS));
      if (batch.rows.length - skip > MOST_ROWS) break;
    }
    const left = Math.max(0, waiting() - rows.length);
    const told = got.splice(0, 32), held = batches.length ? Math.max(batches[0].first, acknowledged) : 0;
    return { page, of, first, held, rows, left, got: told, seen, at: clock() };
  }
  function send() {
    if (over || !secret || !ready || inFlight !== null || performance.now() < slowUntil) return;
    inFlight = performance.now();
    const body = message();
    if (socket && socket.readyState === 1) {
      body.at = clock();
      socket.send(JSON.stringify(body));
    } else if (!socket || socketWorks === false) {
      request(body);
    } else {
      inFlight = null;
    }
  }
  async function request(body) {
    const stop = new AbortController(), mine = requests += 1;
    const timer = setTimeout(() => stop.abort(), PATIENCE);
    try {
      body.at = clock();
      const reply = await fetch(`/rows?${mine}`, {
        method: "POST", body: JSON.stringify(body), headers: { "X-Secret": secret }, cache: "no-store", signal: stop.signal,
      });
      const at = clock();
      if (reply.status === 401 || reply.status === 403) { end(); return; }
      const told = await reply.json();
      hear(told, ...times(mine, body.at, at));
    } catch {
      inFlight = null;
    } finally {
      clearTimeout(timer);
    }
  }
  function times(mine, at, came) {  // when an answer came and its question went, nearer to the network than scripts are
    const known = performance.getEntriesByType("resource").find((e) => e.name.endsWith(`/rows?${mine}`));
    performance.clearResourceTimings();
    const went = known ? known.requestStart / 1000 : 0, back = known ? known.responseStart / 1000 : 0;
    return at <= went && went <= back && back <= came ? [back, went] : [came];
  }
  function hear(reply, at, ...went) {
    last = performance.now();
    if (reply.over) { end(); return; }
    if (reply.slow) slowUntil = performance.now() + 1000;
    if (reply.ping) got.push([reply.ping, at, ...went]);
    if (reply.next !== undefined) { inFlight = null; acknowledge(reply.next); }
    if (reply.line) { offset = reply.line[1]; half = reply.line[2]; }
    if (reply.version) { seen = reply.version; show(reply); }
    if (waiting() > MOST_ROWS) send();
  }
  function connect() {
    if (over || !secret || socket || socketFailed > 2 || !window.WebSocket) return;
    let mine;
    try { mine = new WebSocket(`wss://${location.host}/live`); } catch { socketFailed = 9; return; }
    socket = mine; socketWorks = false;
    mine.onopen = () => {
      if (socket !== mine) return;
      socketWorks = true; socketFailed = 0; inFlight = null;
      mine.send(JSON.stringify({ secret }));
      send();
    };
    mine.onmessage = (event) => hear(JSON.parse(event.data), event.timeStamp > 0 ? Math.max(event.timeStamp / 1000, 0) : clock());
    mine.onclose = mine.onerror = () => {
      if (socket !== mine) return;
      if (socketWorks) inFlight = null; else socketFailed += 1;  // before it opens, requests are in flight
      socket = null;
      setTimeout(connect, 2000);
    };
  }
  function look() {           // five times a second: one message, whatever there is
    if (over) return;
    if (inFlight !== null && performance.now() - inFlight > PATIENCE) {
      inFlight = null;
      if (socket) { const old = socket; socket = null; old.close(); setTimeout(connect, 2000); }
    }
    if (performance.now() - last > FORGET) { end(); return; }
    $("link").textContent = performance.now() - last > 2000 ? words.kept : half === null ? "" : `±${Math.max(1, Math.round(1000 * half))} ms`;
    send();
  }
  function end() {
    over = true;
    forget();
    if (socket) socket.close();
    for (const view of document.querySelectorAll("main, nav")) view.hidden = view.id !== "wait";
    $("sign").textContent = "";
    $("ask").textContent = words.over;
    if (lock) lock.release().catch(() => {});
  }

  // ---------------------------------------------------------------- what is shown
  let state = {}, roles = [];
  function show(reply) {
    state = reply.shown || {};
    const you = reply.you || {};
    $("who").textContent = you.name || "";
    $("sign").textContent = you.sign || "";
    $("ask").textContent = reply.confirmed ? "" : words.tell;
    const key = JSON.stringify([reply.confirmed, you.roles, you.fields]);
    if (key !== show.key) { show.key = key; roles = (reply.confirmed && you.roles) || []; arrange(you.fields || []); }
    $("word").textContent = state.word || "";
  }
  function arrange(fields) {
    const has = (role) => roles.includes(role);
    $("wait").hidden = roles.length > 0;
    for (const role of ["count", "tap", "worn", "remote"]) $(role).hidden = !has(role);
    const tap = $("tap");
    tap.replaceChildren();
    fields.forEach((name, k) => {
      const field = document.createElement("div");
      field.className = "field";
      field.textContent = fields.length > 1 ? name : words.tap;
      field.addEventListener("pointerdown", (event) => {
        add(event.timeStamp / 1000, TAP, k);
        keep();
        send();
        event.preventDefault();
        field.classList.add("down");
        stayAwake();
      });
      for (const up of ["pointerup", "pointercancel", "pointerleave"]) field.addEventListener(up, () => field.classList.remove("down"));
      tap.append(field);
    });
  }
  let frame = 1 / 60;         // s from one picture to the next; screens have 60 to 120 a second
  function draw(at) {
    requestAnimationFrame(draw);
    const step = (at - draw.at) / 1000;
    draw.at = at;
    if (step > 0.004 && step < 0.04) frame += (step - frame) / 32;
    if ($("count").hidden || offset === null) return;
    const laid = state.laid || {}, beats = laid.beats || [];
    // what is drawn now is seen a picture later, and a change may come half a picture early or late
    const time = clock() + offset + 1.5 * frame - (state.zero ?? NaN);
    let k = -1;
    if (Number.isFinite(time)) while (k + 1 < beats.length && beats[k + 1][0] <= time) k += 1;
    const beat = beats[k];
    const text = beat && state.playing ? String(beat[1]) : "";
    if ($("beat").textContent !== text) $("beat").textContent = text;
    if (draw.k === k && draw.state === state) return;
    draw.k = k; draw.state = state;
    $("beat").className = beat && beat[2] < 1 ? "lead" : "";
    $("eight").textContent = beat && state.playing ? (beat[2] < 1 ? words.lead_in : words.eight.replace("{number}", beat[2])) : "";
    $("now").textContent = state.playing && beat ? beat[3] || "" : state.said || "";
    const following = beats.slice(k + 1).find((each) => each[3] && (!beat || each[3] !== beat[3]));
    $("next").textContent = state.playing && following ? words.then.replace("{move}", () => following[3]) : "";
  }

  // ---------------------------------------------------------------- what is noticed
  let lock = null, lockSaid = false, sensing = false, heardMotion = false;
  async function stayAwake() {
    if (lock && !lock.released) return;
    try { lock = await navigator.wakeLock.request("screen"); } catch {
      if (!lockSaid) { lockSaid = true; add(clock(), MARK, NO_WAKE_LOCK); }
    }
  }
  function onMotion(event) {
    const a = event.accelerationIncludingGravity, r = event.rotationRate;
    if (!a || a.x === null) return;
    heardMotion = true;
    const turned = r && r.alpha !== null ? [r.beta, r.gamma, r.alpha].map((v) => v * RADIANS) : [0, 0, 0];
    const values = [a.x, a.y, a.z, ...turned].map((v) => Math.round(v * 1e4) / 1e4);
    add(event.timeStamp / 1000, READING, ...values);
  }
  $("sense").addEventListener("click", async () => {
    stayAwake();
    let allowed = typeof DeviceMotionEvent !== "undefined";
    if (allowed && DeviceMotionEvent.requestPermission) {
      try { allowed = (await DeviceMotionEvent.requestPermission()) === "granted"; } catch { allowed = false; }
    }
    if (allowed && !sensing) { sensing = true; window.addEventListener("devicemotion", onMotion); }
    $("sensing").textContent = allowed ? words.measures : words.no_sensor;
    if (allowed) setTimeout(() => {
      if (heardMotion) return;
      $("sensing").textContent = words.no_motion;
      add(clock(), MARK, NO_MOTION);
    }, 2000);
    else add(clock(), MARK, NO_MOTION);
  });
  $("start").addEventListener("click", (event) => { add(event.timeStamp / 1000, REMOTE, 0); send(); stayAwake(); });
  $("end").addEventListener("click", (event) => { add(event.timeStamp / 1000, REMOTE, 1); send(); });
  document.addEventListener("visibilitychange", () => {
    const hidden = document.visibilityState === "hidden";
    add(clock(), MARK, hidden ? HIDDEN : SHOWN);
    keepAtOnce();
    if (!hidden && roles.length) stayAwake();
  });
  window.addEventListener("pagehide", keepAtOnce);
  document.addEventListener("click", () => { if (roles.length) stayAwake(); });

  // ---------------------------------------------------------------- joining
  async function begin() {
    const token = new URLSearchParams(location.hash.slice(1)).get("t");
    history.replaceState(null, "", location.pathname);
    if (token) {
      // a code that is scanned again by a phone that takes part: it is known by this
      const known = localStorage.getItem("me") || me;
      const reply = await fetch("/join", { method: "POST", body: JSON.stringify({ token, me: known }), cache: "no-store" }).catch(() => null);
      if (reply && reply.ok) {
        forget();
        localStorage.setItem("me", known);
        const joined = await reply.json();
        secret = joined.secret;
        sessionStorage.setItem("secret", secret);
        $("sign").textContent = joined.sign;
      } else if (!secret) {
        $("ask").textContent = words.used;
        return;
      }
    }
    if (!secret) { $("ask").textContent = words.scan; return; }
    db = await openStore();
    batches = takeUp(await readStore());
    number = Math.max(number, ...batches.map((b) => b.first + b.rows.length));
    ready = true;
    setInterval(look, EVERY);
    setInterval(keep, EVERY);
    connect();
    setTimeout(send, 100);
    requestAnimationFrame(draw);
  }
  begin();
})();
