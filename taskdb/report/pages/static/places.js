"use strict";
/* Waypoints as pages need them: folded, found, written, measured. No page is touched here.
   Folding, the order of hits and the writing of positions are those of the command line; tests hold them together. */
const places = (() => {
  const E7 = 1e7;
  const PLAIN = { "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ð": "d", "ł": "l", "þ": "th", "ı": "i", "ħ": "h" };
  const GERMAN = { "ä": "ae", "ö": "oe", "ü": "ue", "ø": "oe", "å": "aa" };
  const plain = (text) => text.replace(/[ßæœøđðłþıħ]/g, (letter) => PLAIN[letter]);
  const isAscii = (text) => /^[\x00-\x7f]*$/.test(text);
  const wordsOf = (text) => (text.match(/[\p{L}\p{N}]+/gu) || []).join(" ");

  /* A mark that combines (class above 0) moves in front of U+0345, which has the highest class of all. */
  const combines = (mark) => mark === "\u0345" || ("\u0345" + mark).normalize("NFD") !== "\u0345" + mark;

  function fold(text) {
    if (isAscii(text)) return (text.toLowerCase().match(/[a-z0-9]+/g) || []).join(" ");
    const lowered = plain(text.replace(/[ẞß]/g, "ss").toLowerCase());
    const bare = lowered.normalize("NFKD").replace(/\p{M}/gu, (mark) => (combines(mark) ? "" : mark));
    return wordsOf(plain(bare.toLowerCase()));
  }

  function foldGerman(text) {
    if (isAscii(text)) return fold(text);
    return fold(text.normalize("NFC").toLowerCase().replace(/[äöüøå]/g, (letter) => GERMAN[letter]));
  }

  const strip = (text) =>
    text.replace(/^[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+/, "")
      .replace(/[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+$/, "");

  /* Marks that turn the direction of writing, and runs of blanks, are not shown. */
  const shown = (text) =>
    text.replace(/[\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff\ud800-\udfff\ufffe\uffff]/gu, "")
      .replace(/\s+/g, " ").trim() || "–";

  const cell = (table, n) => (table.rows.length && table.rows[n] ? table.texts[table.rows[n] - 1] : null);

  let keys = null;
  function searchKeys() {
    if (keys) return keys;
    keys = CATALOGUE.codes.map((code, n) => {
      const name = CATALOGUE.names[n], folded = fold(name), german = foldGerman(name), foldedCode = fold(code);
      return { code: foldedCode, name: folded, german, words: " " + folded + " " + german + " " + foldedCode };
    });
    return keys;
  }

  /* The numbers of the waypoints that fit, best first, as `taskdb waypoint find` has them. */
  function find(text, landable, feature) {
    const folded = fold(text), words = [...new Set(folded.split(" "))].filter(Boolean).map((word) => " " + word);
    const signs = words.length ? "" : strip(text);
    const ranked = [[], [], [], [], []];
    const wanted = (column, value) => (value ? CATALOGUE[column].texts.indexOf(value) + 1 || -1 : null);
    const ofLandable = wanted("landable", landable), ofFeature = wanted("feature", feature);
    const landables = CATALOGUE.landable.rows, features = CATALOGUE.feature.rows;
    searchKeys().forEach((key, n) => {
      if (ofLandable !== null && landables[n] !== ofLandable) return;
      if (ofFeature !== null && features[n] !== ofFeature) return;
      for (const word of words) if (!key.words.includes(word)) return;
      const code = CATALOGUE.codes[n];
      if (signs && !code.includes(signs) && !CATALOGUE.names[n].includes(signs)) return;
      const rank = code === text ? 0 : key.code === folded ? 1
        : key.name === folded || key.german === folded ? 2 : key.name.startsWith(folded) ? 3 : 4;
      ranked[rank].push(n);
    });
    return ranked.flat();
  }

  /* An angle in 1e-7 degree as text; `parts` is 1 for degrees, 2 for minutes too, 3 for seconds too. */
  function angle(e7, isLatitude, parts, decimals) {
    const scale = 60 ** (parts - 1) * 10 ** decimals;
    const total = Math.floor((2 * Math.abs(e7) * scale + E7) / (2 * E7));
    const isMinus = e7 < 0 && total > 0;
    const letter = isLatitude ? (isMinus ? "S" : "N") : (isMinus ? "W" : "E");
    const fraction = decimals ? "." + String(total % 10 ** decimals).padStart(decimals, "0") : "";
    let rest = Math.floor(total / 10 ** decimals);
    if (parts === 1) return (isMinus ? "-" : "") + rest + fraction;
    const pad = (value, width) => String(value).padStart(width, "0");
    const last = rest % 60;
    rest = Math.floor(rest / 60);
    const width = isLatitude ? 2 : 3;
    if (parts === 2) return `${pad(rest, width)}°${pad(last, 2)}${fraction}′${letter}`;
    return `${pad(Math.floor(rest / 60), width)}°${pad(rest % 60, 2)}′${pad(last, 2)}${fraction}″${letter}`;
  }

  function position(n, parts, decimals) {
    const halves = [angle(CATALOGUE.latitude_e7[n], true, parts, decimals), angle(CATALOGUE.longitude_e7[n], false, parts, decimals)];
    return halves.join(parts === 1 ? "," : " ");
  }

  function geoUri(n) {
    const bare = (text) => text.replace(/0+$/, "").replace(/\.$/, "");
    return "geo:" + position(n, 1, 7).split(",").map(bare).join(",");
  }

  const METRES = { km: 1000, mi: 1609.344, nmi: 1852 };
  const distanceText = (metres, units) => `${(metres / METRES[units]).toFixed(1)} ${units}`;
  const bearingText = (degrees) => String(Math.round(degrees) % 360).padStart(3, "0") + "°";

  const AXIS_M = 6378137, FLATTENING = 1 / 298.257223563, POLE_M = AXIS_M * (1 - FLATTENING);

  /* Length (m) and true course (degrees, null where places coincide) of the geodesic on WGS84.
     T. Vincenty, Direct and inverse solutions of geodesics on the ellipsoid, Survey Review 23 (1975). */
  function geodesic(latA, lonA, latB, lonB) {
    const rad = Math.PI / 180, L = (((lonB - lonA + 540) % 360) - 180) * rad;
    const U1 = Math.atan((1 - FLATTENING) * Math.tan(latA * rad)), U2 = Math.atan((1 - FLATTENING) * Math.tan(latB * rad));
    const s1 = Math.sin(U1), c1 = Math.cos(U1), s2 = Math.sin(U2), c2 = Math.cos(U2);
    let lambda = L, sinS, cosS, sigma, cos2A, cosM;
    for (let step = 0; step < 200; step++) {
      const sinL = Math.sin(lambda), cosL = Math.cos(lambda);
      sinS = Math.hypot(c2 * sinL, c1 * s2 - s1 * c2 * cosL);
      if (sinS === 0) return { metres: 0, course: null };
      cosS = s1 * s2 + c1 * c2 * cosL;
      sigma = Math.atan2(sinS, cosS);
      const sinA = (c1 * c2 * sinL) / sinS;
      cos2A = 1 - sinA * sinA;
      cosM = cos2A ? cosS - (2 * s1 * s2) / cos2A : 0;
      const C = (FLATTENING / 16) * cos2A * (4 + FLATTENING * (4 - 3 * cos2A));
      const before = lambda;
      lambda = L + (1 - C) * FLATTENING * sinA * (sigma + C * sinS * (cosM + C * cosS * (2 * cosM * cosM - 1)));
      if (Math.abs(lambda - before) < 1e-13) break;
    }
    const u2 = (cos2A * (AXIS_M ** 2 - POLE_M ** 2)) / POLE_M ** 2;
    const A = 1 + (u2 / 16384) * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)));
    const B = (u2 / 1024) * (256 + u2 * (-128 + u2 * (74 - 47 * u2)));
    const part = (B / 6) * cosM * (4 * sinS * sinS - 3) * (4 * cosM * cosM - 3);
    const change = B * sinS * (cosM + (B / 4) * (cosS * (2 * cosM * cosM - 1) - part));
    const course = Math.atan2(c2 * Math.sin(lambda), c1 * s2 - s1 * c2 * Math.cos(lambda)) / rad;
    return { metres: POLE_M * A * (sigma - change), course: (course + 360) % 360 };
  }

  let points = null;
  function xyz() {
    if (points) return points;
    points = new Float64Array(3 * CATALOGUE.codes.length);
    const e2 = FLATTENING * (2 - FLATTENING);
    CATALOGUE.codes.forEach((_, n) => {
      const lat = (CATALOGUE.latitude_e7[n] / E7) * Math.PI / 180, lon = (CATALOGUE.longitude_e7[n] / E7) * Math.PI / 180;
      const normal = AXIS_M / Math.sqrt(1 - e2 * Math.sin(lat) ** 2);
      points[3 * n] = normal * Math.cos(lat) * Math.cos(lon);
      points[3 * n + 1] = normal * Math.cos(lat) * Math.sin(lon);
      points[3 * n + 2] = normal * (1 - e2) * Math.sin(lat);
    });
    return points;
  }

  /* The nearest other waypoints: [{n, metres, course}], nearest first, those at one distance in order of code. */
  function nearest(n, count) {
    const at = xyz(), chosen = [];
    let furthest = Infinity;
    for (let other = 0; other < at.length / 3; other++) {
      if (other === n) continue;
      const chord = (at[3 * n] - at[3 * other]) ** 2 + (at[3 * n + 1] - at[3 * other + 1]) ** 2 + (at[3 * n + 2] - at[3 * other + 2]) ** 2;
      if (chord >= furthest) continue;
      let place = chosen.length;
      while (place > 0 && chosen[place - 1].chord > chord) place--;
      chosen.splice(place, 0, { n: other, chord });
      if (chosen.length > count) chosen.pop();
      if (chosen.length === count) furthest = chosen[count - 1].chord;
    }
    return chosen.map((one) => ({ n: one.n, ...between(n, one.n) })).sort((a, b) => a.metres - b.metres || a.n - b.n);
  }

  function between(a, b) {
    return geodesic(CATALOGUE.latitude_e7[a] / E7, CATALOGUE.longitude_e7[a] / E7, CATALOGUE.latitude_e7[b] / E7, CATALOGUE.longitude_e7[b] / E7);
  }

  const pageOf = (n) => "waypoint.html#" + encodeURIComponent(CATALOGUE.codes[n]);
  const mapOf = (n) => "map.html#" + encodeURIComponent(CATALOGUE.codes[n]);

  function kindWords(n) {
    const landable = cell(CATALOGUE.landable, n), feature = cell(CATALOGUE.feature, n), words = [];
    if (landable && !(landable === "no" && feature)) words.push(TEXTS["landable_" + landable]);
    if (feature) words.push(TEXTS["feature_" + feature]);
    return words.join(", ");
  }

  /* Whole numbers as everywhere else: a half goes to the even one. */
  function whole(value) {
    const rounded = Math.round(value);
    return value - Math.floor(value) === 0.5 && rounded % 2 ? rounded - 1 : rounded;
  }

  function elevationText(n) {
    const dm = CATALOGUE.elevation_dm[n];
    return dm === null ? "" : `${whole(dm / 10)} m`;
  }

  return {
    angle, bearingText, between, cell, distanceText, elevationText, find, fold, foldGerman, geodesic, geoUri, kindWords,
    mapOf, nearest, pageOf, position, searchKeys, shown, whole,
  };
})();
