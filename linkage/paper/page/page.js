"use strict";
(function () {
  var data = JSON.parse(document.getElementById("motion").textContent);
  var last = data.positions - 1;
  var root = document.documentElement;
  var slider = document.getElementById("pedal");
  var button = document.getElementById("play");
  var share = document.getElementById("share");
  var foot = document.getElementById("foot");
  var told = document.getElementById("told");
  var still = window.matchMedia("(prefers-reduced-motion: reduce)");
  var sweep = 7000; // milliseconds there and back
  var place = 0; // positions, and parts of one
  var shown = -1;
  var since = null;
  var frame = 0;

  // A track comes as its first place and then step by step.
  data.tracks.forEach(function (axes) {
    axes.forEach(function (steps) { for (var i = 1; i < steps.length; i += 1) steps[i] += steps[i - 1]; });
  });

  // Every moving shape: which attributes follow which track.
  var moving = [];
  document.querySelectorAll("#live [data-a], #live [data-b], .curves [data-a], .curves [data-b]").forEach(function (shape) {
    var round = shape.tagName === "circle";
    if (shape.dataset.a) moving.push([shape, round ? "cx" : "x1", round ? "cy" : "y1", data.tracks[shape.dataset.a]]);
    if (shape.dataset.b) moving.push([shape, "x2", "y2", data.tracks[shape.dataset.b]]);
  });
  var cells = data.readings.map(function (reading, i) { return [document.getElementById("read-" + i), reading]; });

  function show(at) {
    place = Math.min(Math.max(at, 0), last);
    var i = Math.min(Math.floor(place), last - 1), part = place - i;
    moving.forEach(function (row) {
      var x = row[3][0], y = row[3][1];
      row[0].setAttribute(row[1], ((x[i] + part * (x[i + 1] - x[i])) / 10).toFixed(1));
      row[0].setAttribute(row[2], ((y[i] + part * (y[i + 1] - y[i])) / 10).toFixed(1));
    });
    foot.setAttribute("transform", "rotate(" + (24 * place / last).toFixed(1) + " 9 39)");
    var near = Math.round(place);
    if (near === shown) return;
    shown = near;
    slider.value = near;
    share.textContent = percent(near);
    cells.forEach(function (cell) { cell[0].textContent = cell[1].values[near]; });
  }

  function percent(at) { return Math.round(100 * at / last) + " %"; }

  // Said to those who do not see it; not while it plays, which would talk without end.
  function describe() {
    var words = data.readings.map(function (reading) { return reading.name + " " + reading.values[shown]; });
    slider.setAttribute("aria-valuetext", [percent(shown) + " of the travel"].concat(words).join(", "));
  }

  function step(now) {
    if (since === null) since = now - sweep * Math.acos(1 - 2 * place / last) / (2 * Math.PI);
    show(last * (0.5 - 0.5 * Math.cos(2 * Math.PI * (now - since) / sweep)));
    frame = window.requestAnimationFrame(step);
  }

  function play() {
    if (frame) return;
    since = null;
    frame = window.requestAnimationFrame(step);
    label("Pause");
  }

  function pause() {
    if (!frame) return;
    window.cancelAnimationFrame(frame);
    frame = 0;
    show(Math.round(place));
    describe();
    label("Play");
  }

  function label(text) { button.textContent = text; }

  function toggle() {
    if (frame) {
      pause();
      told.textContent = "Stopped at " + percent(shown) + " of the travel.";
    } else {
      play();
      told.textContent = "Playing.";
    }
  }

  button.addEventListener("click", toggle);
  slider.addEventListener("pointerdown", pause);
  slider.addEventListener("keydown", function (event) {
    if (event.key === " ") {
      event.preventDefault();
      toggle();
    } else if (event.key !== "Tab" && event.key !== "Shift") pause();
  });
  slider.addEventListener("input", function () {
    pause();
    show(Number(slider.value));
    describe();
  });
  document.addEventListener("visibilitychange", function () { since = null; });
  still.addEventListener("change", function () { if (still.matches) pause(); });

  root.classList.add("live");
  show(0);
  describe();
  if (!still.matches) play();
})();
