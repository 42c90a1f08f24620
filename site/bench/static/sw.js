// Keeps the last look of every page on the device, so that a page can be opened
// when the shop's machine does not answer. What it gives from there is marked,
// and the page says from when it is. Nothing that is sent passes through here.
"use strict";
var store = "caul-1";
var statics = ["/static/bench.css", "/static/drawing.css", "/static/alarm.js", "/static/bench.js"];
var shell = "/shell"; // key of the last whole page; its main part is put in by the page's script

function keep(key, res) {
  var copy = res.clone();
  return caches.open(store).then(function (c) { return c.put(key, copy); }).catch(function () { /* no room: it is only not kept */ });
}
function kept(key) { return caches.open(store).then(function (c) { return c.match(key); }); }
// A session that is over takes what it was shown with it.
function forget() { return caches.delete(store); }

self.addEventListener("install", function (e) {
  self.skipWaiting();
  e.waitUntil(caches.open(store).then(function (c) {
    return Promise.all([c.addAll(statics), fetch("/", { credentials: "same-origin" }).then(function (res) {
      if (res.ok && !res.redirected) { return c.put(shell, res); }
    })]);
  }));
});
self.addEventListener("activate", function (e) { e.waitUntil(self.clients.claim()); });

function page(e) {
  return fetch(e.request).then(function (res) {
    if (res.type === "opaqueredirect") { e.waitUntil(forget()); return res; }
    if (res.ok) { e.waitUntil(keep(shell, res)); }
    return res;
  }, function (err) {
    return kept(shell).then(function (res) {
      if (!res) { throw err; }
      return res.text().then(function (t) {
        return new Response(t.replace("<body ", "<body data-kept "), { headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": res.headers.get("Content-Security-Policy") || "default-src 'self'" } });
      });
    });
  });
}
function part(e, key) {
  return fetch(e.request).then(function (res) {
    if (res.status === 401) { e.waitUntil(forget()); } else if (res.ok && !res.redirected) { e.waitUntil(keep(key, res)); }
    return res;
  }, function (err) {
    return kept(key).then(function (res) {
      if (!res) { throw err; }
      var h = new Headers(res.headers);
      h.set("X-Caul-Kept", "1");
      return res.text().then(function (t) { return new Response(t, { headers: h }); });
    });
  });
}
function file(e, key) {
  return fetch(e.request).then(function (res) {
    if (res.ok && res.status === 200) { e.waitUntil(keep(key, res)); }
    return res;
  }, function (err) {
    return kept(key).then(function (res) { if (!res) { throw err; } return res; });
  });
}

self.addEventListener("fetch", function (e) {
  var r = e.request, u = new URL(r.url), p = u.pathname;
  if (r.method !== "GET" || u.origin !== self.location.origin) { return; }
  var ours = p === "/" || /^\/(step|job)\//.test(p);
  if (ours && r.headers.get("X-Caul-Part")) { e.respondWith(part(e, "/part" + p + u.search)); }
  else if (ours && r.mode === "navigate") { e.respondWith(page(e)); }
  else if (/^\/(static|photos)\//.test(p)) { e.respondWith(file(e, p)); }
});
