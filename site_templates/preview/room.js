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
    else if (first) { first.focus(); if (first.setSelectionRange) { first.setSelectionRange(0, 0); } }
    else if (focus) { focus(); }
  }

  function keyOf(one) {
    var part = one.closest("section");
    var summary = one.querySelector("summary");
    return (part ? part.id : "") + (summary.getAttribute("aria-label") || summary.textContent);
  }

  function send(address, body, focus) {
    if (busy) { return; }
    busy = true;
    room().inert = true;  /* what was typed before the answer comes would be lost by it */
    var top = window.scrollY;
    fetch(address, body ? { method: "POST", body: body } : {}).then(function (answer) {
      return answer.text().then(function (html) { put(html, body ? "" : address, focus); if (!focus) { window.scrollTo(0, top); } });
    }).catch(function () {
      window.alert("The preview does not answer. Nothing was changed. Start it again.");
    }).then(function () { busy = false; room().inert = false; });
  }

  document.addEventListener("submit", function (event) {
    if (!event.target.closest("#rd")) { return; }
    event.preventDefault();
    var button = event.submitter;
    var body = new URLSearchParams(new FormData(event.target));
    if (button) { body.set("do", button.value); }
    send(location.pathname + (room().querySelector("[data-later]") ? location.search : ""), body, following(button));
  });

  document.addEventListener("click", function (event) {
    var link = event.target.closest("a[data-swap]");
    if (link) { event.preventDefault(); send(link.href, null, at(link.hash.slice(1))); }
  });

  function staying(part, id, next) {
    return function () {
      var said = document.getElementById(id);
      now(said && said.closest("section").id === part ? said : document.getElementById(next) || document.getElementById(part));
    };
  }

  function at(id) { return function () { now(document.getElementById(id)); }; }

  /* A sentence that is right, or leaves its part, is followed by the next one; after a part comes the next that is not read. */
  function following(button) {
    var said = button && button.closest(".rd-said");
    if (said && button.getAttribute("data-key") === "a") {
      var all = Array.prototype.slice.call(room().querySelectorAll(".rd-said"));
      return at((all[all.indexOf(said) + 1] || said).id);
    }
    if (said) { return staying(said.closest("section").id, said.id, (said.nextElementSibling || said).id); }
    if (button && button.closest(".rd-ask")) {
      return function () { var next = room().querySelector(".rd-ask [data-digit]"); if (next) { next.focus(); next.closest(".rd-ask").scrollIntoView({ block: "nearest" }); } };
    }
    if (button && /^[sp]$/.test(button.getAttribute("data-key") || "")) {
      return goOn;
    }
    return null;
  }

  /* To the first part that is not read; of a part where nothing was told, the part itself is what the keys mean. */
  function goOn() {
    var next = document.getElementById(room().getAttribute("data-next"));
    if (next) { next.scrollIntoView({ block: "start" }); now(meantIn(next), true); }
  }

  function meantIn(part) { return part.matches("section") ? part.querySelector(".rd-said") || part : part; }

  /* ---- Keys ---- */

  function now(said, stay) {
    if (!said) { return; }
    each(".rd-now", function (one) { one.classList.remove("rd-now"); });
    said.classList.add("rd-now");
    var target = said.querySelector("[data-key=a], [data-key=s], button, a");
    if (target) { target.focus({ preventScroll: true }); }
    if (!stay) { said.scrollIntoView({ block: "nearest" }); }
  }

  function current() { return document.activeElement.closest(".rd-said") || room().querySelector(".rd-now"); }

  function hasNothingTold(part) { return !part.querySelector(".rd-said"); }

  function step(by) {
    var all = Array.prototype.filter.call(room().querySelectorAll(".rd-said, .rd-part"), function (one) {
      return one.matches(".rd-said") || hasNothingTold(one);
    });
    var here = all.indexOf(current());
    now(all[Math.max(0, Math.min(all.length - 1, here + by))]);
  }

  function press(said, key) {
    var box = key === "s" || key === "p" ? said && said.closest("section") : said;
    var button = box && (box.querySelector("[data-key=" + key + "]") || key === "p" && box.querySelector("[data-key=s]"));
    if (button) { button.click(); }
    else if (key === "a") { step(1); }
    else if (key !== "m") { goOn(); }
  }

  /* A digit says what the new name is that is asked about here, else the first that is asked about. */
  function kind(digit) {
    var said = current();
    var asked = document.activeElement.closest(".rd-ask") || said && said.querySelector(".rd-ask") || room().querySelector(".rd-ask, .rd-question");
    var button = asked && asked.querySelector("[data-digit='" + digit + "']");
    if (button) { button.click(); }
  }

  /* What was left unsaid: whoever types, writes; Enter answers, and with nothing written leaves it for later. */
  function written(event) {
    var form = room() && room().querySelector(".rd-question");
    var words = form && form.elements.words;
    if (!form || event.isComposing || event.ctrlKey || event.metaKey || event.altKey) { return false; }
    if (event.key === "Enter" && !event.shiftKey && event.target === words) {
      var next = words.value.trim() ? form.querySelector(".pv-button") : form.querySelector("[data-later]");
      if (next) { next.click(); }
      event.preventDefault();
    } else if (/^[^\d\s]$/.test(event.key) && !event.target.closest("input, textarea, select")) {
      words.focus();
    } else { return false; }
    return true;
  }

  document.addEventListener("keydown", function (event) {
    if (written(event)) { return; }
    if (!room() || event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, textarea, select")) { return; }
    var key = event.key.toLowerCase();
    var panel = document.getElementById("use");
    var chosen = panel && /^([a-z]|escape)$/.test(key) && panel.querySelector("[data-letter=" + key + "]");
    if (chosen) { chosen.click(); }
    else if (/^[0-9]$/.test(key)) { kind(key); }
    else if (key === "j") { step(1); } else if (key === "k") { step(-1); }
    else if (key === "a" || key === "m" || key === "s" || key === "p") { press(current(), key); }
    else if (key === "u") { var undo = document.querySelector("#room button"); if (undo) { undo.click(); } }
    else { return; }
    event.preventDefault();
  });

  /* ---- Names of the catalogue, as they are typed ---- */

  document.addEventListener("input", function (event) {
    if (event.target.getAttribute("list") !== "things") { return; }
    var form = event.target.form;
    var asked = new URLSearchParams({ "for": event.target.name === "object" ? "objects" : "things", verb: form.elements.verb.value, q: event.target.value });
    fetch(document.body.getAttribute("data-home") + "/edit/picks?" + asked).then(function (answer) { return answer.json(); }).then(function (told) {
      var list = document.getElementById("things");
      list.textContent = "";
      told.picks.forEach(function (pick) {
        var option = document.createElement("option");
        option.value = pick.value;
        option.label = pick.about;
        list.appendChild(option);
      });
    });
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

  /* ---- Steps are dragged: where the order is drawn by all of them, beside the talk by their head ---- */

  var held = null;
  var WORDS = { before: "Before this step", after: "After this step", instead: "Instead of this step" };

  /* Which part of a step is meant: its upper edge, its lower one, or its middle; beside the talk always the upper. */
  function meant(part, event) {
    if (!part.hasAttribute("data-ways")) { return "before"; }
    var box = part.getBoundingClientRect();
    var down = (event.clientY - box.top) / box.height;
    return down < 0.3 ? "before" : down > 0.7 ? "after" : "instead";
  }

  function mark(part, word) {
    each("[data-drop]", function (one) { if (one !== part || !word) { one.removeAttribute("data-drop"); } });
    if (word) { part.setAttribute("data-drop", word); part.setAttribute("data-drop-words", WORDS[word]); }
  }

  function ready() {
    each("[data-keys]", function (one) { one.hidden = false; });
    each("[data-page]", function (part) {
      var head = part.querySelector("h2") || part;
      head.draggable = true;
      head.addEventListener("dragstart", function (event) { held = part; part.classList.add("rd-held"); event.dataTransfer.setData("text/plain", part.getAttribute("data-page")); });
      head.addEventListener("dragend", function () { part.classList.remove("rd-held"); mark(part, ""); held = null; });
      part.addEventListener("dragover", function (event) { if (held && held !== part) { event.preventDefault(); mark(part, meant(part, event)); } });
      part.addEventListener("dragleave", function (event) { if (!part.contains(event.relatedTarget)) { mark(part, ""); } });
      part.addEventListener("drop", function (event) {
        if (!held || held === part) { return; }
        event.preventDefault();
        send(location.pathname, new URLSearchParams({ "do": meant(part, event) + ":" + held.getAttribute("data-page"), other: part.getAttribute("data-page") }), null);
      });
    });
  }

  ready();
  var back = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (back && room().contains(back)) { now(meantIn(back), true); }
  if (!location.hash && room().getAttribute("data-next")) {
    var first = document.getElementById(room().getAttribute("data-next"));
    if (first.previousElementSibling && first.previousElementSibling.matches("section")) { first.scrollIntoView(); }
  }
}());
