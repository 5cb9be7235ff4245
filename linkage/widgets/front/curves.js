// The curves over the travel: opening, mismatch against its limits, links against their arms.

const EDGE = { left: 2.6, right: 0.8, top: 0.5, bottom: 1.5 }; // of the field within a chart [letters high]

/** The next round number above a value. */
function roundUp(value) {
  if (!(value > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(value));
  return power * [1, 1.5, 2, 3, 4, 5, 6, 8, 10].find((step) => step * power >= value * 0.9999);
}

class Chart {
  constructor({ key, title, unit, curves, top, bottom, forbidden, straight, digits }) {
    Object.assign(this, { key, curves, top, bottom, forbidden, straight, digits, unit });
    this.size = [0, 0];
    this.svg = s("svg", { class: "lb-chart", role: "img", "data-chart": key });
    this.hatch = `lb-hatch-${Math.random().toString(36).slice(2)}`;
    const line = s("path", { d: "M0 6L6 0M-1 1L1 -1M5 7L7 5", class: "lb-hatch" });
    this.svg.append(s("defs", {}, s("pattern", { id: this.hatch, width: 6, height: 6, patternUnits: "userSpaceOnUse" }, line)));
    this.board = new Board(this.svg, ["bands", "grid", "kept", "lines", "cursor", "words"]);
    this.now = h("span", { class: "lb-now" });
    this.field = h("div", { class: "lb-field" }, this.svg);
    this.element = h("figure", { class: "lb-figure" }, h("figcaption", {}, h("b", {}, title), h("span", { class: "lb-unit" }, ` ${unit}`), this.now), this.field);
  }

  measure() {
    const size = [this.field.clientWidth, this.field.clientHeight];
    if (size[0] === this.size[0] && size[1] === this.size[1]) return;
    this.size = size;
    const letter = parseFloat(getComputedStyle(this.field).fontSize) || 13;
    this.edge = Object.fromEntries(Object.entries(EDGE).map(([side, high]) => [side, Math.round(high * letter)]));
    dress(this.svg, { viewBox: `0 0 ${size[0]} ${size[1]}`, width: size[0], height: size[1] });
  }

  x(share) {
    return px(this.edge.left + share * (this.size[0] - this.edge.left - this.edge.right));
  }

  y(value) {
    const share = (value - this.low) / (this.high - this.low || 1);
    return px(this.size[1] - this.edge.bottom - share * (this.size[1] - this.edge.top - this.edge.bottom));
  }

  /** The scale keeps still until a curve leaves it or would fill less than half of it. */
  scale(motion, kept) {
    const wish = Math.max(this.top(motion), kept ? this.top(kept) : 0);
    if (!this.high || wish > this.high || wish < 0.45 * this.high) this.high = roundUp(wish);
    this.low = this.bottom;
  }

  line(motion, track) {
    return track.map((v, i) => (v === null ? "" : `${i && track[i - 1] !== null ? "L" : "M"}${this.x(motion.fraction[i])} ${this.y(v)}`)).join("");
  }

  paint(motion, kept) {
    if (!this.size[0]) return;
    const { board } = this;
    board.begin();
    this.motion = motion;
    if (motion) {
      this.scale(motion, kept);
      this.grid();
      this.forbidden(motion).forEach(([from, to, low, high], i) => {
        const [a, b] = [this.y(Math.min(high, this.high)), this.y(Math.max(low, this.low))];
        if (b <= a) return;
        const given = { x: this.x(from), y: a, width: px(this.x(to) - this.x(from)), height: px(b - a), fill: `url(#${this.hatch})` };
        board.put("bands", `band ${i}`, "rect", { class: "lb-band", ...given });
        const edge = low <= this.low ? a : b;
        board.put("bands", `edge ${i}`, "path", { class: "lb-edge", d: `M${this.x(from)} ${edge}H${this.x(to)}` });
      });
      if (this.straight) {
        const ends = this.straight(motion);
        board.put("kept", "straight", "path", { class: "lb-straight", d: `M${this.x(0)} ${this.y(ends[0])}L${this.x(1)} ${this.y(ends[1])}` });
      }
      if (kept) {
        const d = this.curves(kept).map(({ track }) => this.line(kept, track)).join("");
        board.put("kept", "kept", "path", { class: "lb-kept", d });
      }
      for (const { name, track, colour, dash, width } of this.curves(motion)) {
        const look = { class: "lb-curve", stroke: colour, "stroke-dasharray": dash, "stroke-width": width };
        board.put("lines", name, "path", { ...look, d: this.line(motion, track) });
      }
    }
    board.end();
  }

  grid() {
    const { board } = this;
    const step = roundUp((this.high - this.low) / 3.999);
    for (let v = this.low; v <= this.high * 1.0001; v += step) {
      const y = this.y(v);
      board.put("grid", `y ${v.toFixed(6)}`, "path", { class: "lb-grid", d: `M${this.x(0)} ${y}H${this.x(1)}` });
      const text = String(Number(v.toPrecision(6)));
      board.put("words", `y ${v.toFixed(6)}`, "text", { class: "lb-tick", x: this.edge.left - 5, y, dy: "0.35em", "text-anchor": "end" }, text);
    }
    for (const share of [0, 0.5, 1]) {
      const given = { class: "lb-tick", x: this.x(share), y: this.size[1] - 5, "text-anchor": share === 1 ? "end" : share ? "middle" : "start" };
      board.put("words", `x ${share}`, "text", given, share ? `${100 * share} %` : "idle");
    }
  }

  /** Where the pedal stands: a line, a dot on every curve, the values beside the title. */
  mark(position, share) {
    if (!this.size[0]) return;
    const { svg } = this;
    const curves = this.motion ? this.curves(this.motion) : [];
    const d = `M${this.x(share)} ${this.edge.top}V${this.size[1] - this.edge.bottom}`;
    this.cursor ??= svg.appendChild(s("path", { class: "lb-cursor" }));
    this.cursor.setAttribute("d", this.motion ? d : "");
    this.dots ??= [];
    while (this.dots.length > curves.length) this.dots.pop().remove();
    if (this.keys !== curves.length) {
      this.keys = curves.length;
      const sample = ({ colour, dash, width }) => s("svg", { class: "lb-sample", viewBox: "0 0 26 8", "aria-hidden": "true" },
        s("path", { d: "M0 4H26", stroke: colour, "stroke-dasharray": dash, "stroke-width": width }));
      this.values = curves.map(() => h("span", {}));
      this.now.replaceChildren(...curves.map((one, i) => h("span", { class: "lb-key" }, curves.length > 1 ? [sample(one), one.name] : [], this.values[i])));
    }
    const told = curves.map(({ name, track, colour }, i) => {
      this.dots[i] ??= svg.appendChild(s("circle", { class: "lb-dot", r: 3.2 }));
      const value = between(track, position);
      dress(this.dots[i], { cx: this.x(share), cy: this.y(value), fill: colour });
      say(this.values[i], read(value, this.digits));
      return `${name} ${read(value, this.digits)}`;
    });
    const where = told.length ? `; at the pedal's place: ${told.join(", ")} ${this.unit}` : ": nothing to show";
    this.svg.setAttribute("aria-label", `${this.key} over the travel${where}`);
  }
}

/** The bench's charts for a design. */
function charts(design) {
  const { members, links } = design.parts;
  const drawn = (tracks, pens) =>
    Object.entries(tracks).map(([name, track]) => ({ name, track, colour: pens[name].colour, dash: pens[name].dash, width: pens[name].width }));
  const highest = (tracks) => Math.max(...Object.values(tracks).map((track) => Math.max(...track.filter((v) => v !== null))));
  const found = [
    new Chart({
      key: "opening", title: "Plate angle", unit: "°", digits: 1, bottom: 0,
      curves: (m) => drawn(m.opening, members),
      top: (m) => highest(m.opening),
      forbidden: () => [],
      straight: (m) => { const track = Object.values(m.opening)[0]; return [track[0], track[track.length - 1]]; },
    }),
  ];
  if (Object.keys(design.parts.members).filter((name) => members[name].shaft).length > 1) {
    found.push(new Chart({
      key: "mismatch", title: "Mismatch", unit: "°", digits: 3, bottom: 0,
      curves: (m) => [{ name: "mismatch", track: m.mismatch, colour: "#1b1f24", dash: "none", width: 2 }],
      top: (m) => Math.max(1.08 * Math.max(...m.mismatch), 1.2 * m.limits[1]),
      forbidden: (m) => {
        const [early, late] = [Math.min(...m.regions), Math.max(...m.regions)];
        const edges = [[0, Math.min(early, 1), m.limits[0]], [early, late, m.limits[1]], [late, 1, m.limits[2]]];
        return edges.filter(([from, to]) => to > from).map(([from, to, limit]) => [from, to, limit, Infinity]);
      },
    }));
  }
  if (Object.keys(links).length) {
    found.push(new Chart({
      key: "transmission", title: "Link to its arm", unit: "°", digits: 1, bottom: 0,
      curves: (m) => drawn(m.transmission, links),
      top: () => 90,
      forbidden: (m) => [[0, 1, -1, m.least_transmission]],
    }));
  }
  return found;
}
