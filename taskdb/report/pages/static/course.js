"use strict";
/* The map of one task: its course, its zones and the airspace near it, over the waypoints about it. */
(() => {
  const { make, name, text } = page;
  const waypoints = chart.waypointsOf(CATALOGUE), borders = chart.bordersOf(BORDERS);
  const legs = chart.bordersOf(COURSE.legs);
  const zones = COURSE.zones.map((zone) => ({ ...zone, rings: chart.bordersOf(zone.rings), line: chart.bordersOf([zone.line])[0] }));
  const volumes = COURSE.airspace.map((volume) => ({ ...volume, rings: chart.bordersOf(volume.rings) }));
  const points = COURSE.points.map((point) => ({ ...point, x: chart.east(point.at[0] / 1e7), y: chart.south(point.at[1] / 1e7) }));
  const chosen = document.getElementById("chosen");
  const AIR_FONT = 'italic 12px "Liberation Sans", Arial, sans-serif', POINT_FONT = 'bold 13px "Liberation Sans", Arial, sans-serif';
  // By role: colour, dash and width as on the sheets (Okabe and Ito's colours).
  const STYLES = { start: ["#009E73", [], 3], turn: ["#0072B2", [], 2], area: ["#E69F00", [9, 3], 2.6], finish: ["#D55E00", [4, 3], 3] };
  const DASHES = { prohibited: [], restricted: [], danger: [7, 3], controlled: [12, 4], "keep-out": [4, 2], other: [2, 3] };

  /* What a map of the task has to show: its legs and zones, as latitudes and longitudes. */
  function bounds() {
    let south = Infinity, north = -Infinity, west = Infinity, east = -Infinity;
    const lines = [...COURSE.legs, ...COURSE.zones.flatMap((zone) => [...zone.rings, zone.line])];
    for (const steps of lines) {
      for (let n = 0, lon = 0, lat = 0; n < steps.length; n += 2) {
        lon += steps[n] / 1e5;
        lat += steps[n + 1] / 1e5;
        [south, north, west, east] = [Math.min(south, lat), Math.max(north, lat), Math.min(west, lon), Math.max(east, lon)];
      }
    }
    return [[south, west], [north, east]];
  }

  function fill(ink, view, rings) {
    ink.beginPath();
    for (const turn of chart.turns(view)) {
      for (const ring of rings) {
        for (let n = 0; n < ring.length; n += 2) {
          const x = (ring[n] + turn) * view.scale - view.left, y = ring[n + 1] * view.scale - view.top;
          if (n) ink.lineTo(x, y);
          else ink.moveTo(x, y);
        }
        ink.closePath();
      }
    }
    ink.fill("evenodd");
  }

  function drawAirspace(ink, view, colour) {
    ink.strokeStyle = ink.fillStyle = colour.air;
    for (const volume of volumes) {
      ink.globalAlpha = 0.07;
      fill(ink, view, volume.rings);
      ink.globalAlpha = 1;
      ink.lineWidth = volume.kind === "prohibited" || volume.kind === "keep-out" ? 3 : 1.8;
      ink.setLineDash(DASHES[volume.kind] || []);
      ink.stroke();
      ink.setLineDash([]);
    }
    ink.font = AIR_FONT;
    ink.textAlign = "center";
    for (const [volume, x, y] of named) {
      chart.letters(ink, colour, volume.name, x, y, colour.air);
      chart.letters(ink, colour, volume.words, x, y + 14, colour.air);
    }
  }

  /* Find room for the names of volumes, at the middle of their outline. */
  let named = [];
  function claimAirspace(ink, view, words) {
    named = [];
    ink.font = AIR_FONT;
    for (const volume of volumes) {
      const ring = volume.rings[0];
      let x = 0, y = 0;
      for (let n = 0; n < ring.length; n += 2) {
        x += ring[n] / (ring.length / 2);
        y += ring[n + 1] / (ring.length / 2);
      }
      const wide = Math.max(ink.measureText(volume.name).width, ink.measureText(volume.words).width);
      for (const turn of chart.turns(view)) {
        const at = [(x + turn) * view.scale - view.left, y * view.scale - view.top];
        const lower = [0, 34, -34, 68, -68].find((off) => words.take(at[0] - wide / 2, at[1] + off - 11, wide, 28));
        if (lower !== undefined) named.push([volume, at[0], at[1] + lower]);
      }
    }
  }

  function drawCourse(ink, view, colour) {
    for (const zone of zones) {
      const [ink_colour, dash, width] = STYLES[zone.role];
      ink.strokeStyle = ink.fillStyle = ink_colour;
      ink.globalAlpha = 0.13;
      fill(ink, view, zone.rings);
      ink.globalAlpha = 1;
      ink.lineWidth = width;
      ink.setLineDash(dash);
      ink.stroke();
      ink.setLineDash([]);
      if (zone.line.length) {
        ink.strokeStyle = colour.ink;
        ink.lineWidth = 7;
        chart.drawLines(ink, view, [zone.line]);
        ink.strokeStyle = ink_colour;
        ink.lineWidth = 4;
        chart.drawLines(ink, view, [zone.line]);
      }
    }
    ink.strokeStyle = colour.ink;
    ink.lineWidth = 2;
    chart.drawLines(ink, view, legs);
  }

  /* Find room for the letters of the points; those on one spot share theirs: start and finish, or a turn flown twice. */
  let spots = [];
  function claimPoints(ink, view, words) {
    spots = [];
    ink.font = POINT_FONT;
    for (const turn of chart.turns(view)) {
      for (const point of points) {
        const x = (point.x + turn) * view.scale - view.left, y = point.y * view.scale - view.top;
        const same = spots.find((spot) => Math.hypot(spot.x - x, spot.y - y) < 4 && spot.code === point.code);
        if (same) same.tags.push(tag(point.tag));
        else spots.push({ x, y, code: point.code, tags: [tag(point.tag)], name: places.shown(point.name) });
      }
    }
    for (const spot of spots) words.take(spot.x - 8, spot.y - 8, 16, 16);
    for (const spot of spots) {
      spot.words = `${spot.tags.join(" · ")} ${spot.name}`;
      spot.at = place(ink, words, spot);
    }
  }

  function place(ink, words, { x, y, words: text }) {
    const wide = ink.measureText(text).width, left = x - 14 - wide, right = x + 14;
    const further = [[right, y - 14], [right, y + 24], [left, y - 14], [left, y + 24], [right, y - 30], [right, y + 40]];
    return chart.besides(words, x, y, wide, further) || [x + 11, y + 5];
  }

  function drawPoints(ink, view, colour) {
    for (const turn of chart.turns(view)) {
      for (const point of points) {
        const x = (point.x + turn) * view.scale - view.left, y = point.y * view.scale - view.top;
        ink.lineWidth = 1.6;
        ink.strokeStyle = colour.ink;
        ink.fillStyle = point.role === "start" ? STYLES.start[0] : colour.paper;
        ink.beginPath();
        if (point.role === "start") {
          ink.moveTo(x, y - 9);
          ink.lineTo(x + 8, y + 5);
          ink.lineTo(x - 8, y + 5);
          ink.closePath();
        } else if (point.role === "finish") {
          ink.rect(x - 6, y - 6, 12, 12);
        } else {
          ink.arc(x, y, 6, 0, 2 * Math.PI);
        }
        if (point.role !== "finish") ink.fill();
        ink.stroke();
      }
    }
    ink.font = POINT_FONT;
    ink.textAlign = "left";
    for (const spot of spots) chart.letters(ink, colour, spot.words, spot.at[0], spot.at[1], colour.ink);
  }

  const tag = (words) => ({ Start: text("role_start"), Finish: text("role_finish") })[words] || words;

  function tell(n) {
    const code = CATALOGUE.codes[n], own = COURSE.points.filter((point) => point.code === code);
    const words = [places.kindWords(n), places.elevationText(n), places.position(n, 2, 3)].filter(Boolean).join(" · ");
    const tags = own.map((point) => make("b", { class: "tag" }, tag(point.tag)));
    chosen.replaceChildren(
      ...tags.flatMap((one) => [one, " "]), make("b", null, places.shown(code)), " ", name(CATALOGUE.names[n]), " ",
      make("span", { class: "soft" }, words), own.length ? make("span", { lang: "en" }, " · " + own.map((point) => point.words).join(" · ")) : "",
    );
  }

  const map = chart.begin(bounds());
  const layers = [
    chart.borderLayer(borders),
    { words: text("graticule"), draw: chart.drawGraticule },
    volumes.length ? { words: text("airspace"), draw: drawAirspace, claim: claimAirspace } : null,
    { words: text("course"), draw: drawCourse, claim: claimPoints, above: drawPoints },
  ].filter(Boolean);
  const own = new Set(COURSE.points.map((point) => point.code));
  chart.show(map, layers, waypoints, (n) => (own.has(CATALOGUE.codes[n]) ? "" : places.shown(CATALOGUE.names[n])), tell);
  chosen.textContent = text("map_choose");
})();
