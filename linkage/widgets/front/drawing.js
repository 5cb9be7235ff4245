// The drawing: levers, links, plates, cable and springs.

const HUB = 6; // half width of a lever at its pivot, at its pin [px]
const EYE = 3.6;
const AIR = [36, 30]; // left free beside and above the linkage [px]
const NARROW = 420; // no room for the lengths of links beside them [px]

class Drawing {
  constructor(design, acts) {
    this.scene = new Scene(design.parts);
    this.parts = design.parts;
    this.size = [0, 0];
    this.svg = s("svg", { class: "lb-drawing", role: "group" });
    const layers = ["under", "paths", "ghost", "plates", "arms", "links", "cable", "pivots", "names", "handles"];
    this.board = new Board(this.svg, layers);
    this.handles = new Handles(this, acts);
    this.gone = h("p", { class: "lb-gone", role: "alert", hidden: true });
    this.views = h("div", { class: "lb-views", role: "group", "aria-label": "View" });
    for (const name of design.views) {
      const press = () => this.show(name);
      const made = h("button", { type: "button", class: "lb-button lb-small", "data-view": name, onclick: press }, name);
      if (design.views.length > 1) this.views.append(made);
    }
    const refit = button("", "Fit", () => this.refit(), { kind: "lb-small" });
    refit.title = "Fit the drawing into its frame again";
    this.views.append(refit);
    this.element = h("div", { class: "lb-stage" }, this.svg, this.gone, this.views);
    this.show("front");
  }

  show(name) {
    this.scene.look(name);
    for (const made of this.views.children) {
      if (made.dataset.view) made.setAttribute("aria-pressed", made.dataset.view === name);
    }
    const from = name === "front" && this.parts.seen_from ? `, from ${this.parts.seen_from}` : "";
    this.svg.setAttribute("aria-label", `Drawing of the linkage, ${this.scene.view.seen.toLowerCase()}${from}`);
    this.refit();
  }

  refit() {
    this.box = null;
    this.sides = new Map();
    if (this.last) this.paint(...this.last);
  }

  measure() {
    const wide = this.element.clientWidth;
    if (wide === this.wide) return;
    this.wide = wide;
    this.box = null;
  }

  /** As high as the linkage needs across the whole width, within reason; settled anew with every fit. */
  resize() {
    const { wide } = this;
    if (!wide || !this.last[0] || this.box) return;
    const [low, high] = this.scene.frame(this.last[0]);
    const scale = (wide - 2 * AIR[0]) / Math.max(high[0] - low[0], 1e-6);
    const most = Math.max(240, Math.min(0.5 * window.innerHeight, 460));
    const tall = Math.round(Math.min(Math.max(scale * (high[1] - low[1]) + 2 * AIR[1] + 8, 190), most));
    this.size = [wide, tall];
    this.element.style.height = `${tall}px`;
    dress(this.svg, { viewBox: `0 0 ${wide} ${tall}`, width: wide, height: tall });
  }

  /** Scale and shift so that a frame fills the picture; it grows when something leaves it, and keeps still else:
   * unless what was far out came back and most of the picture is empty. */
  fit(frame) {
    const size = ([low, high]) => Math.max(high[0] - low[0], high[1] - low[1]);
    if (this.box && size(frame) < 0.5 * size(this.box)) this.box = null;
    const inside = this.box && [0, 1].every((k) => frame[0][k] >= this.box[0][k] && frame[1][k] <= this.box[1][k]);
    if (inside) return;
    const spare = [0, 1].map((k) => (this.box ? 0.04 : 0) * (frame[1][k] - frame[0][k]));
    this.box = this.box
      ? [[0, 1].map((k) => Math.min(this.box[0][k], frame[0][k] - spare[k])), [0, 1].map((k) => Math.max(this.box[1][k], frame[1][k] + spare[k]))]
      : frame;
    const [low, high] = this.box;
    const free = [0, 1].map((k) => Math.max(this.size[k] - 2 * AIR[k], 20));
    this.scale = Math.min(...[0, 1].map((k) => free[k] / Math.max(high[k] - low[k], 1e-6)));
    this.shift = [
      0.5 * this.size[0] - this.scale * 0.5 * (low[0] + high[0]),
      0.5 * this.size[1] + this.scale * 0.5 * (low[1] + high[1]),
    ];
  }

  on([x, y]) {
    return [px(this.shift[0] + this.scale * x), px(this.shift[1] - this.scale * y)];
  }

  off([x, y]) {
    return [(x - this.shift[0]) / this.scale, (this.shift[1] - y) / this.scale];
  }

  /** Draw a motion at a position; `kept` is drawn behind it, dashed. Without a motion `why` is said instead. */
  paint(motion, position, kept, keptPosition, why) {
    this.last = [motion, position, kept, keptPosition, why];
    this.resize();
    if (!this.size[0]) return;
    this.gone.hidden = !why;
    say(this.gone, why || "");
    const { board } = this;
    board.begin();
    if (motion) {
      const frame = this.scene.frame(motion);
      this.fit(frame);
      const arms = Object.keys(motion.hubs).map((name) => this.armLength(motion, name)).sort((a, b) => a - b);
      this.zoom = arms.length ? Math.min(Math.max(arms[arms.length >> 1] / 34, 0.55), 1.15) : 1;
      if (kept) this.ghost(kept, keptPosition);
      this.still(motion);
      this.moving(motion, position);
      this.handles.paint(motion, position);
    }
    board.end();
  }

  armLength(motion, name) {
    const a = this.scene.flat(motion.hubs[name]);
    const b = this.scene.pin(motion, name, 0);
    return this.scale * Math.hypot(b[0] - a[0], b[1] - a[1]);
  }

  still(motion) {
    const { board, scene, parts } = this;
    for (const name in motion.plates) {
      if (!scene.endOn(name)) continue;
      const corners = scene.bore(motion, name).map((p) => this.on(p));
      board.put("under", `bore ${name}`, "path", { class: "lb-bore", d: `M${corners.join("L")}Z` });
      board.put("under", `walls ${name}`, "path", { class: "lb-wall", d: `M${corners[0]}L${corners[1]}M${corners[2]}L${corners[3]}` });
    }
    for (const name in motion.pins) {
      const points = scene.path(motion, name).filter((_, i) => i % 3 === 0).map((p) => this.on(p));
      board.put("paths", name, "path", { class: "lb-path", d: `M${points.join("L")}` });
    }
    for (const name in parts.members) {
      if (motion.blocks[name]) this.guide(motion, name);
      else this.axis(motion, name);
    }
    parts.couplings.forEach((joint, i) => this.coupling(motion, joint, i));
    this.names(motion);
  }

  /** A fixed axis: a bearing seen end-on, or a rod seen from the side. */
  axis(motion, name) {
    const { board, scene, parts, zoom } = this;
    const member = parts.members[name];
    const at = this.on(scene.flat(motion.pivots[name]));
    if (!scene.endOn(name)) {
      const way = scene.flat(member.axis);
      const size = Math.hypot(...way) || 1;
      const reach = [0, ...member.arms.map((arm) => {
        const hub = this.on(scene.flat(motion.hubs[arm]));
        return ((hub[0] - at[0]) * way[0] - (hub[1] - at[1]) * way[1]) / size;
      })];
      const end = (d) => [px(at[0] + (d * way[0]) / size), px(at[1] - (d * way[1]) / size)];
      const d = `M${end(Math.min(...reach) - 10)}L${end(Math.max(...reach) + 10)}`;
      board.put("under", `rod ${name}`, "path", { class: "lb-rod", d, stroke: member.colour });
      return;
    }
    if (!motion.plates[name]) {
      const r = 15 * zoom;
      const [x, y] = at;
      const ground = `M${at}l${px(-0.6 * r)} ${px(r)}h${px(1.2 * r)}ZM${px(x - r)} ${px(y + r)}h${px(2 * r)}`;
      board.put("under", `ground ${name}`, "path", { class: "lb-ground", d: ground });
    }
    const hollow = !member.shaft;
    const look = { cx: at[0], cy: at[1], stroke: member.colour };
    board.put("pivots", `${name} ring`, "circle", { ...look, class: "lb-pivot", r: px((hollow ? 5.2 : 4.4) * zoom), fill: hollow ? "#fff" : member.colour });
    board.put("pivots", `${name} dot`, "circle", { ...look, r: px(1.7 * zoom), fill: hollow ? member.colour : "#fff", stroke: "none" });
  }

  /** The guide of a block that slides: two rails, hatched on their far sides. */
  guide(motion, name) {
    const rails = motion.blocks[name].rails.map((rail) => rail.map((p) => this.on(this.scene.flat(p))));
    const middle = [0, 1].map((k) => (rails[0][0][k] + rails[0][1][k] + rails[1][0][k] + rails[1][1][k]) / 4);
    const lines = [];
    for (const [a, b] of rails) {
      lines.push(`M${a}L${b}`);
      const run = Math.hypot(b[0] - a[0], b[1] - a[1]);
      if (run < 1) continue;
      const way = [(b[0] - a[0]) / run, (b[1] - a[1]) / run];
      const out = [-way[1], way[0]];
      const side = out[0] * (a[0] - middle[0]) + out[1] * (a[1] - middle[1]) < 0 ? -1 : 1;
      const size = 5 * this.zoom;
      for (let along = 0.6 * size; along < run; along += 1.4 * size) {
        const foot = [0, 1].map((k) => a[k] + along * way[k]);
        lines.push(`M${foot.map(px)}L${[0, 1].map((k) => px(foot[k] + size * (side * out[k] - 0.7 * way[k])))}`);
      }
    }
    this.board.put("under", `guide ${name}`, "path", { class: "lb-ground", d: lines.join("") });
  }

  coupling(motion, joint, i) {
    const { board, scene } = this;
    const [a, b] = joint.joins.map((name) => this.on(scene.flat(motion.pivots[name])));
    const apart = Math.hypot(b[0] - a[0], b[1] - a[1]);
    if (apart < 1) return;
    if (joint.ratio > 0) {
      board.put("under", `coupling ${i}`, "path", { class: "lb-joined", d: `M${a}L${b}` });
    } else if (scene.endOn(joint.joins[0])) {
      const share = Math.abs(joint.ratio) / (1 + Math.abs(joint.ratio));
      [[a, share], [b, 1 - share]].forEach(([at, part], k) =>
        board.put("under", `pitch ${i} ${k}`, "circle", { class: "lb-pitch", cx: at[0], cy: at[1], r: px(part * apart) }));
    }
  }

  /** Names under the bores, or on the side of a pivot that its arms leave free; what coincides shares a line. */
  names(motion) {
    const groups = new Map();
    for (const name in this.parts.members) {
      const at = this.on(this.scene.flat(motion.pivots[name]));
      const spot = at.map((v) => Math.round(v / 8)).join();
      groups.set(spot, { at, names: [...(groups.get(spot)?.names ?? []), name] });
    }
    for (const { at, names } of groups.values()) {
      const [name] = names;
      const plate = motion.plates[name];
      const colour = names.length === 1 ? this.parts.members[name].colour : "#1b1f24";
      const [across, up, anchor] = plate && this.scene.endOn(name)
        ? [0, -0.72 * plate.bore * this.scale - 14, "middle"]
        : this.free(motion, name);
      const given = { class: "lb-name", x: px(at[0] + across), y: px(at[1] - up), fill: colour, "text-anchor": anchor };
      this.board.put("names", `member ${name}`, "text", given, names.join(", "));
    }
  }

  /** Where a name keeps clear of a member's arms, the same until the drawing is fitted again. */
  free(motion, name) {
    if (!this.sides.has(name)) {
      const at = this.scene.flat(motion.pivots[name]);
      const last = motion.fraction.length - 1;
      const taken = this.parts.members[name].arms.flatMap((arm) => [0, 0.5 * last, last].map((position) => {
        const pin = this.scene.pin(motion, arm, position);
        return Math.atan2(pin[1] - at[1], pin[0] - at[0]);
      }));
      const room = (angle) => Math.min(9, ...taken.map((one) => Math.abs(Math.atan2(Math.sin(one - angle), Math.cos(one - angle)))));
      const sides = [[-0.5 * Math.PI, [0, -32, "middle"]], [0, [16, -4, "start"]], [Math.PI, [-16, -4, "end"]], [0.5 * Math.PI, [0, 22, "middle"]]];
      this.sides.set(name, sides.map(([angle, place]) => [room(angle), place]).reduce((a, b) => (b[0] > a[0] + 0.05 ? b : a))[1]);
    }
    return this.sides.get(name);
  }

  moving(motion, position) {
    const { board, scene, parts } = this;
    for (const name in motion.plates) {
      if (!scene.endOn(name)) continue;
      const [a, b] = scene.plate(motion, name, position).map((p) => this.on(p));
      board.put("plates", name, "line", { class: "lb-plate", x1: a[0], y1: a[1], x2: b[0], y2: b[1] });
    }
    for (const name in parts.members) {
      const { arms, colour } = parts.members[name];
      for (const arm of arms) {
        const hub = this.on(scene.flat(motion.hubs[arm]));
        const pin = this.on(scene.pin(motion, arm, position));
        const d = lever(hub, pin, HUB * this.zoom, (EYE + 1) * this.zoom);
        board.put("arms", arm, "path", { class: "lb-arm", d, stroke: colour, fill: colour });
      }
    }
    for (const name in motion.blocks) {
      const { colour } = parts.members[name];
      const d = `M${scene.block(motion, name, position).map((p) => this.on(p)).join("L")}Z`;
      board.put("arms", `block ${name}`, "path", { class: "lb-arm", d, stroke: colour, fill: colour });
    }
    this.named = new Map();
    for (const name in parts.links) this.link(motion, name, position);
    this.lengths();
    this.cable(motion, position);
    for (const name in parts.springs) {
      const a = this.on(scene.pin(motion, parts.springs[name], position));
      const b = this.on(scene.flat(motion.anchors[name]));
      board.put("cable", `spring ${name}`, "path", { class: "lb-spring", d: coil(a, b) });
    }
  }

  link(motion, name, position) {
    const { board, scene, parts } = this;
    const [a, b] = parts.links[name].joins.map((pin) => this.on(scene.pin(motion, pin, position)));
    board.put("links", name, "line", { class: "lb-link", x1: a[0], y1: a[1], x2: b[0], y2: b[1] });
    if (motion.slots[name]) {
      const [c, d] = motion.slots[name].map((end) => this.on(scene.flat(end.map((track) => between(track, position)))));
      for (const [part, wide] of [["slot", 3.4], ["gap", 2.4]]) {
        board.put("links", `${name} ${part}`, "line", { class: `lb-${part}`, x1: c[0], y1: c[1], x2: d[0], y2: d[1], "stroke-width": px(wide * EYE * this.zoom) });
      }
    }
    [a, b].forEach((p, i) => board.put("links", `${name} eye ${i}`, "circle", { class: "lb-eye", cx: p[0], cy: p[1], r: px(EYE * this.zoom) }));
    const run = Math.hypot(b[0] - a[0], b[1] - a[1]);
    if (run < 46 || this.wide < NARROW) return; // its length stands at its slider
    const spot = [...a, ...b].map((v) => Math.round(v / 6)).join();
    const group = this.named.get(spot) ?? { a, b, run, names: [], lengths: new Set() };
    group.names.push(name);
    group.lengths.add(read(motion.lengths[name], parts.unit === "in" ? 2 : 1));
    this.named.set(spot, group);
  }

  /** Names and lengths beside the links; those that coincide share theirs. */
  lengths() {
    for (const { a, b, run, names, lengths } of this.named.values()) {
      const up = b[0] >= a[0] ? 1 : -1;
      const side = [(up * (b[1] - a[1])) / run, (-up * (b[0] - a[0])) / run];
      const text = `${names.join(", ")}  ${[...lengths].join(" / ")}`;
      const clear = 5 + 2.9 * text.length * Math.abs(side[0]) + 6 * Math.abs(side[1]); // so that the line passes beside the words
      const at = [0, 1].map((k) => px(0.5 * (a[k] + b[k]) + clear * side[k]));
      this.board.put("names", `link ${names[0]}`, "text", { class: "lb-length", x: at[0], y: at[1], "text-anchor": "middle", dy: "0.35em" }, text);
    }
  }

  cable(motion, position) {
    const { board, scene, parts, zoom } = this;
    const { casing } = motion;
    if (!casing) return;
    const end = this.on(scene.flat(casing.end));
    let from = null;
    if (casing.radius) {
      if (!scene.endOn(parts.driver)) return;
      const centre = this.on(scene.flat(motion.pivots[parts.driver]));
      const r = casing.radius * this.scale;
      board.put("under", "quadrant", "circle", { class: "lb-quadrant", cx: centre[0], cy: centre[1], r: px(r) });
      from = this.on(scene.flat(casing.leaves));
      const facing = Math.sign(scene.facing(parts.members[parts.driver].axis));
      const start = Math.atan2(centre[1] - from[1], from[0] - centre[0]) + 0.35 * casing.sense * facing;
      const turn = (facing * (between(motion.turn, position) - motion.turn[motion.turn.length - 1]) * Math.PI) / 180;
      const spoke = [px(centre[0] + r * Math.cos(start + turn)), px(centre[1] - r * Math.sin(start + turn))];
      board.put("cable", "spoke", "line", { class: "lb-spoke", x1: centre[0], y1: centre[1], x2: spoke[0], y2: spoke[1] });
    } else if (casing.rim) {
      if (!scene.endOn(parts.driver)) return;
      const centre = scene.flat(motion.pivots[parts.driver]);
      const turn = (Math.sign(scene.facing(parts.members[parts.driver].axis)) * between(motion.turn, position) * Math.PI) / 180;
      const [c, s] = [Math.cos(turn), Math.sin(turn)];
      const rim = casing.rim.map((point) => {
        const [x, y] = scene.flat(point).map((v, k) => v - centre[k]);
        return this.on([centre[0] + x * c - y * s, centre[1] + x * s + y * c]);
      });
      board.put("under", "quadrant", "path", { class: "lb-quadrant", d: `M${rim.map(([x, y]) => `${px(x)} ${px(y)}`).join("L")}Z` });
      from = this.on(scene.flat(casing.leaves.map((track) => between(track, position))));
    } else {
      from = this.on(scene.pin(motion, parts.cable.pin, position));
    }
    board.put("cable", "run", "line", { class: "lb-inner", x1: from[0], y1: from[1], x2: end[0], y2: end[1] });
    let way = [end[0] - from[0], end[1] - from[1]];
    const axis = parts.cable.axis && scene.flat(parts.cable.axis);
    if (axis && Math.hypot(...axis) > 0.2) {
      const sense = Math.sign(axis[0] * way[0] - axis[1] * way[1]) || 1;
      way = [sense * axis[0], -sense * axis[1]];
    }
    const size = Math.hypot(...way) || 1;
    const at = (along, across) => `${px(end[0] + (zoom * (along * way[0] - across * way[1])) / size)} ${px(end[1] + (zoom * (along * way[1] + across * way[0])) / size)}`;
    const d = `M${at(0, -6)}L${at(0, 6)}M${at(0, -3.4)}L${at(26, -3.4)}M${at(0, 3.4)}L${at(26, 3.4)}M${at(5, 0)}L${at(24, 0)}M${at(19, -2.6)}L${at(25, 0)}L${at(19, 2.6)}`;
    board.put("cable", "casing", "path", { class: "lb-casing", d });
  }

  /** The kept design at its own position: centre lines only, dashed. */
  ghost(kept, position) {
    const { board, scene, parts } = this;
    const lines = [];
    for (const name in parts.members) {
      for (const arm of parts.members[name].arms) lines.push([scene.flat(kept.hubs[arm]), scene.pin(kept, arm, position)]);
    }
    for (const name in parts.links) lines.push(parts.links[name].joins.map((pin) => scene.pin(kept, pin, position)));
    for (const name in kept.plates) if (scene.endOn(name)) lines.push(scene.plate(kept, name, position));
    for (const name in kept.blocks) {
      const corners = scene.block(kept, name, position);
      corners.forEach((corner, i) => lines.push([corner, corners[(i + 1) % 4]]));
    }
    const d = lines.map(([a, b]) => `M${this.on(a)}L${this.on(b)}`).join("");
    board.put("ghost", "kept", "path", { class: "lb-kept", d });
  }
}

/** The outline of a lever: two discs and the lines that touch both. */
function lever(a, b, ra, rb) {
  const run = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (run <= ra - rb + 0.01) return `M${px(a[0] - ra)} ${a[1]}a${px(ra)} ${px(ra)} 0 1 0 ${px(2 * ra)} 0a${px(ra)} ${px(ra)} 0 1 0 ${px(-2 * ra)} 0Z`;
  const lean = Math.acos((ra - rb) / run);
  const along = Math.atan2(b[1] - a[1], b[0] - a[0]);
  const on = (c, r, angle) => `${px(c[0] + r * Math.cos(angle))} ${px(c[1] + r * Math.sin(angle))}`;
  const up = along - lean;
  const down = along + lean;
  return `M${on(a, ra, up)}L${on(b, rb, up)}A${px(rb)} ${px(rb)} 0 0 1 ${on(b, rb, down)}L${on(a, ra, down)}A${px(ra)} ${px(ra)} 0 1 1 ${on(a, ra, up)}Z`;
}

/** An extension spring between two points. */
function coil(a, b) {
  const run = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (run < 1) return "";
  const way = [(b[0] - a[0]) / run, (b[1] - a[1]) / run];
  const hook = Math.min(9, 0.2 * run);
  const count = 16; // coils do not come and go
  const at = (along, across) => `${px(a[0] + along * way[0] - across * way[1])} ${px(a[1] + along * way[1] + across * way[0])}`;
  const coils = Array.from({ length: count + 1 }, (_, i) =>
    at(hook + ((run - 2 * hook) * i) / count, i === 0 || i === count ? 0 : i % 2 ? 3.4 : -3.4));
  return `M${a}L${coils.join("L")}L${b}`;
}
