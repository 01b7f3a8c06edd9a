"use strict";
/* The audit's map: releases as shapes, captures as small crosses, and the list beside them. */
(function () {
  var t = tussock, records = [];

  function group(id) {
    if (!t.layers[id]) { t.layers[id] = L.layerGroup().addTo(t.map); }
    return t.layers[id];
  }
  function pane(name, z) {
    if (!t.map.getPane(name)) { t.map.createPane(name).style.zIndex = z; }
    return name;
  }

  t.kinds.captures = function (d) {
    d.at.forEach(function (at) {
      var box = document.createElement("div");
      box.className = "taken-mark";
      L.marker(at, { interactive: false, keyboard: false, pane: pane("captures", 615),
        icon: L.divIcon({ className: "", iconSize: [0, 0], html: box }) }).addTo(group(d.layer));
    });
  };

  t.kinds.record = function (d) {
    var box = document.createElement("div"), knob = document.createElement("button"), word = null;
    box.className = "record-mark " + d.sign;
    knob.type = "button"; knob.setAttribute("aria-label", d.label);
    knob.innerHTML = '<svg viewBox="0 0 16 16" width="16" height="16" fill="none" stroke="currentColor" stroke-width="1.8" aria-hidden="true">' + d.shape + "</svg>";
    box.appendChild(knob);
    if (d.words) {
      word = document.createElement("span");
      word.className = "record-word"; word.textContent = d.words;
      box.appendChild(word);
    }
    L.marker(d.at, { interactive: false, keyboard: false, pane: pane("records", 640), zIndexOffset: -10 * d.order,
      icon: L.divIcon({ className: "", iconSize: [0, 0], html: box }) }).addTo(group(d.layer));
    L.DomEvent.disableClickPropagation(knob);
    knob.addEventListener("click", function () { toList(d.card); });
    records.push({ at: L.latLng(d.at), layer: d.layer, box: box, knob: knob, word: word, card: d.card });
  };

  /* What lies over the map, buttons and scale: a word beneath it could not be read. */
  function covered() {
    var box = t.map.getContainer(), at = box.getBoundingClientRect(), over = [];
    box.parentNode.querySelectorAll(".map-tools, .leaflet-control").forEach(function (e) {
      var r = e.getBoundingClientRect();
      if (r.width) { over.push([r.left - at.left, r.top - at.top, r.right - at.left, r.bottom - at.top, null]); }
    });
    return over;
  }

  /* A word is shown where it covers neither a mark that comes before it nor another word. */
  function words() {
    var taken = covered(), size = t.map.getSize();
    records.forEach(function (r) {
      if (!t.map.hasLayer(t.layers[r.layer])) { return; }
      var p = t.map.latLngToContainerPoint(r.at);
      taken.push([p.x - 12, p.y - 12, p.x + 12, p.y + 12, r]);
    });
    records.forEach(function (r) {
      if (!r.word) { return; }
      r.word.hidden = false;
      var p = t.map.latLngToContainerPoint(r.at), long = r.word.offsetWidth;
      var sides = [[14, -10], [-14 - long, -10], [-long / 2, 13], [-long / 2, -33]];
      var found = t.map.hasLayer(t.layers[r.layer]) && sides.filter(function (s) {
        var b = [p.x + s[0], p.y + s[1], p.x + s[0] + long, p.y + s[1] + 20];
        if (b[0] < 0 || b[2] > size.x || b[1] < 0 || b[3] > size.y) { return false; }
        return taken.every(function (o) { return o[4] === r || b[2] < o[0] || b[0] > o[2] || b[3] < o[1] || b[1] > o[3]; });
      })[0];
      r.word.hidden = !found;
      if (!found) { return; }
      r.word.style.left = found[0] + "px"; r.word.style.top = found[1] + "px";
      taken.push([p.x + found[0], p.y + found[1], p.x + found[0] + long, p.y + found[1] + 20, null]);
    });
  }
  t.onzoom.push(words);

  function mark(id) {
    document.querySelectorAll(".record.here").forEach(function (e) { e.classList.remove("here"); });
    var el = document.getElementById(id);
    if (el) { el.classList.add("here"); }
    records.forEach(function (r) { r.box.classList.toggle("here", r.card === id); });
    return el;
  }
  function toList(id) {
    var el = mark(id), fold = el && el.closest("details");
    if (!el) { return; }
    if (fold) { fold.open = true; }
    el.scrollIntoView({ block: "center", behavior: t.still() ? "auto" : "smooth" });
    el.focus({ preventScroll: true });
  }
  function show(id) {
    records.forEach(function (r) {
      if (r.card !== id) { return; }
      t.map.addLayer(t.layers[r.layer]);
      t.map.setView(r.at, Math.max(t.map.getZoom(), 15.5), { animate: !t.still() });
      mark(id);
      document.querySelector(".map-box").scrollIntoView({ block: "nearest", behavior: t.still() ? "auto" : "smooth" });
      r.knob.focus({ preventScroll: true });
    });
  }
  t.onready.push(function () {
    document.querySelectorAll("[data-show]").forEach(function (b) {
      b.addEventListener("click", function () { show(b.dataset.show); });
    });
    document.querySelectorAll("[data-layer]").forEach(function (b) { b.addEventListener("change", words); });
  });
})();
