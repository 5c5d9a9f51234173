/* Rows of a form: added from templates, taken out, put in another order by buttons or by dragging; and all that is filled
   in, read as one tree. The names are those of the schema: nothing here knows what a step or a dose is. */
(function () {
  "use strict";

  var blanks = {};
  Array.prototype.forEach.call(document.querySelectorAll("template[data-blank-of]"), function (one) {
    blanks[one.getAttribute("data-blank-of")] = one;
  });
  var state = document.getElementById("state");

  function say(words) { if (state) { state.textContent = words; } }

  function changed(where) { where.dispatchEvent(new CustomEvent("fm-changed", { bubbles: true })); }

  /* ---- Reading ---- */

  function holder(one) { return one.parentElement.closest("[data-field], [data-row]"); }

  function own(root, query) {
    return Array.prototype.filter.call(root.querySelectorAll(query), function (one) { return holder(one) === root; });
  }

  function group(root) {
    var found = {};
    own(root, "[data-field]").forEach(function (one) { found[one.getAttribute("data-key")] = field(one); });
    return found;
  }

  function rowsOf(root) {
    var list = own(root, "[data-rows]")[0];
    return list ? Array.prototype.slice.call(list.children) : [];
  }

  function field(root) {
    var kind = root.getAttribute("data-kind");
    if (kind === "rows" || kind === "named" || kind === "sequence") { return rowsOf(root).map(row); }
    if (kind === "group" || kind === "citation" || kind === "action") { return group(root); }
    var input = root.querySelector("[data-value]");
    return kind === "flag" ? input.checked : input.value;
  }

  function row(one) {
    var kind = one.getAttribute("data-kind");
    var found = { from: JSON.parse(one.getAttribute("data-from") || "null") };
    var name = one.querySelector("[data-name]");
    if (name && holder(name) === one) { found.key = name.value; }
    if (kind === "group" || kind === "citation" || kind === "action") { found.value = group(one); }
    else if (kind === "rows" || kind === "sequence") { found.value = field(own(one, "[data-field]")[0]); }
    else { found.value = own(one, "[data-value]")[0].value; }
    var entry = one.getAttribute("data-entry");
    return entry ? { from: found.from, value: { entry: entry, value: found.value } } : found;
  }

  function tree(form) {
    var found = {};
    Array.prototype.forEach.call(form.querySelectorAll("[data-field]"), function (one) {
      if (!holder(one) || !form.contains(holder(one))) { found[one.getAttribute("data-key")] = field(one); }
    });
    return found;
  }

  /* ---- Adding and taking out ---- */

  function add(button, name) {
    var list = button.closest("[data-field]").querySelector("[data-rows]");
    var fresh = blanks[name].content.cloneNode(true).querySelector("[data-row]");
    list.appendChild(fresh);
    prepare(fresh);
    var first = fresh.querySelector("select, input, textarea");
    if (first) { first.focus(); }
    changed(list);
  }

  function remove(button) {
    var one = button.closest("[data-row]");
    var list = one.parentElement;
    var next = one.nextElementSibling || one.previousElementSibling;
    var back = next ? next.querySelector("[data-remove]") : list.closest("[data-field]").querySelector("[data-add]");
    one.remove();
    if (back) { back.focus(); }
    changed(list);
    say("Taken out. Saving makes it so.");
  }

  /* ---- Another order. A step walks into and out of the ways of a choice, as it is read from top to bottom. ---- */

  function listsIn(entry) {
    return Array.prototype.filter.call(entry.querySelectorAll("[data-rows][data-blank=entry]"), function (one) {
      return one.parentElement.closest("[data-entry]") === entry;
    });
  }

  function move(one, down) {
    var list = one.parentElement;
    var next = down ? one.nextElementSibling : one.previousElementSibling;
    var isStep = one.getAttribute("data-entry") === "step";
    if (next) {
      var inner = isStep ? listsIn(next) : [];
      if (inner.length) { put(one, inner[down ? 0 : inner.length - 1], down); }
      else { list.insertBefore(one, down ? next.nextElementSibling : next); }
    } else {
      var entry = list.closest("[data-entry]");
      if (!entry) { return false; }
      var lists = listsIn(entry);
      var other = isStep ? lists[lists.indexOf(list) + (down ? 1 : -1)] : null;
      if (other) { put(one, other, down); }
      else { entry.parentElement.insertBefore(one, down ? entry.nextElementSibling : entry); }
    }
    return true;
  }

  function put(one, list, first) { list.insertBefore(one, first ? list.firstElementChild : null); }

  /* What is folded away is told beside its name. */
  function tellHow(event) {
    var how = event.target.closest && event.target.closest(".fm-how");
    if (!how) { return; }
    var words = [];
    Array.prototype.forEach.call(how.querySelectorAll("[data-value]"), function (input) {
      if (input.type === "checkbox" ? input.checked : input.value.trim()) {
        var field = input.closest("[data-field]");
        var label = field.querySelector(".fm-label, b").textContent.trim().toLowerCase();
        var value = input.value.trim();
        if (input.type === "checkbox") { words.push(label); }
        else { words.push(/^(side|what|number)$/.test(field.getAttribute("data-key")) ? value : label + " " + value); }
      }
    });
    how.querySelector("[data-how]").textContent = words.length ? ": " + words.join(", ") : "";
  }

  /* How something is done was said of one deed: where that becomes another, it is taken out, told, and may be kept. */
  function deedOf(action) {
    var things = own(action, "[data-key=objects]")[0].querySelectorAll("[data-value]");
    var names = Array.prototype.map.call(things, function (input) { return input.value.trim().toLowerCase(); });
    return { verb: action.querySelector("[data-key=verb] [data-value]").value, names: names.filter(Boolean) };
  }

  function isSameThing(was, now) {
    return was.names.some(function (old) {
      return now.names.some(function (name) { return name.indexOf(old) >= 0 || old.indexOf(name) >= 0; });
    });
  }

  function anotherDeed(event) {
    var action = event.target.closest && event.target.closest("[data-kind=action]");
    var how = action && action.querySelector(".fm-how");
    if (!how || how.contains(event.target)) { return; }
    var was = action.deed, now = deedOf(action);
    if (!now.verb || !now.names.length) { return; }
    action.deed = now;
    var same = isSameThing(was, now);
    if (!was.verb || !was.names.length || (was.verb === now.verb && same)) { return; }
    var taken = Array.prototype.filter.call(how.querySelectorAll("[data-value]"), function (input) {
      var isOfThing = input.closest("[data-field]").getAttribute("data-key") === "side";
      return (input.type === "checkbox" ? input.checked : input.value) && !(isOfThing && same);
    });
    if (!taken.length) { return; }
    var words = how.querySelector("[data-how]").textContent.slice(2);
    var old = taken.map(function (input) { return input.value; });
    function put(back) {
      taken.forEach(function (input, at) { if (input.type === "checkbox") { input.checked = back; } else { input.value = back ? old[at] : ""; } });
      tellHow({ target: how });
      changed(action);
    }
    put(false);
    how.open = true;
    Array.prototype.forEach.call(how.querySelectorAll(".fm-taken"), function (one) { one.remove(); });
    how.insertBefore(notice("“" + words + "” was said of “" + was.verb + " " + was.names.join(", ") + "”, so it was taken out here. ", "Keep it", function () { put(true); }), how.children[1]);
  }

  function notice(words, label, act) {
    var line = document.createElement("p"), button = document.createElement("button");
    line.className = "fm-taken";
    line.setAttribute("role", "status");
    line.textContent = words;
    button.type = "button";
    button.textContent = label;
    button.addEventListener("click", function () { act(); line.remove(); });
    line.appendChild(button);
    return line;
  }

  function told(one) {
    var list = one.parentElement;
    var place = Array.prototype.indexOf.call(list.children, one) + 1;
    var way = list.closest("[data-row]");
    var name = way && way.querySelector("[data-name]");
    say("Moved: now " + place + " of " + list.children.length + (name && name.value ? " in " + name.value : "") + ".");
  }

  function moved(button, down) {
    var one = button.closest("[data-row]");
    if (!move(one, down)) { say(down ? "It is the last already." : "It is the first already."); return; }
    Array.prototype.forEach.call(document.querySelectorAll(".fm-just"), function (old) { old.classList.remove("fm-just"); });
    one.classList.add("fm-just");
    button.focus();
    changed(one);
    told(one);
  }

  /* ---- Dragging by the handle: with the mouse or a pen; the buttons do the same ---- */

  function drag(event, handle) {
    var one = handle.closest("[data-row]");
    var kind = one.parentElement.getAttribute("data-blank");
    one.classList.add("fm-held");
    // Heard on the document: a row that is put elsewhere loses what its handle has captured.
    function over(now) {
      var edge = now.clientY < 90 ? -14 : now.clientY > window.innerHeight - 110 ? 14 : 0;
      if (edge) { window.scrollBy(0, edge); }
      var under = document.elementFromPoint(now.clientX, now.clientY);
      var list = under && under.closest("[data-rows]");
      while (list && (list.getAttribute("data-blank") !== kind || one.contains(list))) {
        list = list.parentElement.closest("[data-rows]");
      }
      if (!list) { return; }
      var other = under.closest("[data-row]");
      while (other && other.parentElement !== list) { other = other.parentElement.closest("[data-row]"); }
      if (other === one) { return; }
      if (!other) { if (!list.children.length) { list.appendChild(one); } return; }
      var box = other.getBoundingClientRect();
      list.insertBefore(one, now.clientY > box.top + box.height / 2 ? other.nextElementSibling : other);
    }
    function end() {
      one.classList.remove("fm-held");
      document.removeEventListener("pointermove", over);
      document.removeEventListener("pointerup", end);
      document.removeEventListener("pointercancel", end);
      changed(one);
      told(one);
    }
    document.addEventListener("pointermove", over);
    document.addEventListener("pointerup", end);
    document.addEventListener("pointercancel", end);
    event.preventDefault();
  }

  /* ---- Text that grows with what is written ---- */

  function grow(area) {
    if (CSS.supports("field-sizing", "content")) { return; }
    area.style.height = "auto";
    area.style.height = area.scrollHeight + 2 + "px";
  }

  function prepare(root) {
    Array.prototype.forEach.call(root.querySelectorAll(".fm-grow"), grow);
    Array.prototype.forEach.call(document.querySelectorAll("[data-kind=action]"), function (one) { one.deed = one.deed || deedOf(one); });
    document.dispatchEvent(new CustomEvent("fm-prepare", { detail: root }));
  }

  document.addEventListener("click", function (event) {
    var button = event.target.closest("button");
    if (!button || !button.closest(".fm")) { return; }
    if (button.hasAttribute("data-add")) { add(button, button.getAttribute("data-add")); }
    else if (button.hasAttribute("data-remove")) { remove(button); }
    else if (button.hasAttribute("data-up")) { moved(button, false); }
    else if (button.hasAttribute("data-down")) { moved(button, true); }
  });
  document.addEventListener("pointerdown", function (event) {
    var handle = event.target.closest && event.target.closest("[data-handle]");
    if (handle && event.button === 0) { drag(event, handle); }
  });
  document.addEventListener("input", tellHow);
  document.addEventListener("change", tellHow);
  ["change", "focusout", "fm-changed"].forEach(function (name) { document.addEventListener(name, anotherDeed); });
  document.addEventListener("change", function (event) {
    var other = event.target;
    if (other.hasAttribute("data-add-one") && other.value) { add(other, other.value); other.value = ""; }
  });
  document.addEventListener("input", function (event) {
    if (event.target.classList.contains("fm-grow")) { grow(event.target); }
  });

  window.formRows = { tree: tree, prepare: prepare, say: say };
  prepare(document);
})();
