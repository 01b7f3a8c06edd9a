"use strict";
/* The Bite control: stores the time, reads the position if the device gives it. Works without any network. */
(function () {
  var box = document.querySelector("details.bite");
  if (!box) { return; }
  var key = "tussock-bite", said = box.querySelector(".bite-time"), store = box.querySelector(".bite-store");
  var clear = box.querySelector(".bite-clear"), here = box.querySelector(".bite-here"), memory = null;
  function read() { try { return window.localStorage.getItem(key) || memory; } catch (e) { return memory; } }
  function write(v) {
    memory = v;
    try { if (v) { window.localStorage.setItem(key, v); } else { window.localStorage.removeItem(key); } return true; } catch (e) { return !v; }
  }
  function two(n) { return (n < 10 ? "0" : "") + n; }
  function words(iso) {
    var d = new Date(iso);
    return two(d.getHours()) + ":" + two(d.getMinutes()) + ":" + two(d.getSeconds()) + " on " +
      d.getFullYear() + "-" + two(d.getMonth() + 1) + "-" + two(d.getDate());
  }
  function tell(kept) {
    var v = read();
    said.textContent = v ? "Time of bite: " + words(v) + (kept === false ? ". This browser cannot keep it: write it down." : "") : "No time stored.";
    store.disabled = !!v; clear.hidden = !v;
  }
  store.addEventListener("click", function () { tell(write(new Date().toISOString())); });
  clear.addEventListener("click", function () { if (window.confirm("Clear the stored time of bite?")) { write(null); tell(); } });
  here.addEventListener("click", function () {
    var out = box.querySelector(".bite-position");
    function no() { out.textContent = "This device gives no position here. Read it from the phone's compass or map."; }
    if (!navigator.geolocation) { no(); return; }
    out.textContent = "Looking for your position";
    navigator.geolocation.getCurrentPosition(function (p) {
      out.textContent = "You are at latitude " + p.coords.latitude.toFixed(5) + ", longitude " + p.coords.longitude.toFixed(5) +
        ", within " + Math.ceil(p.coords.accuracy) + " m";
    }, no, { enableHighAccuracy: true, timeout: 20000 });
  });
  tell();
})();
