"use strict";
/* The days of a contest: which task a fingerprint belongs to, and whether it is still valid. */
(() => {
  const form = document.getElementById("compare"), box = document.getElementById("code");
  const said = document.getElementById("compared");
  const text = (key, values) => TEXTS[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);

  function compare() {
    const signs = box.value.toUpperCase().replace(/[^A-Z0-9]/g, "");
    said.className = "compared";
    if (!signs) {
      said.textContent = "";
      return;
    }
    const code = signs.slice(0, 4) + "-" + signs.slice(4);
    if (signs.length !== 8) {
      said.textContent = text("compare_form", { example: box.dataset.example });
      return;
    }
    const known = Object.hasOwn(EDITION.fingerprints, code) ? EDITION.fingerprints[code] : null;
    const key = known === null ? "compare_none" : known[1] ? "compare_current" : "compare_gone";
    said.textContent = text(key, { code, task: known === null ? "" : known[0] });
    said.className = "compared note" + (key === "compare_current" ? "" : " gone");
  }
  form.addEventListener("submit", (event) => event.preventDefault());
  box.addEventListener("input", compare);
  form.hidden = false;
})();
