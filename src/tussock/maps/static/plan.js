"use strict";
/* The plan map: capture, sites, and their cards. */
(function () {
  var t = tussock, sites = [];

  t.kinds.capture = function (d) {
    var box = document.createElement("div");
    box.className = "capture-mark"; box.innerHTML = d.cross;
    var word = document.createElement("span");
    word.className = "map-label"; word.textContent = d.label;
    box.appendChild(word);
    t.map.createPane("capture").style.zIndex = 620;
    L.marker(d.at, { interactive: false, keyboard: false, pane: "capture",
      icon: L.divIcon({ className: "", iconSize: [0, 0], html: box }) }).addTo(t.map);
    sites.push({ at: L.latLng(d.at), fixed: true, half: 15, word: word });
  };

  t.kinds.site = function (d) {
    if (!t.map.getPane("sites")) { t.map.createPane("sites").style.zIndex = 640; }
    var box = document.createElement("div"), lead = document.createElement("i"), knob = document.createElement("button");
    box.className = "site-mark" + (d.first ? " first" : "") + (d.waiting ? " waiting" : ""); lead.className = "lead";
    knob.type = "button"; knob.textContent = d.sign; knob.setAttribute("aria-label", d.label);
    knob.setAttribute("data-site", d.card);
    box.appendChild(lead); box.appendChild(knob);
    L.marker(d.at, { interactive: false, keyboard: false, pane: "sites", zIndexOffset: -1000 * d.order,
      icon: L.divIcon({ className: "", iconSize: [0, 0], html: box }) }).addTo(t.map);
    L.DomEvent.disableClickPropagation(knob);
    knob.addEventListener("click", function () { card(d.card); });
    sites.push({ at: L.latLng(d.at), box: box, lead: lead, knob: knob, half: d.first ? 19 : 15, card: d.card });
  };

  /* Discs that would cover each other move apart, tied to their place by a line. The first stays nearest to its own. */
  function apart() {
    var put = sites.map(function (s) { var p = t.map.latLngToLayerPoint(s.at); return { x: p.x, y: p.y, hx: p.x, hy: p.y, s: s }; });
    for (var round = 0; round < 60; round++) {
      var moved = false;
      for (var i = 0; i < put.length; i++) {
        for (var j = i + 1; j < put.length; j++) {
          var a = put[i], b = put[j], dx = b.x - a.x, dy = b.y - a.y, gap = Math.hypot(dx, dy), need = a.s.half + b.s.half + 3;
          if (gap >= need) { continue; }
          if (gap < 0.01) { var turn = 2.4 * j; dx = Math.cos(turn); dy = Math.sin(turn); gap = 1; }
          var push = (need - gap) / gap, share = a.s.fixed ? 1 : 0.6;
          b.x += dx * push * share; b.y += dy * push * share;
          if (!a.s.fixed) { a.x -= dx * push * 0.4; a.y -= dy * push * 0.4; }
          moved = true;
        }
      }
      if (!moved) { break; }
    }
    beside(put);
    put.forEach(function (p) {
      if (!p.s.box) { return; }
      var dx = p.x - p.hx, dy = p.y - p.hy, far = Math.hypot(dx, dy);
      p.s.knob.style.transform = "translate(calc(-50% + " + dx.toFixed(1) + "px), calc(-50% + " + dy.toFixed(1) + "px))";
      p.s.lead.style.width = far > 4 ? far.toFixed(1) + "px" : "0";
      p.s.lead.style.transform = "rotate(" + Math.atan2(dy, dx).toFixed(4) + "rad)";
      p.s.box.classList.toggle("moved", far > 4);
    });
  }
  /* The word at the capture goes to the first side that no disc covers. */
  function beside(put) {
    var home = put.filter(function (p) { return p.s.word; })[0];
    if (!home) { return; }
    var sides = [[0, 24], [0, -26], [48, 0], [-48, 0]];
    var free = sides.filter(function (o) {
      return put.every(function (p) {
        return p === home || Math.abs(p.x - home.x - o[0]) > 32 + p.s.half || Math.abs(p.y - home.y - o[1]) > 9 + p.s.half;
      });
    })[0] || sides[0];
    home.s.word.style.left = free[0] + "px"; home.s.word.style.top = free[1] + "px";
  }
  t.onzoom.push(apart);

  function mark(id) {
    document.querySelectorAll(".card.here").forEach(function (e) { e.classList.remove("here"); });
    var el = document.getElementById(id);
    if (el) { el.classList.add("here"); }
    sites.forEach(function (s) { if (s.box) { s.box.classList.toggle("here", s.card === id); } });
    return el;
  }
  function card(id) {
    var el = mark(id);
    if (!el) { return; }
    if ("open" in el) { el.open = true; }
    el.scrollIntoView({ block: "start", behavior: t.still() ? "auto" : "smooth" });
    (el.querySelector("summary") || el).focus({ preventScroll: true });
  }
  function show(id) {
    sites.forEach(function (s) {
      if (s.card !== id) { return; }
      t.map.setView(s.at, Math.max(t.map.getZoom(), 16), { animate: !t.still() });
      mark(id);
      document.querySelector(".map-box").scrollIntoView({ block: "nearest", behavior: t.still() ? "auto" : "smooth" });
      s.knob.focus({ preventScroll: true });
    });
  }
  t.onready.push(function () {
    document.querySelectorAll("[data-show]").forEach(function (b) {
      b.addEventListener("click", function (e) { e.preventDefault(); show(b.dataset.show); });
    });
    document.querySelectorAll("[data-card]").forEach(function (b) {
      b.addEventListener("click", function (e) { e.preventDefault(); card(b.dataset.card); });
    });
  });
})();
