// Without it nothing is missing but this: what was typed is kept on the phone when the page is closed.
(function () {
  var kept;
  try { kept = window.localStorage; kept.setItem("swardwright", "1"); } catch (error) { return; }
  var place = "swardwright " + document.title + " " + (document.documentElement.dataset.round || "") + " ";
  Array.prototype.forEach.call(document.querySelectorAll("input"), function (field) {
    field.value = kept.getItem(place + field.id) || "";
    field.addEventListener("input", function () { kept.setItem(place + field.id, field.value); });
  });
  document.getElementById("keeping").textContent = "Times and notes are kept on this phone, in this file alone.";
})();
