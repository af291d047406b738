(function () {
  "use strict";
  var root = document.documentElement;
  var all = Array.prototype.slice.call(document.querySelectorAll(".slide"));
  var place = document.querySelector(".place");
  var at = 0;
  function show(next, moved) {
    at = Math.max(0, Math.min(all.length - 1, next));
    all.forEach(function (slide, number) { slide.classList.toggle("now", number === at); });
    place.textContent = place.dataset.text.replace("#", String(at + 1));
    if (moved) {
      history.replaceState(null, "", "#" + (at + 1));
      all[at].focus();
    }
  }
  function asked() { return (parseInt(location.hash.slice(1), 10) || 1) - 1; }
  var turns = {
    ArrowRight: function () { return at + 1; }, ArrowDown: function () { return at + 1; },
    PageDown: function () { return at + 1; }, " ": function () { return at + 1; }, Enter: function () { return at + 1; },
    ArrowLeft: function () { return at - 1; }, ArrowUp: function () { return at - 1; },
    PageUp: function () { return at - 1; }, Backspace: function () { return at - 1; },
    Home: function () { return 0; }, End: function () { return all.length - 1; }
  };
  document.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.metaKey || event.altKey) { return; }
    if (event.key === "n" || event.key === "N") {
      root.classList.toggle("noting");
    } else if (event.key === "f" || event.key === "F") {
      if (document.fullscreenElement) { document.exitFullscreen(); } else { root.requestFullscreen(); }
    } else if (turns[event.key]) {
      event.preventDefault();
      show(turns[event.key](), true);
    }
  });
  document.addEventListener("click", function (event) {
    if (event.target.closest(".notes")) { return; }
    show(at + (event.clientX < window.innerWidth / 3 ? -1 : 1), true);
  });
  window.addEventListener("hashchange", function () { show(asked(), false); });
  root.classList.add("turning");
  show(asked(), false);
}());
