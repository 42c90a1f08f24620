// What makes itself heard: tones, a shake, and a screen that stays on, each
// where the browser lets it. Gives the function that rings.
window.caulAlarm = function (words, tools) {
  "use strict";
  var sound = null;
  function ring() {
    document.documentElement.setAttribute("data-rang", String(Number(document.documentElement.getAttribute("data-rang") || 0) + 1));
    var touched = !navigator.userActivation || navigator.userActivation.hasBeenActive; // or a browser complains
    if (navigator.vibrate && touched) { try { navigator.vibrate([400, 200, 400, 200, 800]); } catch (e) { /* not allowed yet */ } }
    if (!sound) { return; }
    if (sound.state === "suspended") { sound.resume(); } // the screen was off meanwhile
    [0, 0.35, 0.7].forEach(function (at) {
      var o = sound.createOscillator(), g = sound.createGain();
      o.frequency.value = 880; o.connect(g); g.connect(sound.destination);
      g.gain.setValueAtTime(0.4, sound.currentTime + at);
      g.gain.exponentialRampToValueAtTime(0.001, sound.currentTime + at + 0.3);
      o.start(sound.currentTime + at); o.stop(sound.currentTime + at + 0.32);
    });
  }

  // A browser lets a page sound and stay awake only after a touch.
  function button(label, on) {
    var b = document.createElement("button");
    b.type = "button"; b.textContent = label; b.setAttribute("aria-pressed", "false");
    b.addEventListener("click", function () { on(b); });
    tools.appendChild(b);
  }
  var Audio = window.AudioContext || window.webkitAudioContext;
  if (Audio) {
    button(words["alarm-off"], function (b) {
      if (sound) { sound.close(); sound = null; } else { sound = new Audio(); ring(); }
      b.textContent = sound ? words["alarm-on"] : words["alarm-off"];
      b.setAttribute("aria-pressed", String(!!sound));
    });
  }
  var awake = false, lock = null, awakeButton = null;
  function shows() { awakeButton.setAttribute("aria-pressed", String(awake)); }
  function stay() {
    navigator.wakeLock.request("screen").then(function (l) { lock = l; if (awake) { shows(); } else { letGo(); } }, function () { awake = false; shows(); });
  }
  function letGo() { if (lock && lock.release) { lock.release(); } lock = null; }
  if (navigator.wakeLock) {
    button(words.awake, function (b) {
      awake = !awake; awakeButton = b;
      if (awake) { stay(); } else { letGo(); shows(); }
    });
  }
  document.addEventListener("visibilitychange", function () { if (awake && !document.hidden) { stay(); } });
  return ring;
};
