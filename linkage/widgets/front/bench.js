// The bench: everything together, painted once a frame with the newest answer.

const REST = 140; // how long the hand rests before the checks are worked out in full [ms]

class Bench {
  constructor(model, element) {
    this.root = element;
    this.share = 0;
    this.times = [];
    dress(element, { "data-lm-suppress-shortcuts": "true" }); // keys belong to the bench, not to the notebook
    element.classList.add("linkage-bench");
    element.append(h("p", { class: "lb-note" }, "The bench asks the kernel for its design …"));
    this.kernel = new Kernel(model, {
      state: (reply, since, mine) => this.hear(reply, since, mine),
      slow: (is) => this.slow(is),
      behind: (is) => element.classList.toggle("lb-behind", is),
    });
    this.kernel.ask("hello", { kind: "hello" });
    element.addEventListener("keydown", (event) => this.key(event));
  }

  close() {
    this.kernel.close();
    this.sizes?.disconnect();
    cancelAnimationFrame(this.frame);
    cancelAnimationFrame(this.film);
    clearTimeout(this.resting);
  }

  // ---- what the kernel says --------------------------------------------------------------------

  hear(reply, since, mine) {
    if (reply.kind === "hello") {
      this.build(reply.design);
      this.keep(reply.kept);
    }
    if (!this.design) return say(this.root.firstChild, reply.says ?? "");
    if (reply.kind === "progress") return this.desk.told(reply.says, "");
    if ("kept" in reply) this.keep(reply.kept);
    if (mine) this.desk.busy(false);
    if (reply.kind === "done") this.desk.done(reply.says);
    if (reply.state) this.adopt(reply.state, reply.kind === "state" ? since : null);
    else if (reply.kind === "settled" && reply.version === this.state.version) {
      Object.assign(this.state, { settled: reply.settled, left: reply.left });
      this.later();
    } else if (reply.kind === "trouble" && mine) this.trouble(reply);
    this.later();
    return this.rest();
  }

  adopt(state, since) {
    this.state = { ...state, parts: this.design.checks };
    this.sliders.calm();
    if (since !== null && since !== undefined) this.since ??= since;
    this.later();
  }

  trouble({ about, says, replace }) {
    if (this.sliders.trouble(about, says)) return;
    this.desk.again(about, Boolean(replace));
    this.desk.told(says, "fail");
  }

  keep(kept) {
    this.kept = kept;
    this.backTo.hidden = this.forget.hidden = !kept;
    this.keeping.words(kept ? "Keep this one instead" : "Keep to compare");
    this.root.classList.toggle("lb-compared", Boolean(kept));
    if (this.state) this.later();
  }

  slow(is) {
    if (this.desk && !this.desk.works) this.desk.told(is ? "The kernel has not answered yet: it may be busy with another cell, or gone." : "", is ? "caution" : "");
  }

  /** When nothing is asked for a moment, the checks are worked out in full, a part at a time. */
  rest() {
    clearTimeout(this.resting);
    if (!this.state?.left.length || this.root.dataset.resting === "off") return;
    this.resting = setTimeout(() => {
      if (this.kernel.idle) this.ask("settle", { kind: "settle" });
      else this.rest();
    }, this.state.left.length < this.design.checks.length ? 0 : REST);
  }

  // ---- what the hand does ----------------------------------------------------------------------

  ask(key, message, since) {
    clearTimeout(this.resting);
    this.root.dataset.asking = "yes";
    this.kernel.ask(key, message, since);
  }

  key(event) {
    event.stopPropagation(); // the notebook would move to the next cell
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.matches("input[type=text], input[type=search]")) return;
    const key = event.key.toLowerCase();
    if (key !== "z" && key !== "y") return;
    event.preventDefault();
    this.ask("undo", { kind: key === "y" || event.shiftKey ? "redo" : "undo" }, event.timeStamp);
  }

  /** The pedal stands on a position of the motion, so that what is dragged is what is drawn; its number. */
  grab() {
    const { fraction } = this.state.motion;
    const at = Math.round(positionOf(this.state.motion, this.share));
    this.stop();
    this.press(fraction[fraction.length - 1] > fraction[0] ? fraction[at] : at / (fraction.length - 1));
    return at;
  }

  press(share) {
    this.share = Math.min(Math.max(share, 0), 1);
    this.later();
  }

  play() {
    if (this.film) return this.stop();
    this.playing(true);
    const start = performance.now() - (this.share < 1 ? this.share * 1800 : 0);
    const step = (now) => {
      const t = (now - start) % 4200; // down in 1.8 s, held, up in 1.4 s, held
      this.press(t < 1800 ? t / 1800 : t < 2300 ? 1 : t < 3700 ? 1 - (t - 2300) / 1400 : 0);
      this.film = requestAnimationFrame(step);
    };
    this.film = requestAnimationFrame(step);
    return undefined;
  }

  stop() {
    cancelAnimationFrame(this.film);
    this.film = 0;
    this.playing(false);
  }

  playing(is) {
    this.player.words(is ? "Pause" : "Play");
    this.player.firstChild.replaceWith(icon(is ? "pause" : "play"));
    this.player.setAttribute("aria-pressed", is);
  }

  // ---- building and painting -------------------------------------------------------------------

  build(design) {
    this.design = design;
    const set = (path, value, gesture, since) => this.ask(`set ${path}`, { kind: "set", path, value, gesture }, since);
    this.drawing = new Drawing(design, {
      drag: (handle, to, at, view, gesture, since) => this.ask("drag", { kind: "drag", handle, to, at, view, gesture }, since),
      grab: () => this.grab(),
    });
    this.charts = charts(design);
    this.sliders = new Sliders(design, {
      set,
      reset: (path) => this.ask("reset", { kind: "reset", path }),
      lock: (path, locked) => this.ask(`lock ${path}`, { kind: "lock", path, locked }),
    });
    this.lights = new Lights();
    this.desk = new Desk(design, (key, message) => this.ask(key, message));
    const act = (name, words, kind, given) => button(name, words, () => this.ask(kind, { kind }), given);
    this.undo = act("undo", "Undo", "undo", { bare: true });
    this.redo = act("redo", "Redo", "redo", { bare: true });
    this.all = act("reset", "Reset all", "reset");
    this.keeping = act("keep", "Keep to compare", "keep");
    this.backTo = act("", "Back to the kept one", "back");
    this.forget = act("", "Forget it", "forget");
    const head = h("header", { class: "lb-head" }, h("h2", {}, design.title), this.lights.badge,
      h("div", { class: "lb-acts" }, this.undo, this.redo, this.all, this.keeping, this.backTo, this.forget));
    this.pedal = h("input", { type: "range", class: "lb-range lb-pedal", min: 0, max: 100, step: 0.5, value: 0, "aria-label": "Pedal, share of the travel" });
    this.pedal.addEventListener("input", () => { this.stop(); this.press(this.pedal.valueAsNumber / 100); });
    this.player = button("play", "Play", () => this.play(), { bare: true });
    this.at = h("output", { class: "lb-at" });
    const travel = h("div", { class: "lb-travel" }, this.player, h("span", { class: "lb-ends" }, "idle"), this.pedal, h("span", { class: "lb-ends" }, "wide open"), this.at);
    const curves = h("div", { class: "lb-curves" }, ...this.charts.map((chart) => chart.element));
    const side = h("div", { class: "lb-side" }, curves, this.lights.care);
    const main = h("div", { class: "lb-main" }, h("div", { class: "lb-view" }, this.drawing.element, travel), side, this.lights.element);
    this.root.replaceChildren(head, h("div", { class: "lb-body" }, this.sliders.element, main), this.desk.element);
    // sizes are read when they change and never while painting: that would lay the page out twice
    const sized = [this.drawing, ...this.charts];
    this.sizes = new ResizeObserver(() => {
      sized.forEach((one) => one.measure());
      this.later();
    });
    sized.forEach((one) => this.sizes.observe(one.element));
  }

  later() {
    this.frame ||= requestAnimationFrame(() => {
      this.frame = 0;
      this.paint();
    });
  }

  paint() {
    const { state, kept } = this;
    if (!state || !this.root.isConnected) return;
    const motion = state.motion;
    const position = motion ? positionOf(motion, this.share) : 0;
    const behind = kept?.motion ?? null;
    this.drawing.paint(motion, position, behind, behind ? positionOf(behind, this.share) : 0, state.why);
    const sizes = this.charts.map((chart) => chart.size.join()).join();
    if (this.painted !== state || this.paintedKept !== kept || this.paintedSizes !== sizes || this.paintedLeft !== state.left) {
      this.charts.forEach((chart) => chart.paint(motion, behind));
      this.sliders.paint(state, this.kernel.busy);
      this.lights.paint(state, kept);
      this.heads(state);
      Object.assign(this, { painted: state, paintedKept: kept, paintedSizes: sizes, paintedLeft: state.left });
    }
    this.charts.forEach((chart) => chart.mark(position, this.share));
    this.where(motion, position);
    this.root.dataset.version = state.version;
    this.root.dataset.left = state.left.length;
    this.root.dataset.asking = this.kernel.idle ? "" : "yes";
    this.clock();
  }

  heads(state) {
    this.undo.disabled = !state.undo;
    this.redo.disabled = !state.redo;
    this.undo.words(state.undo ? `Undo ${state.undo}` : "Undo");
    this.redo.words(state.redo ? `Redo ${state.redo}` : "Redo");
    this.all.disabled = state.changed.length === 0;
  }

  where(motion, position) {
    if (this.pedal.valueAsNumber !== 100 * this.share) this.pedal.value = 100 * this.share;
    const told = [`${Math.round(100 * this.share)} %`];
    const digits = this.design.parts.unit === "in" ? 2 : 1;
    if (motion?.cable) told.push(`cable ${read(between(motion.cable, position), digits)} ${this.design.parts.unit}`);
    if (motion?.pedal) told.push(`pad ${read(between(motion.pedal, position), digits)} ${this.design.parts.unit}`);
    say(this.at, told.join(" · "));
    this.pedal.setAttribute("aria-valuetext", told.join(", "));
  }

  /** How long it took from the hand's move to the screen: a task after this frame runs once it is painted. */
  clock() {
    if (this.since === undefined) return;
    const { since } = this;
    this.since = undefined;
    const channel = new MessageChannel();
    channel.port1.onmessage = () => {
      this.times.push(performance.now() - since);
      if (this.times.length > 100) this.times.shift();
      const middle = [...this.times].sort((a, b) => a - b)[this.times.length >> 1];
      this.root.dataset.times = this.times.map((t) => t.toFixed(1)).join(" ");
      say(this.desk.speed, `follows the hand in ${Math.round(middle)} ms`);
    };
    channel.port2.postMessage(0);
  }
}

export default {
  render({ model, el }) {
    const bench = new Bench(model, h("div"));
    bench.root.bench = bench;
    el.append(bench.root);
    return () => bench.close();
  },
};
