/* The reading room without waiting for pages: sends its plain forms, puts the answer in place, and keeps the reader where
   he was. Keys, selected words and dragging are added here; without this file all of it is done with the buttons. */
(function () {
  "use strict";

  function room() { return document.getElementById("rd"); }
  function each(query, act) { Array.prototype.forEach.call(room().querySelectorAll(query), act); }

  /* ---- Answers in place ---- */

  var busy = false;

  function put(html, address, focus) {
    var made = new DOMParser().parseFromString(html, "text/html");
    var open = [];
    each("details[open]", function (one) { open.push(keyOf(one)); });
    var main = document.getElementById("main");
    main.innerHTML = made.getElementById("main").innerHTML;
    document.title = made.title;
    each("details", function (one) { if (open.indexOf(keyOf(one)) >= 0) { one.open = true; } });
    if (address) { history.replaceState(null, "", address); }
    ready();
    var wrong = main.querySelector("[role=alert]");
    var first = main.querySelector("[data-first]");
    if (wrong) { wrong.scrollIntoView({ block: "center" }); }
    else if (first) { first.focus(); first.setSelectionRange(0, 0); }
    else if (focus) { focus(); }
  }

  function keyOf(one) {
    var part = one.closest("section");
    return (part ? part.id : "") + one.querySelector("summary").textContent;
  }

  function send(address, body, focus) {
    if (busy) { return; }
    busy = true;
    var top = window.scrollY;
    fetch(address, body ? { method: "POST", body: body } : {}).then(function (answer) {
      return answer.text().then(function (html) { put(html, body ? "" : address, focus); if (!focus) { window.scrollTo(0, top); } });
    }).catch(function () {
      window.alert("The preview does not answer. Nothing was changed. Start it again.");
    }).then(function () { busy = false; });
  }

  document.addEventListener("submit", function (event) {
    if (!event.target.closest("#rd")) { return; }
    event.preventDefault();
    var button = event.submitter;
    var body = new URLSearchParams(new FormData(event.target));
    if (button) { body.set("do", button.value); }
    send(location.pathname, body, following(button));
  });

  document.addEventListener("click", function (event) {
    var link = event.target.closest("a[data-swap]");
    if (link) { event.preventDefault(); send(link.href, null, at(link.hash.slice(1))); }
  });

  function at(id) { return function () { now(document.getElementById(id)); }; }

  /* After a sentence comes the next one, after a part the next that is not read. */
  function following(button) {
    var said = button && button.closest(".rd-said");
    if (said) { return at("s" + said.getAttribute("data-number")); }
    if (button && /^[sp]$/.test(button.getAttribute("data-key") || "")) {
      return function () {
        var next = document.getElementById(room().getAttribute("data-next"));
        if (next) { next.scrollIntoView({ block: "start" }); now(next.querySelector(".rd-said"), true); }
      };
    }
    return null;
  }

  /* ---- Keys ---- */

  function now(said, stay) {
    if (!said) { return; }
    each(".rd-now", function (one) { one.classList.remove("rd-now"); });
    said.classList.add("rd-now");
    var target = said.querySelector("button, a");
    if (target) { target.focus({ preventScroll: true }); }
    if (!stay) { said.scrollIntoView({ block: "nearest" }); }
  }

  function current() { return document.activeElement.closest(".rd-said") || room().querySelector(".rd-now"); }

  function step(by) {
    var all = Array.prototype.slice.call(room().querySelectorAll(".rd-said"));
    var here = all.indexOf(current());
    now(all[Math.max(0, Math.min(all.length - 1, here + by))]);
  }

  function press(said, key) {
    var box = key === "s" || key === "p" ? said && said.closest("section") : said;
    var button = box && box.querySelector("[data-key=" + key + "]");
    if (button) { button.click(); }
    else if (key === "a") { step(1); }
  }

  document.addEventListener("keydown", function (event) {
    if (!room() || event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, textarea, select")) { return; }
    var key = event.key.toLowerCase();
    if (key === "j") { step(1); } else if (key === "k") { step(-1); }
    else if (key === "a" || key === "m" || key === "s" || key === "p") { press(current(), key); }
    else if (key === "u") { var undo = document.querySelector("#room button"); if (undo) { undo.click(); } }
    else { return; }
    event.preventDefault();
  });

  /* ---- Selected words ---- */

  var float = null;

  document.addEventListener("selectionchange", function () {
    if (float) { float.remove(); float = null; }
    var chosen = window.getSelection();
    var words = String(chosen).trim();
    var from = chosen.rangeCount && chosen.getRangeAt(0).commonAncestorContainer;
    var text = from && (from.nodeType === 1 ? from : from.parentNode).closest(".rd-text");
    if (!words || !text) { return; }
    var number = text.closest(".rd-said").getAttribute("data-number");
    float = document.createElement("a");
    float.className = "rd-float";
    float.textContent = "Use these words";
    float.href = location.pathname + "?use=" + number + "&words=" + encodeURIComponent(words) + "#s" + number;
    float.setAttribute("data-swap", "");
    float.addEventListener("pointerdown", function (event) { event.preventDefault(); });
    var box = chosen.getRangeAt(0).getBoundingClientRect();
    float.style.left = Math.min(box.left, document.documentElement.clientWidth - 180) + window.scrollX + "px";
    float.style.top = box.bottom + window.scrollY + 6 + "px";
    room().appendChild(float);
  });

  /* ---- Steps are dragged by their head ---- */

  var held = null;

  function ready() {
    each("[data-keys]", function (one) { one.hidden = false; });
    each(".rd-part[data-page]", function (part) {
      var head = part.querySelector("h2");
      head.draggable = true;
      head.addEventListener("dragstart", function (event) { held = part; part.classList.add("rd-held"); event.dataTransfer.setData("text/plain", part.getAttribute("data-page")); });
      head.addEventListener("dragend", function () { part.classList.remove("rd-held"); held = null; });
      part.addEventListener("dragover", function (event) { if (held && held !== part) { event.preventDefault(); part.classList.add("rd-drop"); } });
      part.addEventListener("dragleave", function () { part.classList.remove("rd-drop"); });
      part.addEventListener("drop", function (event) {
        if (!held || held === part) { return; }
        event.preventDefault();
        send(location.pathname, new URLSearchParams({ "do": "place:" + held.getAttribute("data-page"), other: part.getAttribute("data-page") }), null);
      });
    });
  }

  ready();
  if (!location.hash && room().getAttribute("data-next")) {
    var first = document.getElementById(room().getAttribute("data-next"));
    if (first.previousElementSibling && first.previousElementSibling.matches("section")) { first.scrollIntoView(); }
  }
}());
