"use strict";
/* The page of one waypoint: which one stands behind # in the address. */
(() => {
  const NEIGHBOURS = 8;
  const { copy, draw, make, name, symbol, text } = page;
  const body = document.getElementById("waypoint");

  const part = (title, small, ...children) =>
    make("section", null, make("h2", null, title, small ? make("small", null, " " + small) : null), ...children);

  function positionRow(words, value) {
    const button = make("button", { type: "button", "aria-label": text("copy") + ": " + value }, text("copy"));
    button.addEventListener("click", () => copy(value, button));
    const halves = value.split(" ").flatMap((half) => [make("span", { class: "at" }, half), " "]);
    return make("li", null, make("span", { class: "soft" }, words), make("b", { class: "figure" }, ...halves), button);
  }

  function positionPart(n) {
    const rows = [
      positionRow(text("minutes"), places.position(n, 2, 3)),
      positionRow(text("seconds"), places.position(n, 3, 2)),
      positionRow(text("degrees"), places.position(n, 1, 6)),
    ];
    const links = make("p", { class: "links" },
      make("a", { href: places.geoUri(n) }, text("open_with")), " ",
      make("a", { href: places.mapOf(n) }, text("on_map")));
    return part(text("position"), text("position_small"), make("ul", { class: "positions" }, ...rows), links);
  }

  function elevationPart(n) {
    const dm = CATALOGUE.elevation_dm[n];
    if (dm === null) return null;
    const words = `${places.elevationText(n)} (${places.whole(dm / 3.048)} ft)`;
    const filled = CATALOGUE.filled[n];
    return part(text("elevation"), text("above_sea"), make("p", { class: "figure" }, words),
      filled ? make("p", { class: "soft" }, text("elevation_from", { source: places.shown(filled) })) : null);
  }

  const bothWays = (degrees, isOneWay) =>
    isOneWay ? places.bearingText(degrees) : places.bearingText(degrees) + " / " + places.bearingText((degrees + 180) % 360);

  function runwayRow(runway, declination) {
    const [designator, heading, length, width, surface, oneWay] = runway;
    const directions = [];
    if (heading !== null) {
      directions.push(bothWays(heading, oneWay) + " " + text("true"));
      if (declination !== null) directions.push(bothWays((heading - declination + 360) % 360, oneWay) + " " + text("magnetic"));
    }
    const size = [length, width].filter((metres) => metres !== null).map((metres) => `${places.whole(metres)} m`).join(" × ");
    const known = [directions.join(", "), size, surface ? places.shown(surface) : "", oneWay ? text("one_way") : ""].filter(Boolean);
    return make("li", null, make("b", null, designator ? places.shown(designator) : ""), designator ? " " : null, known.join(" · ") || text("strip"));
  }

  /* Runways about one middle, since only their lengths and directions are known; a bar says the scale. */
  function runwayPicture(runways) {
    const drawn = runways.filter(([, heading, length]) => heading !== null && length !== null && length > 0);
    if (!drawn.length) return null;
    const longest = Math.max(...drawn.map(([, , length]) => length)), half = 100, scale = 160 / longest;
    const upright = ([, heading, length]) => Math.abs(Math.cos((heading * Math.PI) / 180)) * length * scale;
    const tall = Math.max(30, ...drawn.map((runway) => upright(runway) / 2 + 24));
    const picture = draw("svg", { class: "runways", viewBox: `${-half - 24} ${-tall} ${2 * half + 48} ${2 * tall + 30}`, role: "img" });
    picture.append(draw("title", null, text("runways_picture")));
    for (const [designator, heading, length, width, , oneWay] of drawn) {
      const long = length * scale, wide = Math.max((width || 0) * scale, 3);
      const strip = draw("g", { transform: `rotate(${heading})` }, draw("rect", { x: -wide / 2, y: -long / 2, width: wide, height: long }));
      if (oneWay) strip.append(draw("path", { class: "arrow", d: `M0,${-long / 2 - 10}l5,9h-10z` }));
      picture.append(strip);
      const ends = designator ? designator.split("/") : [];
      ends.slice(0, oneWay ? 1 : 2).forEach((words, end) => {
        // One lands towards the heading from the other end, where its number is painted.
        const turn = ((heading + (end ? 0 : 180)) * Math.PI) / 180, off = long / 2 + 11;
        picture.append(draw("text", { x: Math.sin(turn) * off, y: -Math.cos(turn) * off + 4, "text-anchor": "middle" }, places.shown(words)));
      });
    }
    const power = 10 ** Math.floor(Math.log10(longest / 2)), bar = [5, 2, 1].map((step) => step * power).find((metres) => metres <= longest / 2);
    picture.append(
      draw("path", { class: "scale", d: `M${-bar * scale / 2},${tall + 4}v4h${bar * scale}v-4` }),
      draw("text", { x: 0, y: tall + 22, "text-anchor": "middle" }, `${bar} m`),
      draw("path", { class: "scale", d: `M${half + 14},${26 - tall}v-22m-4,7l4,-7l4,7` }),
      draw("text", { x: half + 14, y: 40 - tall, "text-anchor": "middle" }, "N"),
    );
    return picture;
  }

  function runwayPart(n) {
    const runways = CATALOGUE.runways[n];
    if (!runways) return null;
    const declination = n in CATALOGUE.declination ? CATALOGUE.declination[n] : null;
    const picture = runwayPicture(runways), hasHeading = runways.some(([, heading]) => heading !== null);
    const from = declination === null ? text("no_magnetic") : EDITION.magnetic;
    return part(text("runways"), picture ? text("runways_small") : null, picture,
      make("ul", null, ...runways.map((runway) => runwayRow(runway, declination))),
      hasHeading ? make("p", { class: "soft" }, from) : null);
  }

  function channelPart(n) {
    const channels = CATALOGUE.radio[n];
    if (!channels) return null;
    return part(text("channels"), null, make("ul", { class: "channels" }, ...channels.map(([channel, purpose]) =>
      make("li", null, make("b", { class: "figure" }, places.shown(channel)), purpose ? " " : null, purpose ? name(purpose) : null))));
  }

  const wordsPart = (key, table, n) => {
    const words = places.cell(table, n);
    return words ? part(text(key), null, make("p", null, name(words))) : null;
  };

  function changePart(n) {
    const changed = CATALOGUE.changed[n];
    if (!changed) return null;
    return part(text("changed_since", { edition: EDITION.since }), null, make("ul", null, ...changed.map((words) => make("li", null, name(words)))));
  }

  function findingPart(n) {
    const found = CATALOGUE.findings[n];
    if (!found) return null;
    return part(text("findings"), null, make("ul", { lang: "en" }, ...found.map(([severity, words]) =>
      make("li", null, make("b", null, severity + ": "), name(words)))));
  }

  function nearbyPart(n) {
    const near = places.nearest(n, NEIGHBOURS);
    if (!near.length) return null;
    return part(text("nearby"), text("nearby_small"), make("ul", { class: "hits" }, ...near.map((one) =>
      make("li", null, symbol(places.cell(CATALOGUE.landable, one.n)),
        make("a", { href: places.pageOf(one.n) }, make("b", null, places.shown(CATALOGUE.codes[one.n])), " ", name(CATALOGUE.names[one.n])),
        make("span", { class: "figure soft" }, places.distanceText(one.metres, EDITION.units) + (one.course === null ? "" : " " + places.bearingText(one.course)))))));
  }

  function show() {
    const code = page.fragment(), n = CATALOGUE.codes.indexOf(code);
    if (n < 0) {
      const words = code ? text("not_there", { code: places.shown(code) }) : text("choose_one");
      body.replaceChildren(make("h1", null, text("waypoint")), make("p", { class: "note" }, words));
      return;
    }
    const kind = places.cell(CATALOGUE.landable, n), country = places.cell(CATALOGUE.country, n);
    const words = [places.kindWords(n), country ? places.shown(country) : ""].filter(Boolean).join(" · ");
    document.title = `${places.shown(code)} ${places.shown(CATALOGUE.names[n])}`;
    const parts = [
      changePart(n), positionPart(n), elevationPart(n), channelPart(n), runwayPart(n), wordsPart("remarks", CATALOGUE.remarks, n),
      findingPart(n), nearbyPart(n), wordsPart("source", CATALOGUE.source, n), wordsPart("inspected", CATALOGUE.inspected, n),
    ];
    body.replaceChildren(
      make("h1", null, symbol(kind), make("b", { class: "tag" }, places.shown(code)), " ", name(CATALOGUE.names[n])),
      make("p", { class: "soft" }, words),
      make("div", { class: "parts" }, ...parts.filter(Boolean)),
    );
    scrollTo(0, 0);
  }

  addEventListener("hashchange", show);
  show();
})();
