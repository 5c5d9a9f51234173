/* A picture of a step: sent with its form, pointed at by a click, cropped by drawing. Without this file the numbers in the
   form do the same. */
(function () {
  "use strict";

  function percent(event, box) {
    var place = box.getBoundingClientRect();
    var across = (event.clientX - place.left) * 100 / place.width;
    var down = (event.clientY - place.top) * 100 / place.height;
    return [across, down].map(function (at) { return Math.round(Math.max(0, Math.min(100, at)) * 10) / 10; });
  }

  /* ---- A new picture ---- */

  var putting = document.querySelector("[data-picture]");
  if (putting) {
    var input = putting.querySelector("[type=file]");
    document.addEventListener("dragover", function (event) { event.preventDefault(); });
    document.addEventListener("drop", function (event) {
      event.preventDefault();
      if (event.dataTransfer.files.length) { input.files = event.dataTransfer.files; putting.elements.alt.focus(); }
    });
    putting.addEventListener("submit", function (event) {
      if (putting.elements.file) { return; }
      event.preventDefault();
      var reader = new FileReader();
      reader.onload = function () {
        var sent = document.createElement("input");
        sent.type = "hidden"; sent.name = "file";
        sent.value = reader.result.slice(reader.result.indexOf(",") + 1);
        putting.appendChild(sent);
        putting.requestSubmit(putting.querySelector("[name=do]"));
      };
      reader.readAsDataURL(input.files[0]);
    });
  }

  /* ---- A pointer by a click ---- */

  var pointing = document.querySelector("[data-point]");
  if (pointing) {
    var marked = pointing.querySelector(".rd-picture");
    marked.classList.add("rd-clickable");
    marked.addEventListener("click", function (event) {
      var at = percent(event, marked);
      pointing.elements.x.value = at[0];
      pointing.elements.y.value = at[1];
      if (pointing.elements.structure.value) { pointing.requestSubmit(pointing.querySelector("[value=point]")); }
      else { pointing.elements.structure.focus(); }
    });
    pointing.elements.structure.addEventListener("change", function () {
      if (pointing.elements.x.value && pointing.elements.structure.value) { pointing.requestSubmit(pointing.querySelector("[value=point]")); }
    });
  }

  /* ---- A part by drawing ---- */

  var cropping = document.querySelector("[data-crop]");
  if (cropping) {
    var whole = cropping.querySelector(".rd-picture");
    var shown = whole.querySelector("rect");
    var start = null;
    whole.classList.add("rd-clickable");
    whole.addEventListener("pointerdown", function (event) { start = percent(event, whole); whole.setPointerCapture(event.pointerId); });
    whole.addEventListener("pointermove", function (event) {
      if (!start) { return; }
      var end = percent(event, whole);
      var sides = { left: Math.min(start[0], end[0]), top: Math.min(start[1], end[1]), right: Math.max(start[0], end[0]), bottom: Math.max(start[1], end[1]) };
      Object.keys(sides).forEach(function (key) { cropping.elements[key].value = sides[key]; });
      [["x", sides.left], ["y", sides.top], ["width", sides.right - sides.left], ["height", sides.bottom - sides.top]].forEach(function (one) { shown.setAttribute(one[0], one[1] + "%"); });
    });
    whole.addEventListener("pointerup", function () { start = null; });
  }
}());
