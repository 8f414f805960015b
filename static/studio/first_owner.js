// Guess the time zone, and the money used there, from the browser's own clock; whatever was chosen stays.
"use strict";

(function () {
  const clock = document.getElementById("id_time_zone");
  const money = document.getElementById("id_currency");
  if (!clock || !money) { return; }
  let moneyChosen = money.dataset.chosen === "yes";

  function offers(select, value) {
    return Array.from(select.options).some(function (option) { return option.value === value; });
  }

  function guessMoney() {
    const there = clock.selectedOptions[0] && clock.selectedOptions[0].dataset.money;
    if (there && !moneyChosen && offers(money, there)) { money.value = there; }
  }

  money.addEventListener("change", function () { moneyChosen = true; });
  clock.addEventListener("change", guessMoney);
  if (document.querySelector(".errorlist, [aria-invalid='true']")) { return; }
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (here && offers(clock, here)) {
    clock.value = here;
    guessMoney();
  }
})();
