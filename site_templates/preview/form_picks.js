/* Picking from the catalogues and the register of sources while typing (WAI-ARIA, combobox with a list), and adding to the
   catalogues what is not there yet. What is typed is always taken as it is: the list helps and does not hinder. */
(function () {
  "use strict";

  var form = document.getElementById("form");
  if (!form) { return; }
  var number = 0;
  var open = null;

  function verbOf(input) {
    var row = input.closest("[data-kind=action]");
    var verb = row && row.querySelector("[data-key=verb] select");
    return verb ? verb.value : "";
  }

  function close() {
    if (!open) { return; }
    open.list.remove();
    open.input.setAttribute("aria-expanded", "false");
    open.input.removeAttribute("aria-activedescendant");
    open.input.removeAttribute("aria-controls");
    open = null;
  }

  function ask(input) {
    var query = new URLSearchParams({
      "for": input.getAttribute("data-pick"), procedure: form.getAttribute("data-procedure"),
      q: input.value.trim(), verb: verbOf(input)
    });
    input.asked = (input.asked || 0) + 1;
    var mine = input.asked;
    return fetch(form.getAttribute("data-picks") + "?" + query).then(function (answer) { return answer.json(); })
      .then(function (found) { if (mine === input.asked && document.activeElement === input) { show(input, found); } })
      .catch(function () { close(); });
  }

  function tell(input, about) {
    var field = input.closest("[data-row], [data-field]");
    var said = field && field.querySelector("[data-about]");
    if (said) { said.textContent = about; }
  }

  function option(value, about) {
    var one = document.createElement("li");
    one.setAttribute("role", "option");
    one.setAttribute("aria-selected", "false");
    one.id = "pick-" + (number += 1);
    one.textContent = value;
    if (about) {
      var more = document.createElement("span");
      more.className = "fm-about";
      more.textContent = about;
      one.appendChild(more);
    }
    return one;
  }

  function show(input, found) {
    close();
    var list = document.createElement("ul");
    list.className = "fm-list";
    list.id = "picks";
    list.setAttribute("role", "listbox");
    list.setAttribute("aria-label", "To choose from");
    var words = input.value.trim();
    found.picks.forEach(function (pick) {
      var one = option(pick.value, pick.about);
      one.pick = function () { input.value = pick.value; tell(input, pick.about); input.dispatchEvent(new Event("input", { bubbles: true })); close(); };
      list.appendChild(one);
    });
    var exact = found.picks.some(function (pick) { return pick.value.toLowerCase() === words.toLowerCase(); });
    if (found.catalogue && words && !exact) {
      var fresh = option("Add “" + words + "” to the catalogue …", "");
      fresh.pick = function () { close(); addEntry(input, found.catalogue, words); };
      list.appendChild(fresh);
    }
    if (!list.children.length) { return; }
    input.parentElement.appendChild(list);
    input.setAttribute("aria-expanded", "true");
    input.setAttribute("aria-controls", "picks");
    open = { input: input, list: list, at: -1 };
    list.addEventListener("pointerdown", function (event) {
      var one = event.target.closest("[role=option]");
      event.preventDefault();
      if (one) { one.pick(); }
    });
  }

  function mark(step) {
    var all = open.list.children;
    if (open.at >= 0) { all[open.at].setAttribute("aria-selected", "false"); }
    open.at = (open.at + step + all.length) % all.length;
    if (open.at < 0) { open.at = 0; }
    all[open.at].setAttribute("aria-selected", "true");
    all[open.at].scrollIntoView({ block: "nearest" });
    open.input.setAttribute("aria-activedescendant", all[open.at].id);
  }

  function keys(event) {
    var input = event.target;
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      if (!open || open.input !== input) { ask(input); return; }
      if (open.at < 0 && event.key === "ArrowUp") { open.at = 0; }
      mark(event.key === "ArrowDown" ? 1 : -1);
    } else if (event.key === "Enter" && open && open.at >= 0) {
      event.preventDefault();
      open.list.children[open.at].pick();
    } else if (event.key === "Escape" && open) {
      event.preventDefault();
      close();
    }
  }

  function prepare(root) {
    Array.prototype.forEach.call(root.querySelectorAll("input[data-pick]"), function (input) {
      if (input.parentElement.classList.contains("fm-combo")) { return; }
      var wrap = document.createElement("span");
      wrap.className = "fm-combo";
      input.replaceWith(wrap);
      wrap.appendChild(input);
      input.setAttribute("role", "combobox");
      input.setAttribute("aria-autocomplete", "list");
      input.setAttribute("aria-expanded", "false");
      var waiting = 0;
      input.addEventListener("input", function (event) {
        if (!event.isTrusted) { return; }
        tell(input, "");
        clearTimeout(waiting);
        waiting = setTimeout(function () { ask(input); }, 90);
      });
      input.addEventListener("keydown", keys);
      input.addEventListener("click", function () { if (!open) { ask(input); } });
      input.addEventListener("blur", close);
    });
  }

  /* ---- What is not in the catalogue yet ---- */

  function addEntry(input, catalogue, words) {
    var dialog = document.querySelector("dialog[data-catalogue=" + catalogue + "]");
    var own = dialog.querySelector("form");
    var said = dialog.querySelector("[data-messages]");
    own.reset();
    said.textContent = "";
    dialog.querySelector("[data-key=name] input, [data-key=short] input").value = words;
    dialog.showModal();
    dialog.querySelector("select, [data-key=long] input").focus();
    dialog.querySelector("[data-cancel]").onclick = function () { dialog.close(); };
    own.onsubmit = function (event) {
      event.preventDefault();
      var body = { catalogue: catalogue, values: window.formRows.tree(own) };
      window.formSend(form.getAttribute("data-catalogue"), body).then(function (answer) {
        if (answer.body.value === undefined) { said.textContent = answer.body.errors[0].message; return; }
        dialog.close();
        if (input) { input.value = answer.body.value; input.focus(); }
        window.formRows.say("“" + answer.body.value + "” is in the catalogue now.");
        form.dispatchEvent(new CustomEvent("fm-changed", { bubbles: true }));
      });
    };
  }

  document.addEventListener("fm-prepare", function (event) { prepare(event.detail); });
  document.addEventListener("click", function (event) {
    var button = event.target.closest("[data-new-entry]");
    if (button) { addEntry(null, button.getAttribute("data-new-entry"), ""); }
  });
  prepare(document);
})();
