/* Sends title and words, or a file, which may be dropped on the page; then the talk is read beside its module. */
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
    if (told.page) { location.href = told.page; return; }
    make("p", said, told.said).className = "pv-refused";
    var field = form.querySelector("[name=" + (told.field || "title") + "]");
    field.setAttribute("aria-invalid", "true");
    field.focus();
  }

  document.addEventListener("dragover", function (event) { event.preventDefault(); });
  document.addEventListener("drop", function (event) {
    event.preventDefault();
    if (!event.dataTransfer.files.length) { return; }
    document.getElementById("pv-file").files = event.dataTransfer.files;
    var title = form.elements.title;
    if (!title.value) { title.value = event.dataTransfer.files[0].name.replace(/\.[^.]+$/, "").replace(/[-_]+/g, " "); }
    title.focus();
  });

  form.addEventListener("submit", function (event) {
    event.preventDefault();
    var file = document.getElementById("pv-file").files[0];
    button.disabled = true;
    said.textContent = "One moment …";
    Promise.resolve(file ? encoded(file) : "").then(function (content) {
      var body = { title: form.elements.title.value, outline: form.elements.outline.value, steps: form.elements.steps.value, name: file ? file.name : "", file: content };
      var address = file && /\.zip$/i.test(file.name) ? "/take" : "/new";
      return fetch(home + address, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    }).then(function (answer) {
      return answer.headers.get("Content-Type").indexOf("json") > 0 ? answer.json() : { said: "This is too large, or did not arrive whole." };
    }).then(tell).catch(function () {
      tell({ said: "The preview does not answer. Is it still running?" });
    }).then(function () { button.disabled = false; });
  });
}());
