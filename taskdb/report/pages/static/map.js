"use strict";
/* The map of a published set. */
(() => {
  const { make, name, symbol, text } = page;
  const waypoints = chart.waypointsOf(CATALOGUE), borders = chart.bordersOf(BORDERS);
  const chosen = document.getElementById("chosen");

  function tell(n) {
    const words = [places.kindWords(n), places.elevationText(n), places.position(n, 2, 3)].filter(Boolean).join(" · ");
    chosen.replaceChildren(
      symbol(places.cell(CATALOGUE.landable, n)), " ",
      make("a", { href: places.pageOf(n) }, make("b", null, places.shown(CATALOGUE.codes[n])), " ", name(CATALOGUE.names[n])),
      " ", make("span", { class: "soft" }, words),
    );
  }

  const map = chart.begin(EDITION.views.near);
  const layers = [chart.borderLayer(borders), { words: text("graticule"), draw: chart.drawGraticule }].filter(Boolean);
  const shown = chart.show(map, layers, waypoints, (n) => places.shown(CATALOGUE.names[n]), tell);

  function go() {
    const n = CATALOGUE.codes.indexOf(page.fragment());
    if (n < 0) return;
    map.setView([CATALOGUE.latitude_e7[n] / 1e7, CATALOGUE.longitude_e7[n] / 1e7], 11, { animate: false });
    shown.mark(n);
  }

  /* A few waypoints far off the others are left out of the first view: the button shows them, and back again. */
  const whole = document.getElementById("chart-whole");
  if (whole) {
    let isWhole = false;
    whole.addEventListener("click", () => {
      isWhole = !isWhole;
      chart.fit(map, isWhole ? EDITION.views.whole : EDITION.views.near);
      whole.textContent = text(isWhole ? "map_main" : "map_whole");
    });
  }
  chosen.textContent = text("map_choose");
  addEventListener("hashchange", go);
  go();
})();
