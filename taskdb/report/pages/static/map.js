"use strict";
/* The map of a published set. */
(() => {
  const { make, name, symbol, text } = page;
  const waypoints = chart.waypointsOf(CATALOGUE), borders = chart.bordersOf(BORDERS);
  const chosen = document.getElementById("chosen");

  function bounds() {
    const count = CATALOGUE.codes.length;
    if (!count) return [[-1, -1], [1, 1]];
    let south = Infinity, north = -Infinity, west = Infinity, east = -Infinity;
    for (let n = 0; n < count; n++) {
      south = Math.min(south, CATALOGUE.latitude_e7[n]);
      north = Math.max(north, CATALOGUE.latitude_e7[n]);
      west = Math.min(west, CATALOGUE.longitude_e7[n]);
      east = Math.max(east, CATALOGUE.longitude_e7[n]);
    }
    return [[south / 1e7, west / 1e7], [north / 1e7, east / 1e7]];
  }

  function tell(n) {
    const words = [places.kindWords(n), places.elevationText(n), places.position(n, 2, 3)].filter(Boolean).join(" · ");
    chosen.replaceChildren(
      symbol(places.cell(CATALOGUE.landable, n)), " ",
      make("a", { href: places.pageOf(n) }, make("b", null, places.shown(CATALOGUE.codes[n])), " ", name(CATALOGUE.names[n])),
      " ", make("span", { class: "soft" }, words),
    );
  }

  const map = chart.begin(bounds());
  const layers = [chart.borderLayer(borders), { words: text("graticule"), draw: chart.drawGraticule }].filter(Boolean);
  const shown = chart.show(map, layers, waypoints, (n) => places.shown(CATALOGUE.names[n]), tell);

  function go() {
    const n = CATALOGUE.codes.indexOf(page.fragment());
    if (n < 0) return;
    map.setView([CATALOGUE.latitude_e7[n] / 1e7, CATALOGUE.longitude_e7[n] / 1e7], 11, { animate: false });
    shown.mark(n);
  }
  chosen.textContent = text("map_choose");
  addEventListener("hashchange", go);
  go();
})();
