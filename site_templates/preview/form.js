/* Saves a form, takes the last edit back, and shows what was wrong or what another program has written meanwhile.
   The buttons are dead until this has run, so that nothing that is typed before can be lost. */
(function () {
  "use strict";

  var form = document.getElementById("form") || document.getElementById("text-form");
  if (!form) { return; }
  var isText = form.id === "text-form";
  var messages = document.getElementById("messages");
  var saveButton = document.getElementById("save");
  var undoButton = document.getElementById("undo");
  var confirmButton = form.querySelector("[data-confirm]");
  var after = document.getElementById("after");
  var say = window.formRows.say;
  var busy = false;

  window.formSend = function (address, body) {
    return fetch(address, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body)
    }).then(function (answer) {
      return answer.json().then(function (found) { return { status: answer.status, body: found }; });
    }).catch(function () {
      return { status: 0, body: { errors: [{ path: [], label: "", message: "The preview does not answer. Nothing was written, and what you typed is still here. Start it again, then save." }] } };
    });
  };

  function values() { return isText ? document.getElementById("text").value : window.formRows.tree(form); }

  var first = JSON.stringify(values());
  function dirty() { return JSON.stringify(values()) !== first; }

  function noted() { say(dirty() ? "Not saved yet" : ""); }

  /* ---- What went wrong ---- */

  function clear() {
    messages.textContent = "";
    Array.prototype.forEach.call(form.querySelectorAll(".fm-wrong"), function (one) { one.remove(); });
    Array.prototype.forEach.call(form.querySelectorAll("[aria-invalid]"), function (one) { one.removeAttribute("aria-invalid"); });
  }

  function place(path) {
    var field = form.querySelector("[data-field][data-key=\"" + CSS.escape(String(path[0] || "")) + "\"]");
    for (var i = 1; field && i < path.length; i += 1) {
      var inner = typeof path[i] === "number" ? field.querySelector("[data-rows]").children[path[i]]
        : field.querySelector("[data-field][data-key=\"" + CSS.escape(path[i]) + "\"]");
      if (!inner) { break; }
      field = inner;
    }
    return field;
  }

  function mark(error) {
    var field = place(error.path);
    if (!field) { return null; }
    var fold = field.closest("details:not([open])");
    while (fold) { fold.open = true; fold = fold.parentElement.closest("details:not([open])"); }
    var said = field.querySelector("[data-said]");
    var words = document.createElement("p");
    words.className = "fm-wrong";
    words.textContent = error.message;
    (said || field).appendChild(words);
    var input = field.querySelector("[data-value]");
    if (input) { input.setAttribute("aria-invalid", "true"); }
    return input;
  }

  function wrong(errors) {
    clear();
    var head = document.createElement("p");
    head.className = "fm-wrong";
    head.textContent = "Nothing was saved yet.";
    messages.appendChild(head);
    var list = document.createElement("ul");
    errors.forEach(function (error) {
      var input = mark(error);
      var line = document.createElement("li");
      var words = (error.label ? error.label + ": " : "") + error.message;
      if (input) {
        var link = document.createElement("a");
        link.href = "#";
        link.textContent = words;
        link.addEventListener("click", function (event) { event.preventDefault(); input.focus(); });
        line.appendChild(link);
      } else { line.textContent = words; }
      list.appendChild(line);
    });
    messages.appendChild(list);
    messages.focus();
    messages.scrollIntoView({ block: "center" });
    say("Not saved");
  }

  /* ---- Saving ---- */

  /* After saving the page is made anew; what was open stays open, and the keyboard stays where it was. */
  function folds() { return Array.prototype.slice.call(form.querySelectorAll(".fm-closed")); }

  function kept() {
    var field = document.activeElement.closest && document.activeElement.closest("[data-path]");
    return {
      path: field && field.getAttribute("data-path"), at: location.pathname,
      open: folds().filter(function (one) { return one.open; }).map(function (one) { return one.querySelector("h2").textContent; })
    };
  }

  function restore(was) {
    if (!was || was.at !== location.pathname) { return; }
    folds().forEach(function (one) { if (was.open.indexOf(one.querySelector("h2").textContent) >= 0) { one.open = true; } });
    var field = was.path && form.querySelector("[data-path=\"" + CSS.escape(was.path) + "\"]");
    var input = field && field.querySelector("input:not([type=hidden]), select, textarea, button");
    if (input) { input.focus({ preventScroll: true }); }
  }

  function gone(address, words, grave) {
    first = JSON.stringify(values());
    var back = form.querySelector("[data-return]");
    if (back && !grave) { location.href = back.href; return; }
    try {
      sessionStorage.setItem("fm-said", words);
      sessionStorage.setItem("fm-kept", JSON.stringify(kept()));
    } catch (error) { /* then it is not said, and saved all the same */ }
    var from = form.getAttribute("data-back");
    if (address && address !== location.pathname) { location.href = address + (from ? "?back=" + encodeURIComponent(from) : ""); } else { location.reload(); }
  }

  function send(more, words) {
    if (busy) { return; }
    busy = true;
    say("Saving …");
    var body = { file: form.getAttribute("data-file"), opened: form.getAttribute("data-opened") };
    if (isText) { body.text = values(); } else {
      body.values = values();
      body.kind = form.getAttribute("data-kind");
      body.procedure = form.getAttribute("data-procedure");
      if (after) { body.after = after.value; }
    }
    Object.keys(more).forEach(function (key) { body[key] = more[key]; });
    window.formSend(form.getAttribute("data-save"), body).then(function (answer) {
      busy = false;
      if (answer.status === 200) { gone(answer.body.go, answer.body.worse ? words + " " + answer.body.worse : words, answer.body.worse); }
      else if (answer.body.html) { both(answer.body, more); }
      else { wrong(answer.body.errors); }
    });
  }

  function both(found, more) {
    clear();
    messages.innerHTML = found.html;
    messages.querySelector("[data-take]").addEventListener("click", function () {
      var take = {};
      var open = null;
      Array.prototype.forEach.call(messages.querySelectorAll("[data-difference]"), function (one) {
        var chosen = one.querySelector("input:checked");
        if (chosen) { take[one.getAttribute("data-difference")] = chosen.value; } else { open = open || one; }
      });
      if (open) { open.querySelector("input").focus(); say("Choose a version for each field."); return; }
      send({ take: take, now: found.now, confirms: undefined, confirm: more.confirm }, "Saved, with the versions you chose.");
    });
    messages.focus();
    messages.scrollIntoView({ block: "start" });
    say("Not saved: choose the versions first");
  }

  form.addEventListener("submit", function (event) { event.preventDefault(); send({}, "Saved."); });
  if (confirmButton) {
    confirmButton.addEventListener("click", function () { send({ confirm: true }, "Saved and confirmed."); });
    confirmButton.disabled = false;
  }

  /* ---- Taking back ---- */

  undoButton.addEventListener("click", function () {
    var what = undoButton.getAttribute("data-what");
    if (dirty() && !window.confirm("What you typed here is not saved and would be lost. Take back “" + what + "” all the same?")) { return; }
    var body = { file: form.getAttribute("data-file"), forget: undoButton.hasAttribute("data-forget") };
    window.formSend(form.getAttribute("data-undo"), body).then(function (answer) {
      if (answer.status === 200) { gone(answer.body.go, answer.body.label ? "Taken back: " + answer.body.label : ""); return; }
      wrong(answer.body.errors);
      if (answer.body.forget) {
        undoButton.setAttribute("data-forget", "");
        undoButton.textContent = "Forget that edit";
      }
    });
  });

  var removeButton = document.getElementById("remove");
  if (removeButton) {
    removeButton.disabled = false;
    removeButton.addEventListener("click", function () {
      if (!window.confirm("Take this out, with its name wherever it is listed? The last edit can be taken back.")) { return; }
      var body = { file: form.getAttribute("data-file"), opened: form.getAttribute("data-opened") };
      window.formSend(removeButton.getAttribute("data-address"), body).then(function (answer) {
        if (answer.status === 200) { gone(answer.body.go, "Taken out. It can be taken back."); } else { wrong(answer.body.errors); }
      });
    });
  }

  // What a draft left open is written over at once (model/fields.py says how it is written).
  form.addEventListener("focusin", function (event) {
    if (event.target.value === "Not said yet." && event.target.select) { event.target.select(); }
  });
  form.addEventListener("input", noted);
  form.addEventListener("fm-changed", noted);
  document.addEventListener("keydown", function (event) {
    if ((event.ctrlKey || event.metaKey) && event.key === "s") { event.preventDefault(); send({}, "Saved."); }
  });
  window.addEventListener("beforeunload", function (event) { if (dirty()) { event.preventDefault(); } });

  saveButton.disabled = false;
  undoButton.disabled = false;
  try {
    var words = sessionStorage.getItem("fm-said");
    if (words) {
      say(words);
      restore(JSON.parse(sessionStorage.getItem("fm-kept")));
      sessionStorage.removeItem("fm-said");
      sessionStorage.removeItem("fm-kept");
    }
  } catch (error) { /* nothing to say */ }

  /* The address may name the field that is meant, or the finding that is to be mended. */
  var asked = new URLSearchParams(location.search);
  var named = asked.get("finding") && "[data-name=\"" + CSS.escape(asked.get("finding")) + "\"]";
  var line = "[data-line=\"" + CSS.escape(asked.get("line") || "") + "\"]";
  var note = named && (form.querySelector(named + line) || form.querySelector(named));
  var wanted = note ? note.closest("[data-field], [data-row]") : asked.get("field") && place(asked.get("field").split(".").map(function (part) { return /^\d+$/.test(part) ? Number(part) : part; }));
  if (wanted && !words) {
    var fold = wanted.closest("details:not([open])");
    while (fold) { fold.open = true; fold = fold.parentElement.closest("details:not([open])"); }
    var target = wanted.querySelector("[data-value], button");
    if (target) { target.focus({ preventScroll: true }); }
    wanted.scrollIntoView({ block: "center" });
  }

  /* The list of parts is folded on a narrow page, and stands open where there is room. */
  var beside = document.querySelector("[data-beside]");
  if (beside && window.matchMedia("(min-width: 60rem)").matches) { beside.open = true; }
})();
