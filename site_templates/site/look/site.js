/* Small helps for the reader. Every page is whole without them. Written for old browsers: no newer syntax than ES5. */
(function () {
  "use strict";

  /* Words are put in their language while this is published: what `_` is called with becomes what it says there. */
  function told(words, values) {
    return words.replace(/%\((\w+)\)s/g, function (_, name) { return values[name]; });
  }

  function list(root, query) {
    return Array.prototype.slice.call(root.querySelectorAll(query));
  }

  function each(root, query, act) {
    list(root, query).forEach(act);
  }

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
    script.src = root + "/search/places.js";
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

  function patterns(asked) {
    return plain(asked).split(/[^a-z0-9]+/).filter(Boolean).map(pattern);
  }

  /* Whole words: about 110 letters round the first that was asked for. */
  function snippet(entry, starts) {
    var shows = plain(" " + entry.shows);
    var at = starts.map(function (start) { return shows.search(start); }).filter(function (place) { return place >= 0; })[0] || 0;
    var from = at < 40 ? 0 : entry.shows.indexOf(" ", at - 30) + 1;
    var end = entry.shows.indexOf(" ", from + 110);
    return (from ? "… " : "") + (end < 0 ? entry.shows.slice(from) : entry.shows.slice(from, end) + " …");
  }

  /* ``text``, with every whole word marked that begins as what was asked for. */
  function marked(text, starts) {
    var made = document.createDocumentFragment();
    text.split(/([A-Za-z0-9\u00c0-\u024f]+)/).forEach(function (piece, place) {
      var isFound = place % 2 && starts.some(function (start) { return start.test(plain(" " + piece)); });
      if (isFound) { make("mark", made, piece); } else if (piece) { made.appendChild(document.createTextNode(piece)); }
    });
    return made;
  }

  /* On the page that a result opens, what was asked for is marked, and unfolded where the result points. */
  function markFound(main) {
    var asked = /[?&]find=([a-z0-9+]+)/.exec(location.search);
    var starts = asked ? patterns(asked[1]) : [];
    if (!starts.length) { return; }
    var walker = document.createTreeWalker(main, NodeFilter.SHOW_TEXT, null, false);
    var texts = [];
    while (walker.nextNode()) { texts.push(walker.currentNode); }
    texts.forEach(function (text) {
      var isLabel = /^ \((step|not on) /.test(text.nodeValue) || /^(script|style|text|title|option)$/i.test(text.parentNode.tagName);
      var made = isLabel ? null : marked(text.nodeValue, starts);
      if (made && made.querySelector("mark")) { text.parentNode.replaceChild(made, text); }
    });
    var target = document.getElementById(location.hash.slice(1));
    if (!target) { return; }
    each(target.parentNode, ".more mark", function (mark) {
      for (var fold = mark; fold !== target.parentNode; fold = fold.parentNode) { if (fold.tagName === "DETAILS") { fold.open = true; } }
    });
    target.scrollIntoView(true);
  }

  function item(hit, root, starts, asked) {
    var line = document.createElement("li");
    var link = document.createElement("a");
    var name = document.createElement("b");
    var where = document.createElement("span");
    name.appendChild(marked(hit.entry.title, starts));
    where.className = "in";
    where.appendChild(marked((hit.entry.page ? " " + hit.entry.page + ". " : " ") + snippet(hit.entry, starts), starts));
    link.href = root + "/" + hit.entry.url.replace(/#|$/, "?find=" + asked + "$&");
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
    label.textContent = place.getAttribute("data-label") || (wide ? _("Find a procedure, a step, a structure or a drug") : _("Search"));
    if (!wide) { label.className = "aside"; input.placeholder = _("Search"); }
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
      var words = patterns(input.value);
      var asked = plain(input.value).replace(/[^a-z0-9]+/g, "+");
      list.textContent = "";
      found.hidden = !words.length;
      if (!words.length) { said.textContent = ""; return; }
      var hits = search(words);
      said.textContent = !hits.length ? _("Nothing found") : hits.length === 1 ? _("1 place") : hits.length > SHOWN ? told(_("The first %(shown)s of %(places)s places"), { shown: SHOWN, places: hits.length }) : told(_("%(places)s places"), { places: hits.length });
      hits.slice(0, SHOWN).forEach(function (hit) { list.appendChild(item(hit, root, words, asked)); });
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

  each(document, "[data-find]", searchBox);

  /* ---- Choose your way: the page shows one way through the operation; every step keeps its number ---- */

  function make(name, parent, words) {
    var element = document.createElement(name);
    if (words) { element.textContent = words; }
    if (parent) { parent.appendChild(element); }
    return element;
  }

  function capital(words) {
    return words.charAt(0).toUpperCase() + words.slice(1);
  }

  function ways(way) {
    var choices = list(way, "[data-kind=choose], [data-kind=option]");
    var picked = {};
    var rows = {};
    if (!choices.length) { return; }

    var form = document.createElement("form");
    form.className = "ways";
    var fold = make("details", form);
    fold.className = "more";
    fold.open = true;
    make("summary", fold, _("Choose your way"));
    make("p", fold, _("Choose your way, and the steps below show that way only."));
    choices.forEach(function (choice) { rows[choice.getAttribute("data-choice")] = row(choice); });
    var said = make("p", form);
    said.className = "said";
    said.setAttribute("role", "status");
    var all = make("button", form, _("Show all ways"));
    all.type = "button";
    all.hidden = true;
    all.addEventListener("click", function () { form.reset(); picked = {}; show(); form.querySelector("input").focus(); });
    way.insertBefore(form, way.querySelector("h2").nextSibling);

    function row(choice) {
      var id = choice.getAttribute("data-choice");
      var field = make("fieldset", fold);
      make("legend", field, choice.getAttribute("data-title"));
      radio(field, id, "", _("All ways"));
      if (choice.getAttribute("data-kind") === "option") {
        radio(field, id, "taken", _("Done"));
        radio(field, id, "left-out", _("Left out"));
      } else {
        branches(choice).forEach(function (branch) {
          var letter = branch.querySelector(".letter");
          radio(field, id, branch.getAttribute("data-branch"), branch.getAttribute("data-label"), letter ? letter.textContent : "");
        });
      }
      return field;
    }

    function radio(field, id, value, words, letter) {
      var label = make("label", field);
      var input = make("input", label);
      input.type = "radio";
      input.name = "way-" + id;
      input.value = value;
      input.checked = !value;
      input.autocomplete = "off";
      if (letter) { make("b", label, letter); }
      make("span", label, words);
      input.addEventListener("change", function () { picked[id] = value; show(); });
    }

    function branches(choice) {
      return list(choice, ".branch").filter(function (branch) { return branch.parentNode === choice; });
    }

    function show() {
      list(way, ".choice").forEach(function (choice) {
        var pick = picked[choice.getAttribute("data-choice")];
        choice.hidden = choice.getAttribute("data-kind") === "option" && pick === "left-out";
        branches(choice).forEach(function (branch) { branch.hidden = !!pick && !choice.hidden && branch.getAttribute("data-branch") !== pick; });
      });
      var picks = [];
      choices.forEach(function (choice) {
        var id = choice.getAttribute("data-choice");
        var reached = !gone(choice.parentNode);
        rows[id].hidden = !reached;
        if (reached && picked[id]) { picks.push(choice.getAttribute("data-title") + ": " + rows[id].querySelector("input:checked ~ span").textContent.toLowerCase()); }
      });
      links();
      said.textContent = !picks.length ? "" : _("You do not see every step.") + " " + capital(picks.join("; ")) + ".";
      all.hidden = !picks.length;
    }

    function gone(element) {
      for (; element && element !== way; element = element.parentNode) { if (element.hidden) { return true; } }
      return false;
    }

    function links() {
      var pointer = new RegExp("^ \\((" + told(_("step %(number)s"), { number: "\\w+" }) + "|" + _("not on this way") + ")\\)");
      list(way, ".step").forEach(function (step) {
        var id = step.getAttribute("aria-labelledby");
        var hidden = gone(step);
        each(document, 'nav a[href="#' + id + '"]', function (link) { link.parentNode.hidden = hidden; });
        each(way, 'a[href="#' + id + '"]', function (link) {
          var after = link.nextSibling;
          if (after && after.nodeType === 3) {
            after.nodeValue = after.nodeValue.replace(pointer, " (" + (hidden ? _("not on this way") : told(_("step %(number)s"), { number: step.querySelector("[data-number]").textContent })) + ")");
          }
        });
      });
      tellPlace();
    }
  }

  /* ---- Where am I: the step in view, the one before and the one after, and all of them to choose from ---- */

  var tellPlace = function () {};

  function stepBar(page) {
    var contents = page.querySelector(".contents ul");
    if (!contents || !page.querySelector(".step")) { return; }
    var bar = make("nav");
    bar.className = "stepbar";
    bar.setAttribute("aria-label", _("Step in view"));
    var all = make("ul", bar);
    all.innerHTML = contents.innerHTML;
    all.id = "all-steps";
    all.hidden = true;
    var row = make("div", bar);
    row.className = "row";
    var back = button(_("‹ Back"), -1);
    var here = make("button", row);
    var next = button(_("Next ›"), 1);
    here.type = "button";
    here.className = "here";
    here.setAttribute("aria-expanded", "false");
    here.setAttribute("aria-controls", all.id);
    here.addEventListener("click", function () { open(all.hidden); });
    bar.addEventListener("keydown", function (event) {
      if (!all.hidden && (event.key === "Escape" || event.key === "Esc")) { open(false); here.focus(); }
    });
    all.addEventListener("click", function () { open(false); });
    document.addEventListener("click", function (event) { if (!bar.contains(event.target)) { open(false); } });
    document.body.appendChild(bar);
    document.body.className += " has-bar";
    var waiting = false;
    window.addEventListener("scroll", function () {
      if (waiting) { return; }
      waiting = true;
      window.requestAnimationFrame(function () { waiting = false; tellPlace(); });
    });
    window.addEventListener("resize", function () { tellPlace(); });
    tellPlace = tell;
    tell();

    function button(words, by) {
      var made = make("button", row, words);
      made.type = "button";
      made.addEventListener("click", function () { go(by); });
      return made;
    }

    function open(yes) {
      all.hidden = !yes;
      here.setAttribute("aria-expanded", String(yes));
      var current = all.querySelector("[aria-current]");
      if (yes && current) { all.scrollTop = current.offsetTop - all.clientHeight / 3; }
    }

    function steps() {
      return list(page, ".step").filter(seen);
    }

    /* Where a step begins: where its choice does, if it is the first there, so that no caution is passed over. */
    function start(step) {
      var first = step;
      for (var outer = step.parentNode; outer !== page; outer = outer.parentNode) {
        if (/(^| )choice( |$)/.test(outer.className) && list(outer, ".step").filter(seen)[0] === step) { first = outer; }
      }
      return first;
    }

    function seen(step) {
      return step.getClientRects().length > 0;
    }

    /* The last step that begins above the upper third of the window; -1 before the first. */
    function place(shown) {
      var line = window.innerHeight / 3;
      var at = -1;
      shown.forEach(function (step, number) { if (start(step).getBoundingClientRect().top < line) { at = number; } });
      return at;
    }

    function go(by) {
      var shown = steps();
      var step = shown[Math.max(0, (below() ? shown.length : place(shown)) + by)];
      if (step) {
        start(step).scrollIntoView(true);
        tell();
      }
    }

    /* The heading of the part in view that comes after the steps; none before their end. */
    function below() {
      var isEnd = window.innerHeight + window.pageYOffset >= document.documentElement.scrollHeight - 2;
      var line = isEnd ? window.innerHeight : window.innerHeight / 3;
      var way = page.querySelector(".way");
      return list(page, "h2[id]").filter(function (heading) {
        return seen(heading) && heading.getBoundingClientRect().top < line && way.compareDocumentPosition(heading) === Node.DOCUMENT_POSITION_FOLLOWING;
      }).pop();
    }

    function tell() {
      var shown = steps();
      var part = below();
      var at = part ? shown.length : place(shown);
      var step = shown[at];
      here.textContent = "";
      make("b", here, part ? part.textContent : step ? step.querySelector("[data-number]").textContent : _("Steps"));
      if (!part) { make("span", here, step ? step.querySelector(".title").textContent : String(shown.length)); }
      here.setAttribute("aria-label", (part ? part.textContent : step ? told(_("Step %(step)s, %(at)s of %(steps)s"), { step: here.textContent.replace(/^(\w+)/, "$1 "), at: at + 1, steps: shown.length }) : shown.length === 1 ? _("1 step") : told(_("%(steps)s steps"), { steps: shown.length })) + ". " + _("Choose another"));
      back.disabled = at < 1;
      next.disabled = at >= shown.length - 1;
      var current = part ? part.id : step ? step.getAttribute("aria-labelledby") : "";
      each(all, "a", function (link) {
        if (link.getAttribute("href") === "#" + current) { link.setAttribute("aria-current", "step"); } else { link.removeAttribute("aria-current"); }
      });
    }
  }

  each(document, ".procedure", stepBar);
  each(document, ".way", ways);

  /* ---- On a small screen reasons, slips, sources and long captions are folded; a link into one unfolds it ---- */

  function unfold(mark) {
    for (var inner = mark && document.getElementById(mark); inner; inner = inner.parentNode) {
      if (inner.tagName === "DETAILS") { inner.open = true; }
    }
  }

  if (window.matchMedia && window.matchMedia("(max-width: 46rem)").matches) {
    document.documentElement.className += " is-small";
    each(document, ".more", function (more) { more.open = false; });
    window.addEventListener("hashchange", function () { unfold(decodeURIComponent(location.hash.slice(1))); });
    window.addEventListener("beforeprint", function () { each(document, ".more", function (more) { more.open = true; }); });
    unfold(decodeURIComponent(location.hash.slice(1)));
  }

  /* ---- Print my card: fewer lines of the table, until one is left ---- */

  function cards(table) {
    var rows = list(table, "tbody tr");
    var heads = list(table, "thead th").slice(0, -1);
    var picked = [];
    if (rows.length < 3) { return; }

    var form = document.createElement("form");
    form.className = "ways";
    make("p", form, _("Choose your way, and the table shows its cards only."));
    heads.forEach(field);
    var said = make("p", form);
    said.className = "said";
    said.setAttribute("role", "status");
    table.parentNode.insertBefore(form, table);

    function cell(row, place) {
      return row.children[place].textContent.trim();
    }

    function field(head, place) {
      var words = rows.map(function (row) { return cell(row, place); });
      var group = make("fieldset", form);
      make("legend", group, head.textContent);
      picked.push("");
      radio(group, place, "", _("All ways"));
      words.forEach(function (word, at) { if (word !== "–" && words.indexOf(word) === at) { radio(group, place, word, word); } });
    }

    function radio(group, place, value, words) {
      var label = make("label", group);
      var input = make("input", label);
      input.type = "radio";
      input.name = "card-" + place;
      input.checked = !value;
      input.autocomplete = "off";
      make("span", label, words);
      input.addEventListener("change", function () { picked[place] = value; show(); });
    }

    function show() {
      var left = rows.filter(function (row) {
        row.hidden = picked.some(function (value, place) { return value && cell(row, place) !== value; });
        return !row.hidden;
      });
      said.textContent = left.length === rows.length ? "" : !left.length ? _("No way is like that. Choose again.") : left.length === 1 ? _("One way is left.") : told(_("%(left)s of %(ways)s ways are left."), { left: left.length, ways: rows.length });
    }
  }

  each(document, "main", markFound);
  each(document, ".choose-card", cards);

  /* ---- Figures: larger, with their pointers ---- */

  function enlarge(figure) {
    var picture = figure.querySelector(".picture");
    if (!window.HTMLDialogElement || !picture) { return; }
    var button = make("button", figure, _("Enlarge"));
    button.type = "button";
    button.className = "enlarge";
    button.setAttribute("aria-label", told(_("Enlarge figure %(number)s"), { number: (figure.querySelector("figcaption b") || figure).textContent.replace(/[^0-9]/g, "") }));
    function open(event) {
      event.preventDefault();
      var dialog = make("dialog", document.body);
      dialog.className = "large";
      var close = make("button", dialog, _("Close"));
      close.type = "button";
      var large = make("div", dialog);
      large.className = "picture";
      large.innerHTML = picture.innerHTML;
      var legend = figure.querySelector(".legend");
      if (legend) { dialog.appendChild(legend.cloneNode(true)); }
      dialog.setAttribute("aria-label", large.querySelector("img").alt);
      close.addEventListener("click", function () { dialog.close(); });
      dialog.addEventListener("close", function () { document.body.removeChild(dialog); button.focus(); });
      dialog.showModal();
    }
    button.addEventListener("click", open);
    picture.addEventListener("click", open);
  }

  each(document, "figure", enlarge);

  /* ---- Self-test: each question is marked when asked; what was right is kept on this device only, or by the learning
     system that shows it, which then is what `selfTestKeeper` speaks to ---- */

  function selftest(test) {
    var key = "self-test " + test.getAttribute("data-test");
    var total = test.getAttribute("data-total");
    var keeper = window.selfTestKeeper;
    var right = kept();
    var bar = document.createElement("div");
    bar.className = "marksheet";
    var said = make("p", bar);
    said.setAttribute("role", "status");
    make("p", bar, keeper ? keeper.words : _("Your marks stay on this device. They are sent nowhere."));
    var forget = make("button", bar, _("Forget my marks"));
    forget.type = "button";
    forget.addEventListener("click", function () { right = {}; if (keeper) { keeper.forget(); } keep(); each(test, ".verdict", function (one) { one.textContent = ""; one.className = "verdict"; }); });
    test.querySelector(".head").appendChild(bar);
    each(test, ".question", question);
    test.querySelector(".answers").hidden = true;
    tell();

    function kept() {
      if (keeper) { return keeper.right(); }
      try { return JSON.parse(window.localStorage.getItem(key)) || {}; } catch (error) { return {}; }
    }

    function keep() {
      try { if (!keeper) { window.localStorage.setItem(key, JSON.stringify(right)); } } catch (error) { /* then they last until the page is left */ }
      tell();
    }

    function tell() {
      said.textContent = told(_("%(right)s of %(total)s right so far."), { right: Object.keys(right).length, total: total });
    }

    function question(field) {
      var number = field.id.replace("question-", "");
      var order = field.getAttribute("data-kind") === "order";
      var wanted = field.getAttribute("data-right").split(" ");
      var button = make("button", field, _("Check"));
      button.type = "button";
      button.setAttribute("aria-label", told(_("Check question %(number)s"), { number: number }));
      var verdict = make("div", field);
      verdict.className = "verdict";
      verdict.setAttribute("role", "status");
      if (right[number]) { make("p", verdict, _("You had this right before.")); }
      button.addEventListener("click", function () {
        var given = list(field, order ? "select" : "input").map(function (input) { return order ? input.value : input.checked ? "1" : "0"; });
        var empty = order ? given.indexOf("") >= 0 : given.indexOf("1") < 0;
        verdict.textContent = "";
        verdict.className = "verdict";
        if (empty) { make("p", verdict, order ? _("Give each its place first.") : _("Answer first, then look.")); return; }
        var good = given.join(" ") === wanted.join(" ");
        verdict.className = "verdict " + (good ? "good" : "bad");
        make("p", verdict, good ? _("✓ Right.") : _("✗ Not so.")).className = "word";
        var answer = document.getElementById("answer-" + number);
        if (!order) {
          list(answer, ".told li").forEach(function (line) {
            if (given[line.getAttribute("data-choice") - 1] === "1") { make("p", verdict, line.querySelector("span").textContent).className = "taken"; }
          });
        }
        if (!good) { make("p", verdict, _("This is right:")); }
        list(answer, "p").forEach(function (line) { verdict.appendChild(line.cloneNode(true)); });
        if (good) { right[number] = 1; } else { delete right[number]; }
        if (keeper) { keeper.checked(number, good, given.join(" "), order); }
        keep();
      });
    }
  }

  each(document, ".test", selftest);

  /* ---- While a page is written, its text is put in place of an older one ---- */

  document.addEventListener("prescrub-shown", function (event) {
    each(event.target, ".way", ways);
    each(event.target, "figure", enlarge);
  });
}());
