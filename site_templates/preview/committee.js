/* Sends the file that came back from a committee, then shows what came back in it. */
(function () {
  "use strict";

  var form = document.getElementById("cm-bring");
  var said = document.getElementById("cm-said");

  function tell(told) {
    if (told.page) { location.href = told.page; return; }
    said.className = "pv-refused";
    said.textContent = told.said;
  }

  form.addEventListener("submit", function (event) {
    event.preventDefault();
    var file = document.getElementById("cm-file").files[0];
    if (!file) { return; }
    var reader = new FileReader();
    reader.onload = function () {
      var body = JSON.stringify({ name: file.name, file: reader.result.slice(reader.result.indexOf(",") + 1) });
      fetch(form.getAttribute("data-to"), { method: "POST", headers: { "Content-Type": "application/json" }, body: body })
        .then(function (answer) {
          return answer.headers.get("Content-Type").indexOf("json") > 0 ? answer.json() : { said: "This is too large, or did not arrive whole." };
        })
        .then(tell)
        .catch(function () { tell({ said: "The preview does not answer. Is it still running?" }); });
    };
    reader.onerror = function () { tell({ said: "The file could not be read." }); };
    reader.readAsDataURL(file);
  });
}());
