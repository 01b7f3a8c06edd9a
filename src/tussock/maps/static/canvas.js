"use strict";
/* The canvas every map of Tussock draws on. Kinds of thing are functions in tussock.kinds; each is handed its data
   as JSON. Colours come as [day, dark] or [day, dark, print]; print is by day unless it says so. */
var tussock = (function () {
  var t = { kinds: {}, layers: {}, map: null, onready: [], onzoom: [] };
  var night = window.matchMedia("(prefers-color-scheme: dark)");
  var printing = false, painters = [], renderers = {};

  t.pick = function (pair) { return printing ? pair[2] || pair[0] : pair[night.matches ? 1 : 0]; };
  t.narrow = function () { return window.matchMedia("(max-width: 899px)").matches; };

  /* A pattern as canvas paint, drawn at twice its size so that it stays sharp. */
  function paint(p, background) {
    var tile = document.createElement("canvas"), g = tile.getContext("2d"), n = p.size;
    tile.width = tile.height = 2 * n;
    g.scale(2, 2);
    if (background) { g.fillStyle = background; g.fillRect(0, 0, n, n); }
    g.strokeStyle = g.fillStyle = t.pick(p.colour);
    g.lineWidth = p.width;
    g.stroke(new Path2D(p.d));
    if (p.words) {
      g.font = "600 12px system-ui, sans-serif";
      g.textAlign = "center"; g.textBaseline = "middle";
      g.lineWidth = 3; g.lineJoin = "round";
      g.strokeStyle = t.pick(["#dcddda", "#1c1f21"]);
      [0.25, 0.75].forEach(function (k) { g.strokeText(p.words, k * n, k * n); g.fillText(p.words, k * n, k * n); });
    }
    var made = g.createPattern(tile, "repeat");
    made.setTransform(new DOMMatrix([0.5, 0, 0, 0.5, 0, 0]));
    return made;
  }

  function pathStyle(s) {
    var o = { interactive: false, fill: false, stroke: false, opacity: 1, fillOpacity: 1, lineJoin: "round" };
    if (s.fill || s.pattern) {
      o.fill = true;
      o.fillColor = s.pattern ? paint(s.pattern, s.fill && t.pick(s.fill)) : t.pick(s.fill);
    }
    if (s.stroke) {
      o.stroke = true; o.color = t.pick(s.stroke); o.weight = s.weight;
      o.dashArray = s.dash || null; o.lineCap = s.dash ? "butt" : "round";
    }
    return o;
  }

  function pane(name, z) {
    if (!t.map.getPane(name)) { t.map.createPane(name).style.zIndex = z; t.map.getPane(name).style.pointerEvents = "none"; }
    return name;
  }
  function renderer(name, z) {
    if (!renderers[name]) { renderers[name] = L.canvas({ pane: pane(name, z), padding: 0.3 }); }
    return renderers[name];
  }

  /* Steps in micro-degrees back to [latitude, longitude] runs. */
  t.runs = function (e) {
    var lon = e.o[0], lat = e.o[1], k = 0;
    return e.n.map(function (count) {
      var run = new Array(count);
      for (var i = 0; i < count; i++) {
        lon += e.d[k++]; lat += e.d[k++];
        run[i] = [lat / 1e6, lon / 1e6];
      }
      return run;
    });
  };
  t.areas = function (e) {
    var runs = t.runs(e), k = 0;
    return e.p.map(function (count) { k += count; return runs.slice(k - count, k); });
  };

  function group(id, on) {
    if (!t.layers[id]) { t.layers[id] = L.layerGroup(); if (on) { t.layers[id].addTo(t.map); } }
    return t.layers[id];
  }

  t.kinds.ground = function (d) {
    var g = group(d.layer, d.on), options = pathStyle(d.style), made = [];
    options.renderer = renderer("ground", 210);
    options.smoothFactor = d.smooth || 0.7;
    if (d.areas) { made.push(L.polygon(t.areas(d.areas), options)); }
    if (d.lines) { made.push(L.polyline(t.runs(d.lines), Object.assign({}, options, { fill: false, stroke: true }))); }
    if (d.points) {
      t.runs(d.points).forEach(function (p) {
        made.push(L.circleMarker(p[0], Object.assign({}, options, { radius: d.style.radius })));
      });
    }
    made.forEach(function (m) { g.addLayer(m); });
    if (d.style.fromZoom) {
      t.onzoom.push(function () {
        var far = t.map.getZoom() < d.style.fromZoom && !printing;
        made.forEach(function (m) { if (far) { g.removeLayer(m); } else if (!g.hasLayer(m)) { g.addLayer(m); } });
      });
    }
    painters.push(function () {
      var s = pathStyle(d.style);
      made.forEach(function (m) { m.setStyle(m instanceof L.Polyline && !(m instanceof L.Polygon) ? Object.assign(s, { fill: false }) : s); });
    });
  };

  /* A wash: a colour or pattern, at the size of the screen, wherever a mask picture is opaque or a point lies
     outside given rings. One renderer each, so a veil never doubles where its parts overlap. */
  var Wash = L.Renderer.extend({
    initialize: function (d) {
      L.Renderer.prototype.initialize.call(this, { pane: d.pane, padding: 0.2 });
      this._d = d;
      this._rings = d.outside ? [].concat.apply([], t.areas(d.outside)) : null;
    },
    _initContainer: function () {
      this._container = document.createElement("canvas");
      this._container.className = "wash";
      if (this._d.mask && !this._img) {
        this._img = new Image();
        this._img.onload = L.Util.bind(function () { if (this._map) { this._update(); } }, this);
        this._img.src = this._d.mask;
      }
    },
    _destroyContainer: function () { L.DomUtil.remove(this._container); this._container = null; },
    _update: function () {
      if (this._map._animatingZoom && this._bounds) { return; }
      L.Renderer.prototype._update.call(this);
      var b = this._bounds, size = b.getSize(), c = this._container, m = L.Browser.retina ? 2 : 1;
      L.DomUtil.setPosition(c, b.min);
      c.width = m * size.x; c.height = m * size.y;
      c.style.width = size.x + "px"; c.style.height = size.y + "px";
      var aside = document.createElement("canvas"), g = aside.getContext("2d");
      aside.width = c.width; aside.height = c.height;
      g.scale(m, m); g.translate(-b.min.x, -b.min.y);
      this._stencil(g, b, size);
      g.globalCompositeOperation = "source-in";
      g.fillStyle = this._d.pattern ? paint(this._d.pattern) : t.pick(this._d.fill);
      g.fillRect(b.min.x, b.min.y, size.x, size.y);
      c.getContext("2d").drawImage(aside, 0, 0);
    },
    _stencil: function (g, b, size) {
      var map = this._map;
      if (this._img && this._img.complete && this._img.naturalWidth) {
        var nw = map.latLngToLayerPoint([this._d.bounds[1][0], this._d.bounds[0][1]]);
        var se = map.latLngToLayerPoint([this._d.bounds[0][0], this._d.bounds[1][1]]);
        g.imageSmoothingEnabled = (se.x - nw.x) < 1.5 * this._img.naturalWidth;
        g.drawImage(this._img, nw.x, nw.y, se.x - nw.x, se.y - nw.y);
      }
      if (this._rings) {
        g.beginPath(); g.rect(b.min.x, b.min.y, size.x, size.y);
        this._rings.forEach(function (ring) {
          ring.forEach(function (at, i) {
            var p = map.latLngToLayerPoint(at);
            if (i) { g.lineTo(p.x, p.y); } else { g.moveTo(p.x, p.y); }
          });
          g.closePath();
        });
        g.fillStyle = "#000"; g.fill("evenodd");
      }
    }
  });
  t.kinds.wash = function (d) {
    d.pane = pane(d.level, d.z);
    var wash = new Wash(d);
    group(d.layer, d.on).addLayer(wash);
    painters.push(function () { if (wash._map) { wash._update(); } });
  };

  t.kinds.picture = function (d) {
    var on = d.on && !(d.offNarrow && t.narrow());
    group(d.layer, on).addLayer(L.imageOverlay(d.address, d.bounds, { pane: pane(d.level, d.z), className: "pixels" }));
  };

  /* A line on the ground, haloed so that it stands out on any. */
  t.kinds.line = function (d) {
    var g = group(d.layer, d.on !== false), runs = t.runs(d.lines), r = renderer("lines", 420);
    var halo = L.polyline(runs, { renderer: r, interactive: false, weight: d.weight + 3, opacity: 0.85, smoothFactor: 0 });
    var line = L.polyline(runs, { renderer: r, interactive: false, weight: d.weight, dashArray: d.dash || null, smoothFactor: 0 });
    function colour() { halo.setStyle({ color: t.pick(["#ffffff", "#101314"]) }); line.setStyle({ color: t.pick(d.stroke) }); }
    colour(); painters.push(colour);
    g.addLayer(halo).addLayer(line);
  };
  t.kinds.disc = function (d) {
    var g = group(d.layer, d.on !== false), disc = L.polygon(t.areas(d.areas), Object.assign(pathStyle(d.style),
      { renderer: renderer("lines", 420), smoothFactor: 0 }));
    painters.push(function () { disc.setStyle(pathStyle(d.style)); });
    g.addLayer(disc);
  };
  t.kinds.label = function (d) {
    var text = document.createElement("span");
    text.textContent = d.text;
    var box = document.createElement("div");
    box.className = "map-label"; box.appendChild(text);
    group(d.layer, true).addLayer(L.marker(d.at, {
      interactive: false, keyboard: false, pane: pane("labels", 610),
      icon: L.divIcon({ className: "", iconSize: [0, 0], html: box })
    }));
  };
  t.kinds.view = function (d) {
    t.views = d;
    t.see(d.first, false);
  };
  t.see = function (name, animate) {
    t.view = name;
    t.map.fitBounds(t.views[name], { animate: animate !== false && !still(), padding: [14, 14] });
  };
  function still() { return window.matchMedia("(prefers-reduced-motion: reduce)").matches; }
  t.still = still;

  t.open = function (id, d) {
    var south = d.limits[0], north = d.limits[1];
    t.map = L.map(id, {
      center: d.centre, zoom: 13, minZoom: 9, maxZoom: 20, zoomSnap: 0.25, zoomDelta: 0.75, preferCanvas: true,
      zoomControl: false, attributionControl: false, scrollWheelZoom: false, maxBounds: L.latLngBounds(south, north).pad(0.2),
      maxBoundsViscosity: 0.7, zoomAnimation: !still(), fadeAnimation: !still()
    });
    L.control.zoom({ position: "topleft" }).addTo(t.map);
    L.control.scale({ position: "bottomleft", imperial: false, maxWidth: 140 }).addTo(t.map);
    gestures(t.map);
    if (window.ResizeObserver) {
      new ResizeObserver(function () { if (!printing) { t.map.invalidateSize({ animate: false }); } }).observe(t.map.getContainer());
    }
    function measure() {
      var strip = document.querySelector(".strip");
      if (strip) { document.documentElement.style.setProperty("--strip", strip.offsetHeight + "px"); }
    }
    measure(); window.addEventListener("resize", measure);
    t.map.on("zoomend moveend", function () { t.onzoom.forEach(function (f) { f(); }); });
  };
  t.draw = function (kind, d) { t.kinds[kind](d); };

  /* One finger scrolls the page and two move the map; the wheel zooms with Ctrl or after a click on the map. */
  function gestures(map) {
    var box = map.getContainer(), hint = document.createElement("div"), timer = null, woken = false;
    hint.className = "map-hint"; hint.setAttribute("aria-hidden", "true");
    box.parentNode.appendChild(hint);
    function say(words) {
      hint.textContent = words; hint.classList.add("on");
      clearTimeout(timer); timer = setTimeout(function () { hint.classList.remove("on"); }, 1400);
    }
    box.addEventListener("pointerdown", function (e) {
      if (e.pointerType === "touch") { map.dragging.disable(); } else { map.dragging.enable(); }
    }, true);
    var start = null;
    box.addEventListener("touchstart", function (e) {
      start = e.touches.length === 1 ? e.touches[0].clientX : null;
    }, { passive: true });
    box.addEventListener("touchmove", function (e) {
      if (e.touches.length === 1 && start !== null && Math.abs(e.touches[0].clientX - start) > 24) {
        say("Use two fingers to move the map");
      }
    }, { passive: true });
    map.on("click", function () { woken = true; });
    box.addEventListener("mouseleave", function () { woken = false; });
    box.addEventListener("focusout", function () { woken = false; });
    box.parentNode.addEventListener("wheel", function (e) {
      if (e.ctrlKey || e.metaKey || woken) { map.scrollWheelZoom.enable(); } else {
        map.scrollWheelZoom.disable(); say("Hold Ctrl, or click the map, to zoom with the wheel");
      }
    }, { capture: true, passive: true });
  }

  /* Print at a round scale, by day, with everything folded open. */
  var before = null, folded = [];
  var SCALES = [2500, 5000, 7500, 10000, 15000, 20000, 25000, 30000, 40000, 50000, 60000, 75000, 100000, 150000, 200000];
  function zoomFor(scale, latitude) {
    var metresPerPixel = scale * 0.0254 / 96;
    return Math.log(Math.cos(latitude * Math.PI / 180) * 40075016.686 / 256 / metresPerPixel) / Math.LN2;
  }
  /* What is drawn while a print begins is replayed stroke by stroke onto the page, where a canvas's own clearing
     would wipe everything beneath it: print pixels instead. */
  function flatten(c) {
    if (!c.width || !c.height) { return; }
    var pixels = c.getContext("2d").getImageData(0, 0, c.width, c.height);
    c.width = c.width;
    c.getContext("2d").putImageData(pixels, 0, 0);
  }
  function toPrint() {
    if (printing) { return; }
    printing = true;
    folded = Array.prototype.filter.call(document.querySelectorAll("details.card, details.legend"), function (e) { return !e.open; });
    folded.forEach(function (e) { e.open = true; });
    document.documentElement.classList.add("printing");
    var map = t.map;
    if (!map) { return; }
    before = { centre: map.getCenter(), zoom: map.getZoom(), limits: map.options.maxBounds };
    map.setMaxBounds(null);
    map.invalidateSize({ animate: false, pan: false });
    painters.forEach(function (f) { f(); });
    var all = L.latLngBounds(t.views[t.view]), centre = all.getCenter(), scale = SCALES[SCALES.length - 1];
    map.options.zoomSnap = 0;
    var fit = map.getBoundsZoom(all, false, L.point(8, 8));
    for (var i = 0; i < SCALES.length; i++) {
      if (zoomFor(SCALES[i], centre.lat) <= fit) { scale = SCALES[i]; break; }
    }
    map.setView(centre, zoomFor(scale, centre.lat), { animate: false });
    map.getPanes().mapPane.querySelectorAll("canvas").forEach(flatten);
    var note = document.querySelector(".print-scale");
    if (note) { note.textContent = "Map 1 : " + String(scale).replace(/(\d)(?=(\d{3})+$)/g, "$1\u202f") + " on A4 printed at 100 %. North is up."; }
  }
  function fromPrint() {
    if (!printing) { return; }
    printing = false;
    document.documentElement.classList.remove("printing");
    folded.forEach(function (e) { e.open = false; });
    if (!t.map) { return; }
    t.map.options.zoomSnap = 0.25;
    t.map.invalidateSize({ animate: false, pan: false });
    painters.forEach(function (f) { f(); });
    t.map.setView(before.centre, before.zoom, { animate: false });
    t.map.setMaxBounds(before.limits);
  }

  t.ready = function () {
    document.querySelectorAll("[data-layer]").forEach(function (box) {
      var layer = t.layers[box.dataset.layer];
      if (!layer) { box.disabled = true; return; }
      box.checked = t.map.hasLayer(layer);
      box.addEventListener("change", function () {
        if (box.checked) { t.map.addLayer(layer); } else { t.map.removeLayer(layer); }
      });
    });
    document.querySelectorAll("[data-view]").forEach(function (b) {
      b.addEventListener("click", function () { t.see(b.dataset.view); });
    });
    t.onready.forEach(function (f) { f(); });
    night.addEventListener("change", function () { painters.forEach(function (f) { f(); }); });
    window.addEventListener("beforeprint", toPrint);
    window.addEventListener("afterprint", fromPrint);
    t.onzoom.forEach(function (f) { f(); });
    document.documentElement.classList.add("drawn");
  };
  return t;
})();
