"use strict";
/* A chart that is drawn on one canvas: borders, graticule, courses and waypoints by the symbols of the sheets.
   The map library moves and scales the canvas; it is drawn anew when a movement ends. */
const chart = (() => {
  const TURN = Math.PI / 180, TILE = 256, EARTH_M = 40075016.685578488, STEEPEST = 85.0511287798;
  const STEPS_MINUTES = [1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 1800];
  const METRES = { km: 1000, mi: 1609.344, nmi: 1852 };
  const SYMBOL_PX = 15, REACH_PX = 16, LABELS = 150;

  /* Mercator's plane, the whole earth from 0 to 1 either way: x to the east, y to the south. */
  const east = (longitude) => (longitude + 180) / 360;
  function south(latitude) {
    const kept = Math.max(-STEEPEST, Math.min(STEEPEST, latitude)) * TURN;
    return 0.5 - Math.log(Math.tan(Math.PI / 4 + kept / 2)) / (2 * Math.PI);
  }

  function colours() {
    const style = getComputedStyle(document.documentElement);
    const of = (name) => style.getPropertyValue(name).trim();
    return { ink: of("--ink"), soft: of("--soft"), paper: of("--paper"), faint: of("--faint"), light: of("--light-symbol"), air: of("--air"), link: of("--link") };
  }

  function waypointsOf(catalogue) {
    const count = catalogue.codes.length;
    const x = new Float64Array(count), y = new Float64Array(count), rank = new Uint8Array(count);
    const kinds = catalogue.landable.texts.map((kind) => ({ aerodrome: 0, field: 1, emergency: 1 })[kind] ?? 2);
    for (let n = 0; n < count; n++) {
      x[n] = east(catalogue.longitude_e7[n] / 1e7);
      y[n] = south(catalogue.latitude_e7[n] / 1e7);
      rank[n] = catalogue.landable.rows.length && catalogue.landable.rows[n] ? kinds[catalogue.landable.rows[n] - 1] : 2;
    }
    const order = Uint32Array.from({ length: count }, (_, n) => n).sort((a, b) => rank[a] - rank[b] || a - b);
    return { x, y, rank, order };
  }

  /* Lines of steps in 1e-5 degree become lines on the plane. */
  function bordersOf(lines) {
    return lines.map((steps) => {
      const line = new Float64Array(steps.length);
      for (let n = 0, lon = 0, lat = 0; n < steps.length; n += 2) {
        lon += steps[n];
        lat += steps[n + 1];
        line[n] = east(lon / 1e5);
        line[n + 1] = south(lat / 1e5);
      }
      return line;
    });
  }

  function symbol(ink, rank, x, y, colour) {
    ink.lineWidth = 1.6;
    ink.strokeStyle = colour.soft;
    ink.fillStyle = colour.paper;
    ink.beginPath();
    if (rank === 0) {
      ink.arc(x, y, 4.6, 0, 2 * Math.PI);
      ink.fill();
      ink.moveTo(x - 6.4, y);
      ink.lineTo(x + 6.4, y);
      ink.stroke();
    } else if (rank === 1) {
      ink.rect(x - 3.6, y - 3.6, 7.2, 7.2);
      ink.fill();
      ink.stroke();
    } else {
      ink.fillStyle = colour.soft;
      ink.arc(x, y, 2.4, 0, 2 * Math.PI);
      ink.fill();
    }
  }

  /* Which cells of the screen are taken by symbols and names. */
  class Taken {
    constructor(width, height, cell) {
      this.cell = cell;
      this.columns = Math.ceil(width / cell) + 1;
      this.cells = new Uint8Array(this.columns * (Math.ceil(height / cell) + 1));
    }
    take(x, y, width, height) {
      const left = Math.floor(x / this.cell), right = Math.floor((x + width) / this.cell);
      const top = Math.floor(y / this.cell), bottom = Math.floor((y + height) / this.cell);
      if (left < 0 || top < 0 || right >= this.columns || (bottom + 1) * this.columns > this.cells.length) return false;
      for (let row = top; row <= bottom; row++)
        for (let column = left; column <= right; column++) if (this.cells[row * this.columns + column]) return false;
      for (let row = top; row <= bottom; row++) this.cells.fill(1, row * this.columns + left, row * this.columns + right + 1);
      return true;
    }
  }

  const Canvas = L.Renderer.extend({
    options: { padding: 0.4 },
    _initContainer() {
      this._container = document.createElement("canvas");
      this._ink = this._container.getContext("2d");
    },
    _destroyContainer() {
      this._container.remove();
    },
    _update() {
      if (this._map._animatingZoom && this._bounds) return;
      L.Renderer.prototype._update.call(this);
      const bounds = this._bounds, size = bounds.getSize(), sharp = Math.min(2, window.devicePixelRatio || 1);
      L.DomUtil.setPosition(this._container, bounds.min);
      this._container.width = sharp * size.x;
      this._container.height = sharp * size.y;
      this._container.style.width = size.x + "px";
      this._container.style.height = size.y + "px";
      this._ink.setTransform(sharp, 0, 0, sharp, 0, 0);
      this._updatePaths();
    },
    _updatePaths() {
      const origin = this._map.getPixelOrigin(), bounds = this._bounds;
      // From the plane to the canvas: x * scale - left.
      this.view = {
        scale: TILE * 2 ** this._map.getZoom(), left: origin.x + bounds.min.x, top: origin.y + bounds.min.y,
        width: bounds.max.x - bounds.min.x, height: bounds.max.y - bounds.min.y,
      };
      this._ink.clearRect(0, 0, this.view.width, this.view.height);
      this.options.draw(this._ink, this.view);
    },
  });

  /* The copies of the earth that a view shows: whole turns to be added to x. */
  function turns(view) {
    const first = Math.floor(view.left / view.scale), last = Math.floor((view.left + view.width) / view.scale);
    return Array.from({ length: Math.min(last - first + 1, 4) }, (_, n) => first + n);
  }

  function drawLines(ink, view, lines) {
    ink.beginPath();
    for (const turn of turns(view)) {
      for (const line of lines) {
        for (let n = 0; n < line.length; n += 2) {
          const x = (line[n] + turn) * view.scale - view.left, y = line[n + 1] * view.scale - view.top;
          if (n) ink.lineTo(x, y);
          else ink.moveTo(x, y);
        }
      }
    }
    ink.stroke();
  }

  function drawGraticule(ink, view, colour, seen) {
    const minute = view.scale / 21600, step = STEPS_MINUTES.find((minutes) => minutes * minute >= 110) || 1800;
    ink.strokeStyle = colour.faint;
    ink.lineWidth = 1;
    ink.font = '11px "Liberation Sans", Arial, sans-serif';
    ink.fillStyle = colour.soft;
    const figure = (minutes, isLatitude) => places.angle(Math.round((minutes / 60) * 1e7), isLatitude, 2, 0);
    const line = (ax, ay, bx, by) => {
      ink.beginPath();
      ink.moveTo(ax, ay);
      ink.lineTo(bx, by);
      ink.stroke();
    };
    ink.textAlign = "center";
    const west = (view.left / view.scale) * 21600 - 10800;
    for (let at = Math.ceil(west / step) * step; at * minute <= (west * minute + view.width); at += step) {
      const x = (at + 10800) * minute - view.left;
      line(x, 0, x, view.height);
      ink.fillText(figure((((at + 10800) % 21600) + 21600) % 21600 - 10800, false), x, seen.bottom - 5);
    }
    ink.textAlign = "left";
    for (let at = -85 * 60 - (-85 * 60 % step); at <= 85 * 60; at += step) {
      const y = south(at / 60) * view.scale - view.top;
      if (y < 0 || y > view.height) continue;
      line(0, y, view.width, y);
      ink.fillText(figure(at, true), seen.left + 4, y - 3);
    }
  }

  /* The layer of borders; none where there are none. */
  function borderLayer(borders) {
    if (!borders.length) return null;
    return {
      words: page.text("borders"),
      draw(ink, view, colour) {
        ink.strokeStyle = colour.soft;
        ink.lineWidth = 1;
        ink.setLineDash([7, 3, 2, 3]);
        drawLines(ink, view, borders);
        ink.setLineDash([]);
      },
    };
  }

  /* Where beside a symbol letters of that width have room, at their lower left; undefined for nowhere. */
  function besides(words, x, y, wide, further = []) {
    const sides = [[x + 9, y + 4], [x - 9 - wide, y + 4], [x - wide / 2, y - 11], [x - wide / 2, y + 20], ...further];
    return sides.find(([left, foot]) => words.take(left, foot - 11, wide, 13));
  }

  /* Letters that are legible on whatever lies under them. */
  function letters(ink, colour, words, x, y, inked) {
    ink.lineWidth = 3;
    ink.lineJoin = "round";
    ink.strokeStyle = colour.paper;
    ink.strokeText(words, x, y);
    ink.fillStyle = inked;
    ink.fillText(words, x, y);
  }

  /* Draw the waypoints that are seen and return where each lies; names where there is room. */
  function drawWaypoints(ink, view, waypoints, names, colour, words) {
    const spots = new Taken(view.width, view.height, SYMBOL_PX);
    const drawn = [];
    let thinned = false;
    for (const turn of turns(view)) {
      for (const n of waypoints.order) {
        const x = (waypoints.x[n] + turn) * view.scale - view.left, y = waypoints.y[n] * view.scale - view.top;
        if (x < 0 || y < 0 || x > view.width || y > view.height) continue;
        if (spots.take(x, y, 0, 0)) {
          drawn.push({ n, x, y });
        } else {
          thinned = true;
          ink.fillStyle = colour.light;
          ink.fillRect(x - 1, y - 1, 2, 2);
        }
      }
    }
    for (const { n, x, y } of drawn) {
      words.take(x - 6, y - 6, 12, 12);
      symbol(ink, waypoints.rank[n], x, y, colour);
    }
    ink.font = '12px "Liberation Sans", Arial, sans-serif';
    ink.textAlign = "left";
    let labels = 0;
    for (const { n, x, y } of drawn) {
      if (labels === LABELS) break;
      const name = names(n), at = name && besides(words, x, y, ink.measureText(name).width);
      if (!at) continue;
      letters(ink, colour, name, at[0], at[1], colour.ink);
      labels++;
    }
    return { drawn, thinned };
  }

  /* A bar of a round length, true at the middle of the map. */
  function scaleBar(map, units) {
    const bar = page.make("div", { class: "scale-bar" });
    function update() {
      const metres = (EARTH_M * Math.cos(map.getCenter().lat * TURN)) / (TILE * 2 ** map.getZoom());
      const most = (110 * metres) / METRES[units], power = 10 ** Math.floor(Math.log10(most));
      const length = [5, 2, 1].find((step) => step * power <= most) * power;
      bar.style.width = (length * METRES[units]) / metres + "px";
      bar.textContent = `${Number(length.toPrecision(1))} ${units}`;
    }
    map.on("zoomend moveend", update);
    map.getContainer().append(bar);
    update();
  }

  const fit = (map, bounds) => map.fitBounds(bounds, { padding: [24, 24], maxZoom: 11, animate: false });

  function begin(bounds) {
    const picture = document.getElementById("picture");
    if (picture) picture.hidden = true;
    document.getElementById("chart-room").hidden = false;
    const map = L.map("chart", {
      attributionControl: false, zoomControl: false, minZoom: 1, maxZoom: 16, zoomSnap: 0.5, worldCopyJump: true,
    });
    L.control.zoom({ zoomInTitle: page.text("zoom_in"), zoomOutTitle: page.text("zoom_out") }).addTo(map);
    fit(map, bounds);
    if (EDITION.tiles) {
      const { address, from, to } = EDITION.tiles;
      const layer = L.tileLayer(address, from === null ? { maxNativeZoom: 16 } : { minNativeZoom: from, maxNativeZoom: to });
      choice(page.text("background"), true, (isOn) => (isOn ? layer.addTo(map) : layer.remove()));
    }
    return map;
  }

  /* A box to tick below the map. */
  function choice(words, isOn, change) {
    const box = page.make("input", { type: "checkbox" });
    box.checked = isOn;
    box.addEventListener("change", () => change(box.checked));
    document.getElementById("chart-choices").append(page.make("label", null, box, " ", words), " ");
    change(isOn);
  }

  /* Draw whatever `layers` are ticked, waypoints on top, and tell which of them is chosen. */
  function show(map, layers, waypoints, names, tell) {
    let colour = colours(), last = { drawn: [] }, marked = null;
    const ticked = new Set();
    const canvas = new Canvas({
      draw(ink, view) {
        const size = map.getSize(), origin = map.containerPointToLayerPoint([0, 0]).subtract(canvas._bounds.min);
        const seen = { left: origin.x, bottom: origin.y + size.y };
        // Letters of a course come before those of the waypoints, whatever lies over what.
        const words = new Taken(view.width, view.height, 6);
        for (const layer of [...layers].reverse()) if (layer.claim && ticked.has(layer)) layer.claim(ink, view, words);
        for (const layer of layers) if (ticked.has(layer)) layer.draw(ink, view, colour, seen);
        last = drawWaypoints(ink, view, waypoints, names, colour, words);
        for (const layer of layers) if (layer.above && ticked.has(layer)) layer.above(ink, view, colour);
        if (marked !== null) drawMark(ink, view);
        document.getElementById("chart").dataset.drawn = last.drawn.length;
      },
    });
    function drawMark(ink, view) {
      for (const turn of turns(view)) {
        const x = (waypoints.x[marked] + turn) * view.scale - view.left, y = waypoints.y[marked] * view.scale - view.top;
        ink.strokeStyle = colour.link;
        ink.lineWidth = 3;
        ink.beginPath();
        ink.arc(x, y, 12, 0, 2 * Math.PI);
        ink.stroke();
      }
    }
    const redraw = () => canvas._map && canvas._update();
    for (const layer of layers) {
      choice(layer.words, true, (isOn) => {
        if (isOn) ticked.add(layer);
        else ticked.delete(layer);
        redraw();
      });
    }
    canvas.addTo(map);
    function mark(n) {
      marked = n;
      tell(n);
      redraw();
    }
    const nearestTo = (point, reach) => {
      const at = point.subtract(canvas._bounds.min);
      let best = null, least = reach * reach;
      for (const spot of last.drawn) {
        const off = (spot.x - at.x) ** 2 + (spot.y - at.y) ** 2;
        if (off <= least) [best, least] = [spot.n, off];
      }
      return best;
    };
    map.on("click", (event) => {
      const n = nearestTo(event.layerPoint, REACH_PX);
      if (n !== null) mark(n);
    });
    map.on("mousemove", (event) => {
      map.getContainer().classList.toggle("on-symbol", nearestTo(event.layerPoint, REACH_PX) !== null);
    });
    map.getContainer().addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || event.target !== map.getContainer()) return;
      const n = nearestTo(map.containerPointToLayerPoint(map.getSize().divideBy(2)), Infinity);
      if (n !== null) mark(n);
    });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      colour = colours();
      redraw();
    });
    scaleBar(map, EDITION.units);
    return { mark, redraw };
  }

  return { begin, besides, borderLayer, bordersOf, drawGraticule, drawLines, east, fit, letters, show, south, turns, waypointsOf };
})();
