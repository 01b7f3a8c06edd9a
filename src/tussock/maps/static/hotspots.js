"use strict";
/* The hotspots' page: what is tapped is told, labels that never overlap, parts that fold on a phone. */
(function () {
  var t = tussock, tells = [], marks = [], picked = null, opener = null;
  var REACH = 24;  /* half of 48 pixels: how near a tap must be to a line or point */

  function group(id) {
    if (!t.layers[id]) { t.layers[id] = L.layerGroup().addTo(t.map); }
    return t.layers[id];
  }
  function shown(id) { return t.layers[id] && t.map.hasLayer(t.layers[id]); }
  function pane(name, z) {
    if (!t.map.getPane(name)) { t.map.createPane(name).style.zIndex = z; t.map.getPane(name).style.pointerEvents = "none"; }
    return name;
  }
  function make(tag, name, words) {
    var e = document.createElement(tag);
    if (name) { e.className = name; }
    if (words) { e.textContent = words; }
    return e;
  }

  t.kinds.told = function (d) {
    tells.push({ layers: d.layers, title: d.title, lines: d.lines, areas: d.areas && t.areas(d.areas), runs: d.runs && t.runs(d.runs) });
  };

  t.kinds.mark = function (d) {
    var box = make("div", "hot-mark"), knob = make("button"), word = make("span", "", d.text), lead = null;
    knob.type = "button"; knob.setAttribute("aria-label", d.title + ": its figures"); knob.appendChild(word);
    if (d.place === "point") { lead = make("i", "hot-lead"); box.appendChild(lead); box.appendChild(make("i", "hot-dot")); }
    box.appendChild(knob);
    L.marker(d.at[0], { interactive: false, keyboard: false, pane: pane("marks", 640),
      icon: L.divIcon({ className: "", iconSize: [0, 0], html: box }) }).addTo(group(d.layer));
    L.DomEvent.disableClickPropagation(knob);
    var mark = { at: d.at, layer: d.layer, order: d.order, place: d.place, title: d.title, lines: d.lines, knob: knob, word: word, lead: lead, spot: L.latLng(d.at[0]) };
    knob.addEventListener("click", function (e) {
      var own = tells.filter(function (o) { return o.title === mark.title && o.lines.join() === mark.lines.join(); })[0];
      open([own || mark], mark.spot, knob, !e.detail);
    });
    marks.push(mark);
  };

  /* Labels in order: each takes the first place of its own that is free; a cell's number may stay away. */
  function taken() {
    var frame = t.map.getContainer().getBoundingClientRect(), found = [];
    document.querySelectorAll(".map-box .leaflet-control-zoom, .map-tools, .map-box .north, .map-box .leaflet-control-scale").forEach(function (e) {
      var r = e.getBoundingClientRect();
      if (r.width) { found.push([r.left - frame.left, r.top - frame.top, r.right - frame.left, r.bottom - frame.top]); }
    });
    return found;
  }
  function free(b, all, size) {
    return b[0] >= 0 && b[1] >= 0 && b[2] <= size.x && b[3] <= size.y && all.every(function (o) {
      return b[2] <= o[0] || b[0] >= o[2] || b[3] <= o[1] || b[1] >= o[3];
    });
  }
  function offsets(m, w, h) {
    if (m.place === "here" && m.at.length > 1) { return [[0, 0], [w / 2 + 6, 0], [-w / 2 - 6, 0]]; }
    if (m.place === "here") { return [[0, 0], [0, -h], [0, h], [-w, 0], [w, 0], [w, h], [-w, h], [w, -h], [-w, -h]]; }
    var x = w / 2 + 12, y = h / 2 + 12;
    return [[x, 0], [-x, 0], [0, -y], [0, y], [x, -y], [-x, -y], [x, y], [-x, y], [0, -2 * y], [0, 2 * y], [x, -2 * y], [-x, -2 * y], [x, 2 * y], [-x, 2 * y], [0, -3 * y], [0, 3 * y]];
  }
  function spots(m, w, h) {
    var found = [];
    if (m.place === "top") {
      [0, 1, 2].forEach(function (far) {
        var x = w / 2 + 3 + far * w / 2, y = h / 2 + 3 + far * h;
        [[0, -y], [0, y], [x, 0], [-x, 0]].forEach(function (o, k) { found.push([m.at[k], o]); });
      });
      return found;
    }
    offsets(m, w, h).forEach(function (o) { m.at.forEach(function (at) { found.push([at, o]); }); });
    return found;
  }
  function place() {
    var size = t.map.getSize(), all = taken();
    marks.sort(function (a, b) { return a.order - b.order; });
    marks.forEach(function (m) {
      if (m.place === "point" && shown(m.layer)) {
        var p = t.map.latLngToContainerPoint(m.at[0]);
        all.push([p.x - 9, p.y - 9, p.x + 9, p.y + 9]);
      }
    });
    marks.forEach(function (m) {
      m.knob.hidden = false;
      var w = m.word.offsetWidth + 2, h = m.word.offsetHeight + 2, home = t.map.latLngToContainerPoint(m.at[0]);
      var found = shown(m.layer) && spots(m, w, h).map(function (s) {
        var p = t.map.latLngToContainerPoint(s[0]).add(L.point(s[1]));
        return { p: p, at: s[0], box: [p.x - w / 2, p.y - h / 2, p.x + w / 2, p.y + h / 2] };
      }).filter(function (s) { return free(s.box, all, size); })[0];
      m.knob.hidden = !found;
      if (m.lead) { m.lead.hidden = !found; }
      if (!found) { return; }
      m.spot = m.place === "here" ? L.latLng(found.at) : m.spot;
      var dx = found.p.x - home.x, dy = found.p.y - home.y;
      m.knob.style.left = dx + "px"; m.knob.style.top = dy + "px";
      if (m.lead) {
        m.lead.style.width = Math.hypot(dx, dy) + "px";
        m.lead.style.transform = "rotate(" + Math.atan2(dy, dx) + "rad)";
      }
      all.push(found.box);
    });
  }
  t.onzoom.push(place);

  /* What is at a place, in the order it was drawn: points, edges, circles and cells whose layer is on. */
  function inside(areas, at) {
    return areas.some(function (rings) {
      var odd = false;
      rings.forEach(function (ring) {
        for (var i = 0, j = ring.length - 1; i < ring.length; j = i++) {
          var a = ring[i], b = ring[j];
          if ((a[0] > at.lat) !== (b[0] > at.lat) && at.lng < (b[1] - a[1]) * (at.lat - a[0]) / (b[0] - a[0]) + a[1]) { odd = !odd; }
        }
      });
      return odd;
    });
  }
  function near(runs, at) {
    var p = t.map.latLngToContainerPoint(at);
    return runs.some(function (run) {
      for (var i = 1; i < run.length; i++) {
        var a = t.map.latLngToContainerPoint(run[i - 1]), b = t.map.latLngToContainerPoint(run[i]);
        if (L.LineUtil.pointToSegmentDistance(p, a, b) <= REACH) { return true; }
      }
      return false;
    });
  }
  function here(at) {
    var p = t.map.latLngToContainerPoint(at);
    var points = marks.filter(function (m) {
      return m.place === "point" && shown(m.layer) && t.map.latLngToContainerPoint(m.at[0]).distanceTo(p) <= REACH;
    });
    var found = tells.filter(function (o) {
      return o.layers.some(shown) && (o.areas ? inside(o.areas, at) : near(o.runs, at));
    });
    function rank(o) { return o.runs ? 0 : o.layers.length > 1 || o.layers[0] === "untested" ? 2 : 1; }
    return points.concat(found.sort(function (a, b) { return rank(a) - rank(b); }));
  }

  function close(back) {
    var panel = document.querySelector(".told");
    panel.hidden = true;
    panel.querySelector(".told-body").textContent = "";
    if (picked) { t.map.removeLayer(picked); picked = null; }
    if (back && opener) { opener.focus({ preventScroll: true }); }
    opener = null;
  }
  /* Where it covers neither the map's buttons nor the place it tells of: beside it, or on a phone above or below. */
  var TOP = 112, GAP = 18;
  function beside(panel, p, size) {
    var s = panel.style;
    s.left = s.right = s.top = s.bottom = s.maxHeight = "";
    if (size.x > 600) {
      if (p.x > size.x - 350 - GAP) { s.right = "auto"; s.left = "64px"; }
      return;
    }
    var above = p.y - GAP - TOP, below = size.y - 8 - p.y - GAP;
    if (above > below) { s.bottom = "auto"; s.top = TOP + "px"; }
    s.maxHeight = Math.max(150, Math.min(Math.max(above, below), 0.6 * size.y)) + "px";
  }
  function open(found, at, from, keyboard) {
    close(false);
    if (!found.length) { return; }
    var panel = document.querySelector(".told"), body = panel.querySelector(".told-body");
    found.forEach(function (o) {
      var list = make("ul");
      o.lines.forEach(function (line) { list.appendChild(make("li", "", line)); });
      body.appendChild(make("h3", "", o.title));
      body.appendChild(list);
    });
    var shape = found.filter(function (o) { return o.areas; })[0];
    if (shape) {
      picked = L.polygon(shape.areas, { interactive: false, fill: false, weight: 5, opacity: 0.75, color: t.pick(["#0b3c66", "#a9d6ff"]) }).addTo(t.map);
    }
    panel.hidden = false; opener = from;
    beside(panel, t.map.latLngToContainerPoint(at), t.map.getSize());
    body.scrollTop = 0;
    if (keyboard) { panel.focus({ preventScroll: true }); }
  }
  t.here = here;

  /* One question at a time: the smooth surface and the cells are never drawn over each other. */
  var CELLS = ["rates", "flagged", "ring", "untested"], SURFACE = ["surface", "surface line"], rest = [];
  function box(id) { return document.querySelector('[data-layer="' + id + '"]'); }
  function turn(id, on) {
    var b = box(id);
    if (b && t.layers[id] && b.checked !== on) {
      b.checked = on;
      if (on) { t.map.addLayer(t.layers[id]); } else { t.map.removeLayer(t.layers[id]); }
    }
  }
  /* A layer that comes back is drawn last: areas go beneath lines and circles again. */
  function order() {
    ["surface line", "flagged", "ring", "untested", "surface", "rates"].forEach(function (id) {
      if (shown(id)) { t.layers[id].getLayers().reverse().forEach(function (l) { if (l.bringToBack) { l.bringToBack(); } }); }
    });
    var on = shown("surface");
    each(document.querySelectorAll("[data-when]"), function (e) { e.hidden = (e.dataset.when === "surface") !== !!on; });
  }
  function exclusive() {
    var surface = box("surface");
    if (!surface) { return; }
    surface.addEventListener("change", function () {
      if (surface.checked) {
        rest = CELLS.filter(shown);
        rest.forEach(function (id) { turn(id, false); });
        turn("surface line", true);
      } else {
        turn("surface line", false);
        rest.forEach(function (id) { turn(id, true); });
      }
    });
    CELLS.forEach(function (id) {
      if (box(id)) {
        box(id).addEventListener("change", function () {
          if (box(id).checked) { SURFACE.forEach(function (s) { turn(s, false); }); }
        });
      }
    });
  }

  var folds = [];
  function each(list, f) { Array.prototype.forEach.call(list, f); }
  t.onready.push(function () {
    exclusive();
    t.map.on("click", function (e) { open(here(e.latlng), e.latlng, null, false); });
    each(document.querySelectorAll("[data-layer]"), function (b) { b.addEventListener("change", function () { close(false); order(); place(); }); });
    order();
    document.querySelector(".told-close").addEventListener("click", function () { close(true); });
    L.DomEvent.disableClickPropagation(document.querySelector(".told"));
    L.DomEvent.disableScrollPropagation(document.querySelector(".told"));
    t.map.getContainer().addEventListener("keydown", function (e) {
      if (e.key === "Enter" && e.target === t.map.getContainer()) {
        var middle = t.map.getCenter();
        open(here(middle), middle, e.target, true);
      }
    });
    document.addEventListener("keydown", function (e) { if (e.key === "Escape") { close(true); } });
    if (window.matchMedia("(max-width: 760px)").matches) {
      each(document.querySelectorAll("details.fold"), function (e) { e.open = false; });
    }
    window.addEventListener("beforeprint", function () {
      close(false);
      folds = Array.prototype.filter.call(document.querySelectorAll("details.fold"), function (e) { return !e.open; });
      folds.forEach(function (e) { e.open = true; });
    });
    window.addEventListener("afterprint", function () { folds.forEach(function (e) { e.open = false; }); folds = []; });
  });
})();
