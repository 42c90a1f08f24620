// Adds to pages that are whole without it: time left on a wait, and a field
// that filters a long list.
(function () {
  "use strict";
  function left() {
    document.querySelectorAll("time[data-left]").forEach(function (t) {
      var ms = Date.parse(t.getAttribute("datetime")) - Date.now();
      if (isNaN(ms)) return;
      var s = t.nextElementSibling;
      if (!s || !s.classList.contains("left")) {
        s = document.createElement("span");
        s.className = "left";
        t.after(" ", s);
      }
      var m = Math.max(0, Math.ceil(ms / 60000)), h = Math.floor(m / 60);
      s.textContent = m === 0 ? "" : "(in " + (h ? h + " h " : "") + (m % 60) + " min)";
    });
  }
  left();
  setInterval(left, 30000);
  document.querySelectorAll("[data-filter]").forEach(function (box, i) {
    var rows = box.querySelectorAll("[data-row]");
    if (rows.length < 9) return;
    var label = document.createElement("label"), input = document.createElement("input"), said = document.createElement("span");
    label.className = "filter noprint";
    input.type = "search";
    said.setAttribute("role", "status");
    label.append("find " + box.getAttribute("data-filter") + " ", input);
    var first = box.querySelector("h2");
    if (first) { first.after(label, said); } else { box.before(label, said); }
    input.addEventListener("input", function () {
      var want = input.value.trim().toLowerCase(), n = 0;
      rows.forEach(function (r) {
        r.hidden = want !== "" && r.textContent.toLowerCase().indexOf(want) < 0;
        if (!r.hidden) n++;
      });
      said.textContent = want ? n + " of " + rows.length : "";
    });
  });
})();
