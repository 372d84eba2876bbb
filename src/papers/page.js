"use strict";
(function () {
  var plan = document.getElementById("track");
  var size = 1;
  function zoom(to) {
    var box = plan.parentElement;
    var middle = [box.scrollLeft + box.clientWidth / 2, box.scrollTop + box.clientHeight / 2];
    var by = Math.min(Math.max(to, 1), 16) / size;
    size *= by;
    plan.style.width = size * 100 + "%";
    box.scrollLeft = middle[0] * by - box.clientWidth / 2;
    box.scrollTop = middle[1] * by - box.clientHeight / 2;
  }
  if (plan) {
    document.getElementById("in").addEventListener("click", function () { zoom(size * 1.5); });
    document.getElementById("out").addEventListener("click", function () { zoom(size / 1.5); });
    document.getElementById("fit").addEventListener("click", function () { zoom(1); });
    plan.parentElement.addEventListener("keydown", function (event) {
      if (event.key === "+" || event.key === "=") { zoom(size * 1.5); }
      if (event.key === "-") { zoom(size / 1.5); }
      if (event.key === "0") { zoom(1); }
    });
  }
  var field = document.getElementById("search");
  var items = Array.prototype.slice.call(document.querySelectorAll(".item"));
  var texts = items.map(function (item) { return item.textContent.toLowerCase(); });
  function look() {
    var words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
    var count = 0;
    items.forEach(function (item, at) {
      var has = words.every(function (word) { return texts[at].indexOf(word) >= 0; });
      item.hidden = !has;
      count += has ? 1 : 0;
    });
    document.getElementById("found").textContent = words.length ? count + " of " + items.length + " entries have it." : "";
  }
  field.addEventListener("input", look);
  field.form.addEventListener("submit", function (event) { event.preventDefault(); look(); });
})();
