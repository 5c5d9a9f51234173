/* Small helps for the reader. Every page is whole without them. Written for old browsers: no newer syntax than ES5. */
(function () {
  "use strict";

  /* ---- Search: looks at every part of every procedure while the reader types ---- */

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
      index = prepared(window.searchIndex);
      waiting.forEach(function (one) { one(); });
      waiting = null;
    };
    document.head.appendChild(script);
  }

  function plain(text) {
    var low = text.toLowerCase();
    return low.normalize ? low.normalize("NFD").replace(/[\u0300-\u036f]/g, "") : low;
  }

  function prepared(pages) {
    var all = [];
    pages.forEach(function (page) {
      page[2].forEach(function (part) {
        all.push({
          url: page[0] + (part[0] ? "#" + part[0] : ""),
          title: part[1],
          page: part[0] ? page[1] : "",
          shows: part[2],
          head: plain(" " + part[1]),
          body: plain(" " + part[2]) + " " + part[3]
        });
      });
    });
    return all;
  }

  /* A word matches from its start; a plural finds the singular. */
  function pattern(word) {
    var stem = word.length > 4 ? word.replace(/(ies|es|s)$/, "") : word;
    return new RegExp("[^a-z0-9]" + stem.replace(/[^a-z0-9]/g, "\\$&"));
  }

  /* The higher the better; 0 where a word is missing. */
  function rank(entry, starts) {
    var score = entry.page ? 1 : 3;
    for (var i = 0; i < starts.length; i += 1) {
      if (starts[i].test(entry.head)) { score += 20; }
      else if (starts[i].test(entry.body)) { score += 2; }
      else { return 0; }
    }
    return score;
  }

  function search(starts) {
    var hits = [];
    index.forEach(function (entry, place) {
      var score = rank(entry, starts);
      if (score) { hits.push({ entry: entry, score: score, place: place }); }
    });
    hits.sort(function (a, b) { return b.score - a.score || a.place - b.place; });
    return hits;
  }

  function snippet(entry, starts) {
    var at = plain(" " + entry.shows).search(starts[0]);
    var from = at < 40 ? 0 : entry.shows.indexOf(" ", at - 30) + 1;
    var end = from + 110;
    return (from ? "… " : "") + entry.shows.slice(from, end) + (entry.shows.length > end ? " …" : "");
  }

  function item(hit, root, starts) {
    var line = document.createElement("li");
    var link = document.createElement("a");
    var name = document.createElement("b");
    var where = document.createElement("span");
    name.textContent = hit.entry.title;
    where.className = "in";
    where.textContent = (hit.entry.page ? " " + hit.entry.page + ". " : " ") + snippet(hit.entry, starts);
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
      var words = plain(input.value).split(/[^a-z0-9]+/).filter(Boolean).map(pattern);
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
