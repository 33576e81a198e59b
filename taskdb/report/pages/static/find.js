"use strict";
/* The page Find: hits as one types, by the same rules as `taskdb waypoint find`. */
(() => {
  const STEP = 50, PAUSE_MS = 300;
  const { make, name, symbol, text } = page;
  const form = document.getElementById("search");
  const box = document.getElementById("text"), landable = document.getElementById("landable");
  const feature = document.getElementById("feature");
  const list = document.getElementById("hits"), count = document.getElementById("count");
  const more = document.getElementById("more");
  let hits = [], drawn = 0, kept = 0;

  function row(n) {
    const kind = places.cell(CATALOGUE.landable, n);
    const radio = CATALOGUE.radio[n];
    const parts = [places.kindWords(n), places.elevationText(n), radio ? places.shown(radio[0][0]) : ""].filter(Boolean);
    const link = make("a", { href: places.pageOf(n) }, make("b", null, places.shown(CATALOGUE.codes[n])), " ", name(CATALOGUE.names[n]));
    return make("li", null, symbol(kind), link, make("span", { class: "soft" }, parts.join(" · ")));
  }

  function drawMore() {
    const rows = document.createDocumentFragment();
    hits.slice(drawn, drawn + STEP).forEach((n) => rows.append(row(n)));
    list.append(rows);
    drawn = Math.min(drawn + STEP, hits.length);
    more.hidden = drawn === hits.length;
    const words = hits.length ? text("hits", { n: hits.length, total: CATALOGUE.codes.length }) : text("no_hit");
    count.textContent = drawn < hits.length ? words + ", " + text("hits_shown", { shown: drawn, n: hits.length }) : words;
  }

  function search() {
    hits = places.find(box.value, landable.value, feature.value);
    drawn = 0;
    list.replaceChildren();
    drawMore();
    // Browsers allow an address to change so many times only: it is changed where one stops to type.
    clearTimeout(kept);
    kept = setTimeout(keep, PAUSE_MS);
  }

  /* Keep what is asked in the address, so that the way back from a waypoint leads to the same hits. */
  function keep() {
    const asked = new URLSearchParams();
    if (box.value) asked.set("text", box.value);
    if (landable.value) asked.set("landable", landable.value);
    if (feature.value) asked.set("feature", feature.value);
    history.replaceState(null, "", asked.size ? "#" + asked : location.pathname + location.search);
  }

  function restore() {
    const asked = new URLSearchParams(location.hash.slice(1));
    box.value = asked.get("text") || "";
    for (const [field, key] of [[landable, "landable"], [feature, "feature"]]) {
      const value = asked.get(key) || "";
      field.value = [...field.options].some((option) => option.value === value) ? value : "";
    }
  }

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (hits.length) location.href = places.pageOf(hits[0]);
  });
  box.addEventListener("input", search);
  landable.addEventListener("change", search);
  feature.addEventListener("change", search);
  addEventListener("pagehide", keep);
  list.addEventListener("click", keep);
  more.addEventListener("click", () => {
    const first = drawn;
    drawMore();
    const link = list.children[first].querySelector("a");
    link.focus();
  });
  form.hidden = false;
  restore();
  search();
})();
