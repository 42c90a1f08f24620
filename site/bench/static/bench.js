// The page works without this script: every button is a form. The script adds
// the countdown, looks that come by themselves, alarms, and a queue that keeps
// taps on the device until the shop's machine has answered.
(function () {
  "use strict";
  var KEY = "caul-taps";
  var words = JSON.parse(document.getElementById("words").textContent);
  var main = document.getElementById("main");
  var line = document.getElementById("line");
  var sending = false, reachable = true, refused = "";

  function newID() {
    var a = new Uint8Array(16);
    crypto.getRandomValues(a);
    return Array.prototype.map.call(a, function (b) { return ("0" + b.toString(16)).slice(-2); }).join("");
  }
  function queue() {
    try { return JSON.parse(localStorage.getItem(KEY)) || []; } catch (e) { return []; }
  }
  function keep(q) { localStorage.setItem(KEY, JSON.stringify(q)); tell(); }
  function tell() {
    var n = queue().length + waiting.length, out = [];
    if (refused) { out.push(words.refused + ": " + refused); }
    if (n) { out.push(n + " " + words.waiting + "."); }
    if (!reachable) { out.push(words.offline); }
    var text = out.join(" ");
    if (line.textContent !== text) { line.textContent = text; }
  }

  // Taps go out one at a time, in the order they were made. An answer, good or
  // bad, takes a tap off the queue; silence leaves it there.
  function send() {
    if (sending) { return; }
    var q = queue();
    if (!q.length) { sendPictures(); return; }
    sending = true;
    var tap = q[0];
    var body = {}, k;
    for (k in tap.body) { body[k] = tap.body[k]; }
    body.sent = new Date().toISOString();
    fetch(tap.to, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), credentials: "same-origin" })
      .then(function (r) {
        if (r.ok || (r.status >= 400 && r.status < 500 && r.status !== 401 && r.status !== 408 && r.status !== 429)) {
          return r.text().then(function (t) {
            refused = r.ok ? "" : t.trim();
            // Another page of this device may have sent it meanwhile.
            keep(queue().filter(function (x) { return x.body.id !== tap.body.id; }));
            reachable = true; sending = false; send(); look();
          });
        }
        if (r.status === 401) { location.href = "/pair"; return; }
        throw new Error("not now");
      })
      .catch(function () { reachable = false; sending = false; tell(); });
  }
  function tap(to, body) {
    body.id = body.id || newID();
    body.at = new Date().toISOString();
    var q = queue();
    q.push({ to: to, body: body });
    keep(q);
    send();
  }

  // Pictures are too large for the small store; they wait in the large one.
  var db = null, waiting = [];
  function openStore(then) {
    if (!window.indexedDB) { then(); return; }
    var req = indexedDB.open("caul", 1);
    req.onupgradeneeded = function () { req.result.createObjectStore("pictures", { keyPath: "id" }); };
    req.onsuccess = function () {
      db = req.result;
      var all = db.transaction("pictures").objectStore("pictures").getAll();
      all.onsuccess = function () { waiting = all.result; tell(); then(); };
    };
    req.onerror = function () { then(); };
  }
  function keepPicture(p) {
    waiting.push(p);
    if (db) { db.transaction("pictures", "readwrite").objectStore("pictures").put(p); }
    tell(); send();
  }
  function sendPictures() {
    if (sending || !waiting.length) { return; }
    sending = true;
    var p = waiting[0];
    var q = "?id=" + p.id + "&job=" + encodeURIComponent(p.job) + "&step=" + encodeURIComponent(p.step) +
      "&at=" + encodeURIComponent(p.at) + "&sent=" + encodeURIComponent(new Date().toISOString());
    fetch("/picture" + q, { method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: p.file, credentials: "same-origin" })
      .then(function (r) {
        if (r.status === 401) { location.href = "/pair"; return; }
        if (r.status >= 500 || r.status === 429 || r.status === 408) { throw new Error("not now"); }
        return r.text().then(function (t) {
          refused = r.ok ? "" : t.trim();
          waiting.shift();
          if (db) { db.transaction("pictures", "readwrite").objectStore("pictures").delete(p.id); }
          reachable = true; sending = false; tell(); send(); look();
        });
      })
      .catch(function () { reachable = false; sending = false; tell(); });
  }

  // A new look replaces the page's main part, unless somebody is writing in it.
  var looking = false;
  function look() {
    var el = document.activeElement;
    if (looking || queue().length || (el && /^(TEXTAREA|INPUT)$/.test(el.tagName) && el.type !== "checkbox" && el.value)) { return; }
    looking = true;
    fetch(location.href, { headers: { "X-Caul-Part": "1" }, credentials: "same-origin" })
      .then(function (r) { if (!r.ok || r.redirected) { throw new Error("no"); } return r.text(); })
      .then(function (t) {
        looking = false; reachable = true; tell();
        if (t !== main.innerHTML) { var y = window.scrollY; main.innerHTML = t; window.scrollTo(0, y); }
        count();
      })
      .catch(function () { looking = false; });
  }
  function listen() {
    var ev = new EventSource("/events");
    ev.addEventListener("look", function () { reachable = true; tell(); send(); look(); });
    ev.onerror = function () {
      reachable = false; tell();
      if (ev.readyState === 2) { setTimeout(listen, 3000); }
    };
  }

  // Countdown and alarms.
  var rung = {}, sound = null, title = document.title;
  function leftText(ms) {
    if (ms <= 0) { return words.over; }
    var m = Math.ceil(ms / 60000);
    if (m < 60) { return m + " min"; }
    var r = m % 60;
    return Math.floor(m / 60) + " h " + (r < 10 ? "0" : "") + r + " min";
  }
  function count() {
    var now = Date.now(), over = false;
    Array.prototype.forEach.call(document.querySelectorAll("[data-ready]"), function (el) {
      var ms = Number(el.getAttribute("data-ready")) - now;
      var t = leftText(ms);
      if (el.textContent !== t) { el.textContent = t; }
      var key = el.getAttribute("data-name") + el.getAttribute("data-ready");
      if (ms <= 0) {
        over = true;
        if (rung[key] === false) { ring(); }
        rung[key] = true;
      } else { rung[key] = false; }
    });
    if (openUntil) {
      var b = document.getElementById("open-time"), s = Math.round((openUntil - now) / 1000);
      if (b) { b.textContent = words["open-time"] + " " + (s < 0 ? "-" : "") + Math.floor(Math.abs(s) / 60) + ":" + ("0" + Math.abs(s) % 60).slice(-2); }
      if (s === 0) { ring(); }
    }
    document.title = (over ? "(!) " : "") + title;
  }
  function ring() {
    if (navigator.vibrate) { navigator.vibrate([400, 200, 400, 200, 800]); }
    if (!sound) { return; }
    [0, 0.35, 0.7].forEach(function (at) {
      var o = sound.createOscillator(), g = sound.createGain();
      o.frequency.value = 880; o.connect(g); g.connect(sound.destination);
      g.gain.setValueAtTime(0.4, sound.currentTime + at);
      g.gain.exponentialRampToValueAtTime(0.001, sound.currentTime + at + 0.3);
      o.start(sound.currentTime + at); o.stop(sound.currentTime + at + 0.32);
    });
  }
  var openUntil = 0;

  // A browser lets a page sound and stay awake only after a touch.
  var foot = document.querySelector("footer");
  function button(label, on) {
    var b = document.createElement("button");
    b.type = "button"; b.textContent = label;
    b.addEventListener("click", function () { on(b); });
    foot.insertBefore(b, foot.firstChild);
    return b;
  }
  var Audio = window.AudioContext || window.webkitAudioContext;
  if (Audio) {
    button(words["alarm-off"], function (b) {
      if (sound) { sound.close(); sound = null; b.textContent = words["alarm-off"]; b.setAttribute("aria-pressed", "false"); } else { sound = new Audio(); b.textContent = words["alarm-on"]; b.setAttribute("aria-pressed", "true"); ring(); }
    }).setAttribute("aria-pressed", "false");
  }
  if (navigator.wakeLock) {
    button(words.awake, function (b) {
      navigator.wakeLock.request("screen").then(function () { b.setAttribute("aria-pressed", "true"); }, function () { b.disabled = true; });
    });
  }

  document.addEventListener("submit", function (e) {
    var f = e.target;
    if (f.getAttribute("action") !== "/tap") { return; }
    e.preventDefault();
    var body = {};
    Array.prototype.forEach.call(f.elements, function (el) {
      if (el.name && el.name !== "back" && el.name !== "id") { body[el.name] = el.value; }
    });
    if (f.className === "write") { f.reset(); if (document.activeElement) { document.activeElement.blur(); } }
    var b = f.querySelector("button");
    if (f.className === "tap") { b.disabled = true; setTimeout(function () { b.disabled = false; }, 1500); }
    tap("/tap", body);
  });
  document.addEventListener("change", function (e) {
    var el = e.target;
    if (el.id === "picture" && el.files && el.files.length) {
      Array.prototype.forEach.call(el.files, function (f) {
        keepPicture({ id: newID(), job: el.getAttribute("data-job"), step: el.getAttribute("data-step"), at: new Date().toISOString(), file: f });
      });
      el.value = "";
    } else if (el.type === "checkbox" && el.hasAttribute("data-text")) {
      tap("/tick", { job: el.getAttribute("data-job"), step: el.getAttribute("data-step"), text: el.getAttribute("data-text"), done: el.checked });
    }
  });
  document.addEventListener("click", function (e) {
    if (e.target.id === "open-time") {
      openUntil = openUntil ? 0 : Date.now() + Number(e.target.getAttribute("data-seconds")) * 1000;
      if (!openUntil) { e.target.textContent = words["start-open"]; }
      count();
    }
  });
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", function () { if (!document.hidden) { send(); look(); } });
  openStore(function () { tell(); send(); });
  setInterval(count, 1000);
  setInterval(send, 4000);
  count();
  listen();
})();
