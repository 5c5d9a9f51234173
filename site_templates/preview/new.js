/* Sends title and outline, or a file, and shows what was drafted. */
(function () {
  "use strict";

  var home = document.body.getAttribute("data-home");
  var form = document.getElementById("pv-new");
  var said = document.getElementById("pv-said");
  var button = form.querySelector("button");

  function make(name, parent, words) {
    var element = document.createElement(name);
    element.textContent = words || "";
    parent.appendChild(element);
    return element;
  }

  function encoded(file) {
    return new Promise(function (done, failed) {
      var reader = new FileReader();
      reader.onload = function () { done(reader.result.slice(reader.result.indexOf(",") + 1)); };
      reader.onerror = function () { failed(reader.error); };
      reader.readAsDataURL(file);
    });
  }

  function tell(told) {
    said.textContent = "";
    form.querySelectorAll("[aria-invalid]").forEach(function (one) { one.removeAttribute("aria-invalid"); });
    if (told.page) {
      var way = make("p", said);
      var link = make("a", way, "Look at the new procedure");
      link.href = told.page;
      link.className = "pv-button";
      make("pre", said, told.said).className = "pv-report";
      link.focus();
      return;
    }
    make("p", said, told.said).className = "pv-refused";
    var field = form.querySelector("[name=" + (told.field || "title") + "]");
    field.setAttribute("aria-invalid", "true");
    field.focus();
  }

  form.addEventListener("submit", function (event) {
    event.preventDefault();
    var file = document.getElementById("pv-file").files[0];
    button.disabled = true;
    said.textContent = "One moment …";
    Promise.resolve(file ? encoded(file) : "").then(function (content) {
      var body = { title: form.elements.title.value, outline: form.elements.outline.value, name: file ? file.name : "", file: content };
      return fetch(home + "/new", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    }).then(function (answer) {
      return answer.headers.get("Content-Type").indexOf("json") > 0 ? answer.json() : { said: "This is too large, or did not arrive whole." };
    }).then(tell).catch(function () {
      tell({ said: "The preview does not answer. Is it still running?" });
    }).then(function () { button.disabled = false; });
  });
}());
