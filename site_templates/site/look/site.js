/* Small helps for the reader. Every page is whole without them. Written for old browsers: no newer syntax than ES5. */
(function () {
  "use strict";

  /* ---- Search: looks at every section of the site while the reader types ---- */

  var SHOWN = 12;
  var index = null;
  var waiting = null;

  /* A script, not a request: pages opened from a file may not fetch. */
  function withIndex(root, then) {
    if (index) { then(); return; }
    if (waiting) { waiting.push(then); return; }
    waiting = [then];
    var script = document.createElement("script");
    script.src = root + "/search/search_index.js";
    script.onload = function () {
      index = prepared(window.__index.docs);
      waiting.forEach(function (one) { one(); });
      waiting = null;
    };
    document.head.appendChild(script);
  }

  function plain(text) {
    var low = text.toLowerCase();
    return low.normalize ? low.normalize("NFD").replace(/[\u0300-\u036f]/g, "") : low;
  }

  function text(html) {
    return new DOMParser().parseFromString(html, "text/html").body.textContent.replace(/\s+/g, " ");
  }

  function prepared(docs) {
    var page = "";
    return docs.map(function (doc) {
      var whole = doc.location.indexOf("#") < 0;
      var title = text(doc.title);
      if (whole) { page = title; }
      return { url: doc.location, title: title, page: whole ? "" : page, html: doc.text, low: plain(" " + title + " " + doc.text.replace(/<[^>]*>/g, " ")), head: plain(" " + title) };
    });
  }

  /* The higher the better; 0 where a word is missing. Words match from their start. */
  function rank(entry, words) {
    var score = entry.page ? 1 : 3;
    for (var i = 0; i < words.length; i += 1) {
      var start = new RegExp("[^a-z0-9]" + words[i].replace(/[^a-z0-9]/g, "\\$&"));
      if (start.test(entry.head)) { score += 20; }
      else if (start.test(entry.low)) { score += 2; }
      else { return 0; }
    }
    return score;
  }

  function search(words) {
    var hits = [];
    index.forEach(function (entry, place) {
      var score = rank(entry, words);
      if (score) { hits.push({ entry: entry, score: score, place: place }); }
    });
    hits.sort(function (a, b) { return b.score - a.score || a.place - b.place; });
    return hits;
  }

  function snippet(entry, words) {
    var said = text(entry.html);
    var at = plain(said).search(new RegExp("(^|[^a-z0-9])" + words[0].replace(/[^a-z0-9]/g, "\\$&")));
    if (at < 0) { return ""; }
    var from = at < 40 ? 0 : said.indexOf(" ", at - 30) + 1;
    return (from ? "… " : "") + said.slice(from, from + 110) + (said.length > from + 110 ? " …" : "");
  }

  function item(hit, root, words) {
    var line = document.createElement("li");
    var link = document.createElement("a");
    var name = document.createElement("b");
    var where = document.createElement("span");
    name.textContent = hit.entry.title;
    where.className = "in";
    where.textContent = (hit.entry.page ? " " + hit.entry.page + ". " : " ") + snippet(hit.entry, words);
    link.href = root + "/" + hit.entry.url;
    link.appendChild(name);
    link.appendChild(where);
    line.appendChild(link);
    return line;
  }

  function searchBox(place, number) {
    var root = place.getAttribute("data-find");
    var wide = /wide/.test(place.className);
    var id = "find-" + number;
    var form = document.createElement("form");
    var label = document.createElement("label");
    var input = document.createElement("input");
    var found = document.createElement("div");
    var said = document.createElement("p");
    var list = document.createElement("ol");
    form.setAttribute("role", "search");
    label.htmlFor = input.id = id;
    label.textContent = wide ? "Find a procedure, a step, a structure or a drug" : "Search";
    if (!wide) { label.className = "aside"; input.placeholder = "Search"; }
    input.type = "search";
    input.autocomplete = "off";
    input.spellcheck = false;
    found.className = "found";
    found.hidden = true;
    said.setAttribute("role", "status");
    found.appendChild(said);
    found.appendChild(list);
    form.appendChild(label);
    form.appendChild(input);
    form.appendChild(found);
    place.appendChild(form);

    function show() {
      var words = plain(input.value).split(/\s+/).filter(Boolean);
      list.textContent = "";
      found.hidden = !words.length;
      if (!words.length) { said.textContent = ""; return; }
      var hits = search(words);
      said.textContent = !hits.length ? "Nothing found" : hits.length === 1 ? "1 place" : hits.length > SHOWN ? "The first " + SHOWN + " of " + hits.length + " places" : hits.length + " places";
      hits.slice(0, SHOWN).forEach(function (hit) { list.appendChild(item(hit, root, words)); });
    }

    function move(event, by) {
      var links = Array.prototype.slice.call(list.querySelectorAll("a"));
      var next = links.indexOf(document.activeElement) + by;
      if (next >= links.length) { return; }
      event.preventDefault();
      if (next < 0) { input.focus(); } else { links[next].focus(); }
    }

    input.addEventListener("focus", function () { withIndex(root, function () {}); });
    input.addEventListener("input", function () { withIndex(root, show); });
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      var first = list.querySelector("a");
      if (first) { first.click(); }
    });
    form.addEventListener("keydown", function (event) {
      if (event.key === "ArrowDown" || event.key === "Down") { move(event, 1); }
      if (event.key === "ArrowUp" || event.key === "Up") { move(event, -1); }
      if (event.key === "Escape" || event.key === "Esc") { input.value = ""; show(); input.focus(); }
    });
    document.addEventListener("click", function (event) {
      if (!wide && !place.contains(event.target)) { found.hidden = true; }
    });
  }

  Array.prototype.forEach.call(document.querySelectorAll("[data-find]"), searchBox);
}());
