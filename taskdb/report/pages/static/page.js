"use strict";
/* Small parts of pages: elements are made, never written as markup, so that no text can become one. */
const page = (() => {
  const SVG = "http://www.w3.org/2000/svg";
  function fill(element, attributes, children) {
    for (const [name, value] of Object.entries(attributes || {})) if (value !== null) element.setAttribute(name, value);
    for (const child of children) if (child !== null && child !== undefined) element.append(child);
    return element;
  }
  const make = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
  const draw = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
  const text = (key, values) => TEXTS[key].replace(/\{(\w+)\}/g, (_, name) => (values && name in values ? values[name] : ""));
  const name = (words) => make("bdi", null, places.shown(words));

  /* The light symbol of a waypoint, as on the sheets: an aerodrome's ring with a bar, a field's open square, a dot. */
  function symbol(landable) {
    const picture = draw("svg", { class: "symbol", viewBox: "-1.2 -1.2 2.4 2.4", width: 16, height: 16, "aria-hidden": "true" });
    if (landable === "aerodrome") {
      picture.append(draw("circle", { r: 0.75 }), draw("path", { d: "M-1,0H1", class: "bar" }));
    } else if (landable === "field" || landable === "emergency") {
      picture.append(draw("rect", { x: -0.6, y: -0.6, width: 1.2, height: 1.2 }));
    } else {
      picture.append(draw("circle", { r: 0.36, class: "dot" }));
    }
    return picture;
  }

  /* What stands behind # in the address, as it was before it was made part of one. */
  function fragment() {
    try {
      return decodeURIComponent(location.hash.slice(1));
    } catch {
      return location.hash.slice(1);
    }
  }

  async function copy(words, button) {
    try {
      await navigator.clipboard.writeText(words);
    } catch {
      const area = make("textarea", { class: "unseen", "aria-hidden": "true" });
      area.value = words;
      document.body.append(area);
      area.select();
      document.execCommand("copy");
      area.remove();
      button.focus();
    }
    document.getElementById("said").textContent = text("copied") + ": " + words;
    button.textContent = text("copied");
    setTimeout(() => (button.textContent = text("copy")), 2000);
  }

  return { copy, draw, fragment, make, name, symbol, text };
})();
