/* Keeps what is shown up to date: hears that a file was saved, fetches the parts anew, and puts them in place without
   moving what is being read. Small on purpose: all that is shown is made by the program, nothing here knows of content. */
(function () {
  "use strict";

  var home = document.body.getAttribute("data-home");
  var status = document.getElementById("pv-status");
  var panes = Array.prototype.slice.call(document.querySelectorAll("[data-part]"));
  var newest = 0;
  var checkedAt = Date.now();
  var said = "";
  var away = false;

  /* ---- The status line ---- */

  function ago(seconds) {
    if (seconds < 10) { return seconds.toFixed(1) + " s"; }
    return seconds < 90 ? Math.round(seconds) + " s" : Math.round(seconds / 60) + " min";
  }

  function tell() {
    if (!status) { return; }
    status.classList.toggle("pv-away", away);
    if (away) { status.textContent = "The preview has ended. What you see may be out of date."; return; }
    if (said) { status.textContent = "Checked " + ago((Date.now() - checkedAt) / 1000) + " ago, " + said; }
  }

  setInterval(tell, 1000);

  /* ---- What the reader has done to a part, kept over its renewal ---- */

  function each(root, query, act) {
    Array.prototype.forEach.call(root.querySelectorAll(query), act);
  }

  function topmost(pane) {
    var marked = pane.querySelectorAll("[id]");
    for (var i = 0; i < marked.length; i += 1) {
      var box = marked[i].getBoundingClientRect();
      if (box.bottom > 60 && box.height > 0 && !marked[i].closest(".pv-note, svg")) { return { id: marked[i].id, top: box.top }; }
    }
    return null;
  }

  function kept(pane) {
    var open = {};
    var picked = [];
    each(pane, "details[open]", function (one) { open[one.getAttribute("data-key") || one.querySelector("summary").textContent] = true; });
    each(pane, ".ways input:checked", function (one) { if (one.value) { picked.push([one.name, one.value]); } });
    var active = document.activeElement;
    var focus = null;
    if (active && pane.contains(active)) {
      var note = active.closest(".pv-note");
      focus = { id: active.id, href: active.getAttribute("href"), key: note && note.getAttribute("data-key"), tag: active.tagName };
    }
    return { open: open, picked: picked, focus: focus, scrolled: pane.scrollTop, top: window.scrollY > 0 ? topmost(pane) : null };
  }

  function restore(pane, was) {
    each(pane, "details", function (one) {
      if (was.open[one.getAttribute("data-key") || one.querySelector("summary").textContent]) { one.open = true; }
    });
    was.picked.forEach(function (pair) {
      var input = pane.querySelector('.ways input[name="' + CSS.escape(pair[0]) + '"][value="' + CSS.escape(pair[1]) + '"]');
      if (input) { input.checked = true; input.dispatchEvent(new Event("change")); }
    });
    pane.scrollTop = was.scrolled;
    var mark = was.top && document.getElementById(was.top.id);
    if (mark) { window.scrollBy(0, mark.getBoundingClientRect().top - was.top.top); }
    if (was.focus) { refocus(pane, was.focus); }
  }

  function refocus(pane, focus) {
    var found = focus.id && document.getElementById(focus.id);
    if (!found && focus.key) {
      each(pane, ".pv-note", function (note) {
        if (note.getAttribute("data-key") === focus.key) { found = note.querySelector(focus.tag.toLowerCase()) || note; }
      });
    }
    if (!found && focus.href) { found = pane.querySelector('a[href="' + CSS.escape(focus.href) + '"]'); }
    if (found) { found.focus({ preventScroll: true }); }
  }

  /* ---- Findings stand beside what they concern ---- */

  function beside(sheet, anchor) {
    var mark = sheet.querySelector("#" + CSS.escape(anchor));
    if (!mark) { return null; }
    var step = mark.tagName === "H3" && mark.closest(".step");
    if (step) { return [step.querySelector(".doing"), step.querySelector(".doing").firstChild]; }
    if (mark.getAttribute("role") === "note") { return [mark.querySelector(".told"), mark.querySelector(".told").firstChild]; }
    if (mark.tagName === "LI") { return [mark.querySelector(".care") || mark, (mark.querySelector(".care") || mark).firstChild]; }
    if (mark.tagName === "FIGURE") { return [mark.parentNode, mark]; }
    return [mark.parentNode, mark.nextSibling];
  }

  function place(pane) {
    var sheet = pane.querySelector(".pv-sheet");
    if (!sheet) { return; }
    each(pane, ".pv-note", function (note) {
      var anchor = note.getAttribute("data-anchor");
      var spot = anchor && beside(sheet, anchor);
      if (spot) { spot[0].insertBefore(note, spot[1]); }
      else { listed(pane, note).hidden = true; }
    });
    var list = pane.querySelector(".pv-found");
    if (list) { list.hidden = !list.querySelector("li:not([hidden])"); }
    each(pane, ".pv-places li", function (one) {
      var name = one.getAttribute("data-anchor");
      var mark = name === "title" ? sheet.querySelector(".head h1") : sheet.querySelector("#" + CSS.escape(name));
      if (mark) { edit(mark, one.getAttribute("data-form")); }
    });
  }

  /* What has no place on the page stands in full right below the list, and needs no line in it. */
  function listed(pane, note) {
    return pane.querySelector('.pv-list a[href="#' + CSS.escape(note.id) + '"]').parentNode;
  }

  function edit(mark, address) {
    var step = mark.tagName === "H3" && mark.closest(".step");
    var link = document.createElement("a");
    link.setAttribute("data-anchor", mark.id);
    var about = mark.querySelector(".title, .hazard, h3");
    link.href = address;
    link.textContent = "Edit";
    link.setAttribute("aria-label", "Edit: " + (about ? about.textContent.trim() : ""));
    if (/^H[12]$/.test(mark.tagName)) {
      link.className = "pv-edit-head";
      link.setAttribute("aria-label", "Edit: " + mark.textContent.trim());
      (mark.closest("summary") || mark).insertAdjacentElement("afterend", link);
      return;
    }
    if (step) {
      var item = document.createElement("li");
      item.className = "pv-edit";
      item.appendChild(link);
      step.querySelector(".marks").appendChild(item);
      return;
    }
    var line = document.createElement("p");
    line.className = "pv-edit";
    line.appendChild(link);
    (mark.querySelector(".told, .care") || mark).appendChild(line);
  }

  /* ---- Renewing a part ---- */

  function ready(box) {
    var pictures = Array.prototype.slice.call(box.querySelectorAll("img"));
    var waits = pictures.map(function (one) { return one.decode().catch(function () { return null; }); });
    var enough = new Promise(function (done) { setTimeout(done, 2000); });
    return Promise.race([Promise.all(waits), enough]);
  }

  function show(pane, text) {
    var box = document.createElement("div");
    box.innerHTML = text;
    return ready(box).then(function () {
      var was = kept(pane);
      pane.textContent = "";
      while (box.firstChild) { pane.appendChild(box.firstChild); }
      place(pane);
      pane.dispatchEvent(new CustomEvent("prescrub-shown", { bubbles: true }));
      restore(pane, was);
      arrive(pane);
    });
  }

  /* An address may name a place that was not there yet when the browser looked for it. */
  var sought = location.hash.slice(1);

  function arrive(pane) {
    var mark = sought && document.getElementById(decodeURIComponent(sought));
    if (mark && pane.contains(mark)) {
      sought = "";
      mark.scrollIntoView();
    }
  }

  function shown(pane) {
    return Number(pane.getAttribute("data-shown")) || 0;
  }

  function renew(pane) {
    if (pane.isBusy) { return; }
    pane.isBusy = true;
    pane.isLost = false;
    var answered = false;
    fetch(pane.getAttribute("data-part"), { cache: "no-store", credentials: "same-origin" }).then(function (answer) {
      answered = true;
      var number = Number(answer.headers.get("X-Prescrub-State")) || 0;
      if (number >= newest && answer.headers.get("X-Prescrub-Said")) { said = answer.headers.get("X-Prescrub-Said"); }
      return answer.text().then(function (text) {
        if (text === pane.shown) { return null; }
        pane.shown = text;
        return show(pane, text);
      }).then(function () {
        pane.setAttribute("data-shown", String(number));
        tell();
      });
    }).catch(function (error) {
      pane.isLost = true;
      if (answered) { setTimeout(function () { throw error; }); }
    }).then(function () {
      pane.isBusy = false;
      if (pane.isLost) { setTimeout(function () { if (!away) { renew(pane); } }, 1000); }
      else if (shown(pane) < newest) { renew(pane); }
    });
  }

  /* ---- News. A tab that nobody looks at lets go: a browser lends a site only a few lines. ---- */

  var news = null;

  function listen() {
    if (news || document.hidden) { return; }
    news = new EventSource(home + "/changes?procedure=" + document.body.getAttribute("data-procedure"));
    news.onmessage = function (event) {
      var told = JSON.parse(event.data);
      var number = told.number;
      if (!panes.length) { said = told.said; }  /* a part says for itself which state it shows */
      away = false;
      if (number !== newest) { checkedAt = Date.now(); }
      newest = number;
      panes.forEach(function (pane) { if (shown(pane) < newest) { renew(pane); } });
      document.dispatchEvent(new CustomEvent("prescrub-changed", { detail: { number: number } }));
      tell();
    };
    news.onerror = function () { away = news.readyState !== EventSource.OPEN; tell(); };
  }

  document.addEventListener("visibilitychange", function () {
    if (!document.hidden) { listen(); return; }
    if (news) { news.close(); news = null; }
  });
  window.addEventListener("pagehide", function () { if (news) { news.close(); news = null; } });

  /* ---- Opening a line ---- */

  document.addEventListener("click", function (event) {
    var button = event.target.closest && event.target.closest(".pv-open");
    if (button) { open(button); }
    var form = event.target.closest && event.target.closest('a[href*="/edit/"]');
    if (form && !form.closest(".fm") && form.search.indexOf("back=") < 0) {
      var section = form.closest("section[id], .step, [role=note]");
      var mark = section && (section.id || (section.querySelector("[id]") || {}).id);
      form.search += (form.search ? "&" : "?") + "back=" + encodeURIComponent(location.pathname.slice(home.length + 1) + (mark ? "#" + mark : ""));
    }
    var link = event.target.closest && event.target.closest('.pv-list a, .pv-marks a');
    var note = link && document.getElementById((link.getAttribute("href") || "").slice(1));
    if (note) {
      event.preventDefault();
      var lines = note.querySelector("details");
      if (lines) { lines.open = true; }
      note.scrollIntoView({ block: "center" });
      note.focus({ preventScroll: true });
    }
  });

  function open(button) {
    var wanted = { file: button.getAttribute("data-file"), line: Number(button.getAttribute("data-line")), column: Number(button.getAttribute("data-column")) };
    fetch(home + "/open", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(wanted) })
      .then(function (answer) { return answer.json(); })
      .then(function (told) { button.textContent = told.said; })
      .catch(function () { button.textContent = "This did not work."; });
  }

  panes.forEach(renew);
  listen();
}());
