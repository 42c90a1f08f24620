// The page works without this script: every button is a form. The script adds
// the countdown, looks that come by themselves, alarms, and a queue that keeps
// taps on the device until the shop's machine has answered.
(function () {
  "use strict";
  var words = JSON.parse(document.getElementById("words").textContent);
  var main = document.getElementById("main");
  var line = document.getElementById("line");
  var tools = document.getElementById("tools");
  var sending = false, reachable = true;
  function each(list, f) { Array.prototype.forEach.call(list, f); }
  function all(sel, f) { each(document.querySelectorAll(sel), f); }

  // What is kept on the device. A full or forbidden store leaves it in memory,
  // which is said while something waits.
  var memory = {}, unkept = false;
  function get(key, none) {
    if (key in memory) { return memory[key]; }
    try { var v = localStorage.getItem("caul-" + key); return v === null ? none : JSON.parse(v); } catch (e) { return none; }
  }
  function set(key, v) {
    try { localStorage.setItem("caul-" + key, JSON.stringify(v)); delete memory[key]; } catch (e) { memory[key] = v; unkept = true; }
  }

  // An id is the device's name and a number used once.
  var last = ""; // the newest tap that the page does not show yet
  function random(n) {
    var a = new Uint8Array(n);
    crypto.getRandomValues(a);
    return Array.prototype.map.call(a, function (b) { return ("0" + b.toString(16)).slice(-2); }).join("");
  }
  function newID() {
    var d = get("device", "");
    if (!d) { d = random(6); set("device", d); }
    return d + "-" + random(6);
  }

  // The shop's clock: a phone's own may be wrong.
  var ahead = 0;
  function clock(ms) { if (ms) { ahead = Number(ms) - Date.now(); set("ahead", ahead); } }
  function now() { return Date.now() + ahead; }
  // A page that the device had kept knows nothing of the time now.
  var opened = document.body.hasAttribute("data-kept");
  if (opened) { ahead = get("ahead", 0); } else { clock(document.body.getAttribute("data-now")); }
  var at = document.body.getAttribute("data-at"); // when what is shown was so

  function tell() {
    var n = get("taps", []).length + waiting.length, out = [];
    if (n) { out.push(n + " " + words.waiting + "."); }
    if (n && unkept) { out.push(words.unkept); }
    if (!reachable) { out.push(words.offline + " " + words["as-at"] + " " + at + "."); }
    var text = out.join(" "), no = get("refused", []), odd = get("odd", []), key = text + JSON.stringify([no, odd]);
    if (line.getAttribute("data-key") === key) { return; }
    line.setAttribute("data-key", key);
    line.textContent = text;
    if (no.length) {
      no.forEach(function (r) {
        var p = document.createElement("p");
        p.textContent = words.refused + ": " + r.why + (r.text ? " (" + r.text + ")" : "");
        line.appendChild(p);
      });
      var b = document.createElement("button");
      b.type = "button"; b.textContent = words.dismiss;
      b.addEventListener("click", function () { set("refused", []); tell(); });
      line.appendChild(b);
    }
    odd.forEach(function (o) {
      var p = document.createElement("p");
      p.textContent = words["looks-odd"] + ": " + o.why.join("; ") + ".";
      line.appendChild(p);
      [["undo", function () { tap("/tap", { job: o.job, did: "undid", of: o.id }); }], ["dismiss", null]].forEach(function (x) {
        var b = document.createElement("button");
        b.type = "button"; b.textContent = words[x[0]];
        b.addEventListener("click", function () { noOdd(o.id, ""); if (x[1]) { x[1](); } });
        line.appendChild(b);
      });
    });
  }
  // What looks odd about an entry is told until it is seen or taken back.
  function looksOdd(body, text) {
    var got;
    try { got = JSON.parse(text); } catch (e) { return; }
    if (!got.looks || !got.looks.length) { return; }
    var odd = get("odd", []).filter(function (o) { return o.id !== body.id; });
    odd.push({ id: body.id, job: body.job, entry: got.entry, why: got.looks });
    set("odd", odd.slice(-5));
  }
  function noOdd(id, entry) {
    set("odd", get("odd", []).filter(function (o) { return o.id !== id && o.entry !== entry; }));
    tell();
  }
  // A tap that was not kept is told in full, so that it can be written anew.
  function said(body) {
    var t = new Date(body.at), at = ("0" + t.getHours()).slice(-2) + ":" + ("0" + t.getMinutes()).slice(-2);
    return [words["did-" + body.did], body.step, body.check, body.note || body.value || body.air || body.text, at].filter(function (x) { return x; }).join(", ");
  }
  function refuse(why, text) {
    var no = get("refused", []);
    no.push({ why: why.trim(), text: text || "" });
    set("refused", no);
  }

  // Taps go out one at a time, in the order they were made. Only an answer takes
  // a tap off the queue: it was kept, or it makes no sense and never will.
  function final(status) { return status === 413 || status === 415 || status === 422; }
  function post(to, head, body, done, retry) {
    sending = true;
    var stop = window.AbortController ? new AbortController() : null;
    var timer = setTimeout(function () { if (stop) { stop.abort(); } }, to.indexOf("/picture") === 0 ? 300000 : 15000);
    fetch(to, { method: "POST", headers: { "Content-Type": head }, body: body, credentials: "same-origin", redirect: "error", signal: stop ? stop.signal : undefined })
      .then(function (r) {
        clearTimeout(timer);
        if (r.status === 401) { sending = false; location.href = "/pair"; return; }
        if (!r.ok && !final(r.status)) { throw new Error("not now"); }
        return r.text().then(function (t) {
          done(r.ok, t);
          reachable = true; sending = false; tell(); send();
        });
      })
      .catch(function () { clearTimeout(timer); reachable = false; sending = false; tell(); });
  }
  var loaded = false; // the pictures that wait are known
  function send() {
    if (sending || !loaded) { return; }
    var q = get("taps", []);
    if (!q.length) { sendPicture(); return; }
    var tap = q[0], body = {}, k;
    // A picture is taken back after it was sent, as it was made.
    if (tap.body.of && waiting.some(function (p) { return p.id === tap.body.of; })) { sendPicture(); return; }
    for (k in tap.body) { body[k] = tap.body[k]; }
    body.sent = new Date().toISOString();
    post(tap.to, "application/json", JSON.stringify(body), function (ok, t) {
      if (!ok) { refuse(t, said(body)); } else if (tap.to === "/tap") { looksOdd(body, t); }
      // Another page of this device may have sent it meanwhile.
      var left = get("taps", []).filter(function (x) { return x.body.id !== body.id; });
      set("taps", left);
      if (!left.length) { look(); }
    });
  }
  var unseen = false; // something was tapped since the page was drawn
  function tap(to, body) {
    body.id = newID();
    if (to === "/tap") { last = body.did === "undid" ? "" : body.id; unseen = true; }
    body.at = new Date().toISOString();
    var q = get("taps", []);
    q.push({ to: to, body: body });
    set("taps", q);
    tell(); send();
  }

  // Pictures are too large for the small store; they wait in the large one.
  var db = null, waiting = [];
  function openStore(then) {
    var req;
    try { req = indexedDB.open("caul", 1); } catch (e) { unkept = true; then(); return; }
    req.onupgradeneeded = function () { req.result.createObjectStore("pictures", { keyPath: "id" }); };
    req.onsuccess = function () {
      db = req.result;
      var got = db.transaction("pictures").objectStore("pictures").getAll();
      got.onsuccess = function () {
        // The store has them by their ids, and they are wanted as they were made.
        waiting.forEach(function (p) { store(function (s) { s.put(p); }); }); // taken before it was open
        waiting = got.result.concat(waiting).sort(function (a, b) { return a.at < b.at ? -1 : 1; });
        tell(); then();
      };
      got.onerror = function () { then(); };
    };
    req.onerror = function () { unkept = true; then(); };
  }
  function store(f) {
    if (!db) { return; }
    var t = db.transaction("pictures", "readwrite");
    t.onabort = function () { unkept = true; tell(); };
    f(t.objectStore("pictures"));
  }
  function keepPicture(p) {
    waiting.push(p);
    last = p.id; unseen = true;
    store(function (s) { s.put(p); });
    tell(); send();
  }
  function sendPicture() {
    if (sending || !waiting.length) { return; }
    var p = waiting[0];
    var q = "?id=" + p.id + "&job=" + encodeURIComponent(p.job) + "&step=" + encodeURIComponent(p.step) +
      "&at=" + encodeURIComponent(p.at) + "&sent=" + encodeURIComponent(new Date().toISOString());
    post("/picture" + q, "application/octet-stream", p.file, function (ok, t) {
      if (!ok) { refuse(t, words.picture); }
      waiting = waiting.filter(function (x) { return x.id !== p.id; });
      store(function (s) { s.delete(p.id); });
      if (!waiting.length) { look(); }
    });
  }

  // Pages are fetched as their main part and kept while this page is open, so
  // that one can go round the shop's pages without a network.
  var pages = {}, shown = "", plain = main.innerHTML, down = false, late = false, changes = 0;
  function fetchPart(url) {
    var then = changes;
    return fetch(url, { headers: { "X-Caul-Part": "1" }, credentials: "same-origin" }).then(function (r) {
      if (r.status === 401) { location.href = "/pair"; }
      if (!r.ok || r.redirected) { throw new Error("no page"); }
      var kept = r.headers.get("X-Caul-Kept") === "1";
      if (!kept) { clock(r.headers.get("X-Caul-Now")); }
      var when = r.headers.get("X-Caul-At") || "", name = decodeURIComponent(r.headers.get("X-Caul-Title") || "");
      return r.text().then(function (t) {
        var p = { text: t, bare: t.replace(/name="id" value="[^"]*"/g, ""), title: name, at: when, kept: kept, changes: then };
        pages[url] = p;
        return p;
      });
    });
  }
  function here() { return location.pathname + location.search; }
  function writing() {
    var el = document.activeElement;
    return el && /^(TEXTAREA|INPUT)$/.test(el.tagName) && el.type !== "checkbox" && main.contains(el);
  }
  function put(p, fresh) {
    if (!fresh && (down || writing())) { late = true; return; } // never under a finger or a sentence
    late = false; unseen = false;
    at = p.at;
    if (shown !== p.bare) {
      plain = p.text; shown = p.bare;
      draw(fresh);
      title = p.title || title;
    }
    count();
  }
  // draw puts the main part in anew and what is known here on top; what was
  // open stays open, and nothing moves under the hand.
  function draw(fresh) {
    var open = {}, y = window.scrollY, el = document.activeElement, focus = el && el !== document.body && main.contains(el) && el.tagName === "BUTTON" ? el.textContent : "";
    all("details[data-key]", function (d) { open[d.getAttribute("data-key")] = d.open; });
    main.innerHTML = plain;
    dress();
    if (fresh) { return; }
    all("details[data-key]", function (d) { var k = d.getAttribute("data-key"); if (k in open) { d.open = open[k]; } });
    window.scrollTo(0, y);
    if (focus) { each(main.querySelectorAll("button"), function (b) { if (b.textContent === focus) { b.focus({ preventScroll: true }); } }); }
  }
  var looking = false, again = false;
  function look() {
    if (get("taps", []).length) { return; } // the page is ahead of what the shop's machine knows
    if (looking) { again = true; return; }
    looking = true;
    var url = here();
    fetchPart(url).then(function (p) {
      looking = false; reachable = !p.kept; tell();
      if (p.kept) { again = false; return; } // no newer than what is shown
      if (url === here() && !get("taps", []).length) { put(p, false); }
      if (again) { again = false; look(); } else { fetchNext(); }
    }).catch(function () { looking = false; again = false; });
  }
  var home = "/"; // the first screen with the time the maker says they have
  function isHome(u) { return u === "/" || u.indexOf("/?") === 0; }
  if (isHome(here())) { home = here(); }
  function go(url, back) {
    function open(p) {
      if (!back) { history.pushState(null, "", url); }
      if (isHome(url)) { home = url; }
      put(p, true);
      window.scrollTo(0, 0);
      var h = main.querySelector("h1");
      if (h) { h.setAttribute("tabindex", "-1"); h.focus({ preventScroll: true }); }
    }
    fetchPart(url).then(function (p) {
      open(p);
      reachable = !p.kept; tell();
      if (!p.kept) { fetchNext(); }
    }).catch(function () {
      reachable = false;
      if (pages[url]) { open(pages[url]); tell(); return; }
      tell();
      line.insertAdjacentText("beforeend", " " + words["not-here"]);
    });
  }
  // Steps one may want next are fetched beforehand, one at a time, and the
  // first screen whenever something changed.
  function fetchNext() {
    var todo = [];
    function wanted(u) { return !pages[u] || u === home && pages[u].changes !== changes; }
    all("#main a[href^='/step/'], #main a[href^='/job/'], #main a[href='/'], #main a[href^='/?']", function (a) { var u = a.getAttribute("href"); if (wanted(u) && todo.indexOf(u) < 0) { todo.push(u); } });
    (function one() {
      var u = todo.shift();
      if (u) { if (wanted(u)) { fetchPart(u).then(one, function () { /* later */ }); } else { one(); } }
    })();
  }
  function link(e) {
    var a = e.target.closest ? e.target.closest("a[href]") : null;
    if (!a || e.defaultPrevented || e.button || e.metaKey || e.ctrlKey || e.shiftKey || a.hasAttribute("data-plain")) { return; }
    var u = a.getAttribute("href");
    if (!isHome(u) && u.indexOf("/step/") !== 0 && u.indexOf("/job/") !== 0) { return; }
    e.preventDefault();
    go(u, false);
  }
  window.addEventListener("popstate", function () { go(here(), true); });

  // A line that says nothing for longer than two beats is no line: a phone that
  // has left the Wi-Fi is told by nobody.
  var ev = null, heard = 0;
  function listen() {
    if (ev) { ev.close(); }
    ev = new EventSource("/events");
    heard = Date.now();
    ev.addEventListener("look", function (e) { heard = Date.now(); changes++; clock(e.data.split(" ")[1]); reachable = true; tell(); send(); look(); });
    ev.addEventListener("time", function (e) { heard = Date.now(); clock(e.data); count(); if (!reachable) { reachable = true; tell(); } });
    ev.onerror = function () {
      reachable = false; tell();
      if (ev.readyState === 2) { setTimeout(listen, 3000); }
    };
  }

  // A step's buttons follow its taps at once, whether they have been sent or
  // not; what was tapped stands where the button stood, and undo names it.
  var after = { began: "bench", "took-up": "bench", clamped: "clamps", unclamped: "curing", finished: "done", "set-aside": "aside" };
  function follow(b) {
    shown = ""; // this is no longer what the shop's machine drew
    var done = words["did-" + b.did], state = after[b.did], name = "";
    if (state) {
      all(".acts", function (acts) {
        var mine = false;
        each(acts.querySelectorAll("form.tap"), function (f) {
          if (f.elements.job.value !== b.job || f.elements.step.value !== b.step) { return; }
          mine = true;
          f.hidden = f.getAttribute("data-when").split(" ").indexOf(state) < 0;
        });
        if (!mine) { return; }
        var p = acts.querySelector(".tapped"), card = acts.parentNode.querySelector(".name, h1");
        if (!p) { p = document.createElement("p"); p.className = "tapped"; acts.insertBefore(p, acts.firstChild); }
        p.textContent = done;
        if (card) { name = card.textContent; }
        if (acts.classList.contains("all")) { all("#main p > .state", function (s) { s.textContent = done; }); }
      });
      if (b.did === "unclamped") {
        all("[data-clamps]", function (card) {
          var left = card.querySelector(".left");
          if (card.getAttribute("data-clamps") !== b.job + "/" + b.step) { return; }
          left.removeAttribute("data-ready"); left.textContent = done;
          card.removeAttribute("data-timer"); card.classList.remove("over");
        });
      }
    }
    all("form.undo", function (f) {
      if (b.did === "undid") { f.hidden = true; return; } // until it is known what would be next
      f.hidden = false;
      f.querySelector(".what").textContent = done + (name ? ": " + name : "");
    });
  }
  // What comes up under a finger that is still tapping waits for the next touch:
  // clamps off stands where clamps on stood, and a glove bounces.
  var restUntil = 0;
  function rest() {
    var ms = restUntil - Date.now();
    all("form.tap button", function (b) { b.disabled = ms > 0; });
    if (ms > 0) { setTimeout(rest, ms + 10); }
  }
  // Taps that wait are shown as made when a page is drawn, those that are taken
  // back apart; what was written and not sent stands where it stood.
  function dress() {
    var taps = get("taps", []), back = {};
    taps.forEach(function (t) { if (t.body.did === "undid" && t.body.of) { back[t.body.of] = true; } });
    taps.forEach(function (t) {
      if (t.to !== "/tap") { ticked(t.body); } else if (!back[t.body.id]) { follow(t.body); }
    });
    rest();
    var drafts = get("drafts", {});
    all("[data-draft]", function (el) {
      var v = drafts[location.pathname + " " + el.getAttribute("data-draft")];
      if (v && !el.value) { el.value = v; }
    });
    all("a.back[href='/']", function (a) { a.setAttribute("href", home); });
    var dry = get("dry", {});
    all("[data-dry]", function (el) { el.checked = !!dry[el.getAttribute("data-dry")]; });
    all(".pic button", function (b) { b.hidden = true; }); // a chosen picture goes by itself
    count();
  }
  function ticked(body) {
    all("form.tick", function (f) {
      if (f.elements.job.value === body.job && f.elements.step.value === body.step && f.elements.text.value === body.text) {
        f.querySelector("button").setAttribute("aria-checked", String(body.done));
        f.elements.done.value = String(!body.done);
      }
    });
  }

  // Countdown and alarms.
  var ring = window.caulAlarm(words, tools);
  var rung = {}, title = document.title, seconds = -1;
  function leftText(ms) {
    if (ms <= 0) { return words.over; }
    var m = Math.ceil(ms / 60000);
    if (m < 60) { return m + " " + words.min; }
    var r = m % 60;
    return Math.floor(m / 60) + " " + words.h + " " + (r < 10 ? "0" : "") + r + " " + words.min;
  }
  function count() {
    var t = now(), over = false;
    all("[data-ready]", function (el) {
      var ms = Number(el.getAttribute("data-ready")) - t, text = leftText(ms);
      if (el.textContent !== text) { el.textContent = text; }
      var card = el.closest ? el.closest("[data-timer]") : null;
      if (card) { card.classList.toggle("over", ms <= 0); }
      var key = el.getAttribute("data-name") + el.getAttribute("data-ready");
      if (ms <= 0) {
        over = true;
        if (rung[key] === false) { ring(); setTimeout(look, 500); } // there may be something new to do
        rung[key] = true;
      } else { rung[key] = false; }
    });
    var open = get("open", {});
    all(".open-time", function (b) {
      var until = open[b.getAttribute("data-key")];
      var text = words["start-open"];
      if (until) {
        var s = Math.round((until - t) / 1000), a = Math.abs(s);
        text = words["open-time"] + " " + (s < 0 ? "-" : "") + Math.floor(a / 60) + ":" + ("0" + a % 60).slice(-2);
        if (s <= 0 && seconds > 0) { ring(); }
        seconds = s;
        b.classList.toggle("late", s <= 0);
      }
      if (b.textContent !== text) { b.textContent = text; }
    });
    var now1 = (over ? "(!) " : "") + title;
    if (document.title !== now1) { document.title = now1; }
  }
  document.addEventListener("submit", function (e) {
    var f = e.target, to = f.getAttribute("action");
    if (to !== "/tap" && to !== "/tick") { return; }
    e.preventDefault();
    var body = {}, drafts = get("drafts", {});
    each(f.elements, function (el) {
      if (el.name && el.name !== "back" && el.name !== "id") { body[el.name] = el.value; }
      if (el.hasAttribute("data-draft")) { delete drafts[location.pathname + " " + el.getAttribute("data-draft")]; }
    });
    set("drafts", drafts);
    if (body.a !== undefined) { body.value = [body.a, body.b, body.l].join(","); delete body.a; delete body.b; delete body.l; }
    if (to === "/tick") {
      body.done = body.done === "true";
      ticked(body);
    }
    if (body.did === "undid" && unseen) { // what was tapped last, not what the page showed before
      delete body.entry;
      if (last) { body.of = last; }
    }
    if (body.did === "undid") { noOdd(body.of, body.entry); }
    if (f.classList.contains("write")) { f.reset(); if (document.activeElement) { document.activeElement.blur(); } }
    if (body.did === "clamped") { // the glue is closed, and the next time is another dry fit
      var k = body.job + "/" + body.step, open = get("open", {}), dry = get("dry", {});
      delete open[k]; set("open", open);
      Object.keys(dry).forEach(function (x) { if (x.indexOf(k + "/") === 0) { delete dry[x]; } });
      set("dry", dry);
    }
    tap(to, body);
    if (to !== "/tap") { return; }
    if (f.classList.contains("tap")) { restUntil = Date.now() + 700; }
    if (body.did === "undid") { draw(false); } else { follow(body); rest(); }
  });
  document.addEventListener("change", function (e) {
    var el = e.target;
    if (el.type === "file" && el.files && el.files.length) {
      each(el.files, function (f) {
        keepPicture({ id: newID(), job: el.form.elements.job.value, step: el.form.elements.step.value, at: new Date().toISOString(), file: f });
      });
      el.value = "";
    } else if (el.hasAttribute("data-dry")) {
      var dry = get("dry", {});
      dry[el.getAttribute("data-dry")] = el.checked;
      set("dry", dry);
    }
  });
  document.addEventListener("input", function (e) {
    if (!e.target.hasAttribute("data-draft")) { return; }
    var drafts = get("drafts", {});
    drafts[location.pathname + " " + e.target.getAttribute("data-draft")] = e.target.value;
    set("drafts", drafts);
  });
  document.addEventListener("click", function (e) {
    var b = e.target.closest ? e.target.closest(".open-time") : null;
    if (b) {
      var open = get("open", {}), k = b.getAttribute("data-key");
      if (open[k]) { delete open[k]; } else { open[k] = now() + Number(b.getAttribute("data-seconds")) * 1000; }
      set("open", open); seconds = -1;
      count();
      return;
    }
    link(e);
  });
  document.addEventListener("pointerdown", function () { down = true; });
  ["pointerup", "pointercancel"].forEach(function (n) {
    document.addEventListener(n, function () { setTimeout(function () { down = false; if (late) { look(); } }, 60); });
  });
  document.addEventListener("focusout", function () { setTimeout(function () { if (late) { look(); } }, 60); });
  window.addEventListener("online", send);
  window.addEventListener("storage", function () { tell(); });
  document.addEventListener("visibilitychange", function () {
    if (document.hidden) { return; }
    send(); look();
  });
  // Where the browser lets a page keep itself on the device it can be opened
  // without the shop's machine; elsewhere it must stay open, and says so.
  if (navigator.serviceWorker && window.isSecureContext) {
    navigator.serviceWorker.addEventListener("controllerchange", function () { pages = {}; look(); });
    navigator.serviceWorker.register("/sw.js").catch(function () { /* then it has to stay open */ });
  } else {
    var stays = document.createElement("p");
    stays.textContent = words["keep-open"];
    tools.appendChild(stays);
  }
  function start() { loaded = true; tell(); send(); }
  openStore(start);
  setTimeout(start, 5000); // a store that never opens must not hold up the taps
  setInterval(count, 1000);
  setInterval(function () {
    if (Date.now() - heard > 25000) { reachable = false; tell(); listen(); }
    send();
  }, 3000);
  dress();
  if (opened) { // the frame is that of the last whole page, and what belongs in it is kept apart
    reachable = false; tell();
    if (document.body.getAttribute("data-path") !== here()) { main.textContent = ""; }
    go(here(), true);
  }
  listen();
})();
