/* Keeps the marks of a self-test in the learning system that shows it: the run-time of SCORM 1.2 (ADL, 2001).
   Where there is none, as from a file share, the test works and keeps nothing. */
(function () {
  "use strict";
  var MOST_FRAMES = 10;
  var MOST_SIGNS = 4096; /* of cmi.suspend_data */

  function found(frame) {
    for (var at = 0; frame && at < MOST_FRAMES; at += 1) {
      try { if (frame.API) { return frame.API; } } catch (error) { return null; /* a frame of another site */ }
      if (frame === frame.parent) { return null; }
      frame = frame.parent;
    }
    return null;
  }

  var api = found(window) || found(window.opener);
  if (!api || String(api.LMSInitialize("")) !== "true") { return; }
  var began = Date.now();
  var done = false;
  var state = { right: {}, tried: {} };
  try { state = JSON.parse(api.LMSGetValue("cmi.suspend_data")) || state; } catch (error) { /* a first visit */ }
  var answered = Number(api.LMSGetValue("cmi.interactions._count")) || 0;
  /* A status says what was reached, so a first visit begins as incomplete, and a later one leaves it as it was. */
  if (api.LMSGetValue("cmi.core.lesson_status") === "not attempted") { api.LMSSetValue("cmi.core.lesson_status", "incomplete"); }

  function two(number) { return (number < 10 ? "0" : "") + number; }

  function span(seconds) {
    return [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60].map(two).join(":");
  }

  function keep() {
    var test = document.querySelector(".test");
    var total = Number(test.getAttribute("data-total"));
    var right = Object.keys(state.right).length;
    var score = Math.floor(100 * right / total);
    var kept = JSON.stringify(state);
    if (kept.length <= MOST_SIGNS) { api.LMSSetValue("cmi.suspend_data", kept); }
    api.LMSSetValue("cmi.core.score.min", "0");
    api.LMSSetValue("cmi.core.score.max", "100");
    api.LMSSetValue("cmi.core.score.raw", String(score));
    if (Object.keys(state.tried).length === total) {
      api.LMSSetValue("cmi.core.lesson_status", score >= Number(document.body.getAttribute("data-pass-mark")) ? "passed" : "failed");
    } else {
      api.LMSSetValue("cmi.core.lesson_status", "incomplete");
    }
    api.LMSCommit("");
  }

  function end() {
    if (done) { return; }
    done = true;
    api.LMSSetValue("cmi.core.session_time", "00" + span(Math.round((Date.now() - began) / 1000)));
    api.LMSSetValue("cmi.core.exit", "suspend");
    api.LMSFinish("");
  }

  window.selfTestKeeper = {
    words: _("Your learning system keeps which questions you had right."),
    right: function () {
      var right = {};
      Object.keys(state.right).forEach(function (number) { right[number] = 1; });
      return right;
    },
    checked: function (number, good, given, order) {
      state.tried[number] = 1;
      if (good) { state.right[number] = 1; } else { delete state.right[number]; }
      var name = "cmi.interactions." + answered + ".";
      var taken = given.split(" ").map(function (mark, at) { return order ? mark : mark === "1" ? String(at + 1) : ""; });
      answered += 1;
      api.LMSSetValue(name + "id", "question-" + number);
      api.LMSSetValue(name + "type", order ? "sequencing" : "choice");
      api.LMSSetValue(name + "student_response", taken.filter(Boolean).join(","));
      api.LMSSetValue(name + "result", good ? "correct" : "wrong");
      keep();
    },
    forget: function () {
      state = { right: {}, tried: {} };
      keep();
    }
  };
  window.addEventListener("pagehide", end);
  window.addEventListener("beforeunload", end);
})();
