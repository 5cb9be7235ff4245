// Elements, numbers and signs. The files of this folder are joined into one ES module.

const SVG = "http://www.w3.org/2000/svg";

/** Set attributes; `on...` are listeners, false and null leave one out. */
function dress(element, given) {
  for (const [key, value] of Object.entries(given)) {
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (value === false || value === null || value === undefined) element.removeAttribute(key);
    else element.setAttribute(key, value === true ? "" : value);
  }
  return element;
}

/** An HTML element with its attributes and what stands inside. */
function h(tag, given = {}, ...inside) {
  const made = dress(document.createElement(tag), given);
  made.append(...inside.flat().filter((one) => one !== null && one !== undefined && one !== ""));
  return made;
}

/** An SVG element. */
function s(tag, given = {}, ...inside) {
  const made = dress(document.createElementNS(SVG, tag), given);
  made.append(...inside);
  return made;
}

/** A number with its decimals, one more where it has one, the minus a hyphen as it is typed. */
function typed(value, decimals) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "";
  const short = value.toFixed(decimals);
  const long = value.toFixed(decimals + 1);
  const text = Math.abs(Number(short) - Number(long)) < 1e-12 ? short : long;
  return Number(text) === 0 ? text.replace("-", "") : text;
}

/** A number as it is read: so many decimals, a true minus, never a negative nought. */
function read(value, decimals) {
  if (value === null || !Number.isFinite(value)) return "–";
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "−");
}

/** Text, if it is not there already: what is not touched need not be drawn again. */
function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

// ---- signs: shape and word say the same as the colour ------------------------------------------

const SHAPES = {
  pass: "M8 1a7 7 0 1 0 0 14A7 7 0 0 0 8 1M4.4 8.2l2.5 2.6 4.8-5.4",
  caution: "M8 1.4 15.2 14.4H.8ZM8 6v4.2M8 12.1v.7",
  fail: "M5 .9h6L15.1 5v6L11 15.1H5L.9 11V5ZM5.3 5.3l5.4 5.4M10.7 5.3l-5.4 5.4",
  working: "M3 8h.01M8 8h.01M13 8h.01",
  none: "M3.5 8h9",
};

function sign(word) {
  return s("svg", { class: "lb-sign", viewBox: "0 0 16 16", "aria-hidden": "true" }, s("path", { d: SHAPES[word] }));
}

const ICONS = {
  undo: "M6 3 2.5 6.5 6 10M2.8 6.5H10a3.5 3.5 0 0 1 0 7H6.5",
  redo: "M10 3l3.5 3.5L10 10M13.2 6.5H6a3.5 3.5 0 0 0 0 7h3.5",
  reset: "M3.2 8a4.8 4.8 0 1 0 1.6-3.6M4.9 1.4v3.2h3.2",
  locked: "M4 7h8v6.5H4ZM5.5 7V5a2.5 2.5 0 0 1 5 0v2",
  open: "M4 7h8v6.5H4ZM5.5 7V5a2.5 2.5 0 0 1 4.9-.8",
  play: "M5 3l8 5-8 5Z",
  pause: "M5.5 3v10M10.5 3v10",
  keep: "M4 2.2h8v11.6L8 10.6l-4 3.2Z",
};

function icon(name) {
  return s("svg", { class: "lb-icon", viewBox: "0 0 16 16", "aria-hidden": "true" }, s("path", { d: ICONS[name] }));
}

/** A button with a sign and words; with `bare` the words are for screen readers and the tooltip only. */
function button(name, words, press, { bare = false, kind = "" } = {}) {
  const label = h("span", bare ? { class: "lb-hidden" } : {}, words);
  const made = h("button", { type: "button", class: `lb-button ${kind}`, title: bare ? words : false, onclick: press });
  if (name) made.append(icon(name));
  made.append(label);
  made.words = (text) => {
    say(label, text);
    if (bare) made.title = text;
  };
  return made;
}

/** Draw again by name: what was said before is changed in place, what is not said again goes. */
class Board {
  constructor(svg, layers) {
    this.layers = Object.fromEntries(layers.map((name) => [name, svg.appendChild(s("g", { class: `lb-layer-${name}` }))]));
    this.things = new Map();
    this.round = 0;
  }

  begin() {
    this.round += 1;
  }

  put(layer, key, tag, given, text) {
    const name = `${layer}/${key}`;
    let thing = this.things.get(name);
    if (!thing) {
      thing = { element: this.layers[layer].appendChild(s(tag, { "data-key": key })), given: {}, text: null };
      this.things.set(name, thing);
    }
    thing.round = this.round;
    for (const attribute in given) {
      const value = given[attribute];
      if (thing.given[attribute] !== value) {
        thing.given[attribute] = value;
        thing.element.setAttribute(attribute, value);
      }
    }
    if (text !== undefined && thing.text !== text) {
      thing.text = text;
      thing.element.textContent = text;
    }
    return thing.element;
  }

  end() {
    for (const [name, thing] of this.things) {
      if (thing.round === this.round) continue;
      thing.element.remove();
      this.things.delete(name);
    }
  }
}

/** A coordinate on the screen, to a hundredth of a pixel. */
function px(value) {
  return Math.round(value * 100) / 100;
}
