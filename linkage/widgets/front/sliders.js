// A slider for every dimension, grouped by part: drag it, type a value, lock it, set it back.

class Sliders {
  constructor(design, { set, reset, lock }) {
    this.rows = new Map();
    this.acts = { set, reset, lock };
    this.find = h("input", { type: "search", class: "lb-find", placeholder: "Find a dimension", "aria-label": "Find a dimension" });
    this.find.addEventListener("input", () => this.sift());
    this.groups = new Map();
    const list = h("div", { class: "lb-groups" });
    for (const control of design.sliders) {
      let group = this.groups.get(control.group);
      if (!group) {
        const more = h("details", { class: "lb-more" }, h("summary", {}, "more"));
        const told = h("span", { class: "lb-told" });
        const whole = h("details", { class: "lb-group" }, h("summary", {}, h("b", {}, control.group), told), more);
        group = { whole, more, told, rows: [] };
        this.groups.set(control.group, group);
        list.append(whole);
      }
      const row = new Row(control, this.acts);
      group.rows.push(row);
      if (control.less) group.more.append(row.element);
      else group.whole.insertBefore(row.element, group.more);
      this.rows.set(control.path, row);
    }
    let shown = 0;
    for (const [name, { whole, more, rows }] of this.groups) {
      more.hidden = !rows.some((row) => row.control.less);
      whole.open = /^Link /.test(name) || (/^(Shaft|Bell crank) /.test(name) && (shown += rows.filter((row) => !row.control.less).length) < 40);
    }
    this.element = h("section", { class: "lb-sliders", "aria-label": "Dimensions" }, h("div", { class: "lb-scroll" }, this.find, list));
  }

  sift() {
    const words = this.find.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const { whole, more, rows } of this.groups.values()) {
      let any = false;
      for (const row of rows) {
        const text = `${row.control.group} ${row.control.label} ${row.control.path}`.toLowerCase();
        const hit = words.every((word) => text.includes(word));
        row.element.hidden = !hit;
        any ||= hit;
        if (hit && words.length && row.control.less) more.open = true;
      }
      whole.hidden = !any;
      if (words.length && any) whole.open = true;
    }
  }

  /** `busy`: newer values are asked for than the state has. */
  paint(state, busy) {
    const changed = new Set(state.changed);
    const locked = new Set(state.locked);
    const fitted = new Set(state.fitted);
    for (const [path, row] of this.rows) {
      if (!busy) row.asked = false;
      row.paint(state.values[path] ?? row.control.base, { changed: changed.has(path), locked: locked.has(path), fitted: fitted.has(path) });
    }
    for (const { told, rows } of this.groups.values()) {
      const count = rows.filter((row) => changed.has(row.control.path)).length;
      say(told, count ? `${count} changed` : "");
    }
  }

  trouble(path, says) {
    const row = this.rows.get(path);
    if (row) row.trouble(says);
    return Boolean(row);
  }

  calm() {
    for (const row of this.rows.values()) row.trouble("");
  }
}

let rowsMade = 0;

class Row {
  constructor(control, acts) {
    const { set, reset, lock } = acts;
    this.acts = acts;
    this.control = control;
    this.gestures = 0;
    rowsMade += 1;
    const id = `lb-row-${rowsMade}`;
    const whole = `${control.group}, ${control.label}`;
    const step = `${Number(control.step.toPrecision(3))} ${control.unit}`;
    this.range = h("input", {
      type: "range", class: "lb-range", min: control.low, max: control.high, step: control.step,
      "aria-label": whole, "data-path": control.path, title: `One step is ${step}: ${control.says}`,
    });
    this.box = h("input", { type: "text", class: "lb-box", id, inputmode: "decimal", autocomplete: "off", spellcheck: "false", "data-path": control.path });
    this.lock = button("open", `Lock ${whole}`, () => lock(control.path, !this.locked), { bare: true, kind: "lb-tiny" });
    this.back = button("reset", `Reset ${whole}`, () => reset(control.path), { bare: true, kind: "lb-tiny lb-back" });
    this.fit = control.fits ? h("input", { type: "checkbox", "data-path": control.path }) : null;
    const fit = this.fit && h("label", { class: "lb-fit", title: "Fitted: as long as both ends as drawn need it" }, this.fit, "fitted");
    this.says = h("p", { class: "lb-says", role: "alert", hidden: true });
    const label = h("label", { for: id, class: "lb-label" }, control.label);
    const unit = h("span", { class: "lb-unit" }, control.unit === "deg" ? "°" : control.unit);
    this.element = h("div", { class: "lb-row", "data-path": control.path }, label, fit, this.box, unit, this.range, this.back, this.lock, this.says);

    this.range.addEventListener("input", (event) => {
      this.asked = true;
      set(control.path, this.range.valueAsNumber, this.gesture(event), event.timeStamp);
    });
    this.range.addEventListener("change", () => { this.ended = performance.now(); this.held = false; });
    this.range.addEventListener("pointerdown", () => { this.held = true; this.ended = -Infinity; });
    for (const name of ["pointerup", "pointercancel", "blur"]) this.range.addEventListener(name, () => { this.held = false; });
    this.box.addEventListener("input", () => { this.writing = true; });
    this.box.addEventListener("blur", (event) => this.enter(event));
    this.box.addEventListener("keydown", (event) => {
      if (event.key === "Enter") this.enter(event);
      if (event.key !== "Escape") return;
      this.writing = false;
      this.shown = null;
      this.trouble("");
      this.paint(this.value, this);
    });
    if (this.fit) this.fit.addEventListener("change", (event) => set(control.path, this.fit.checked ? null : this.value, "", event.timeStamp));
  }

  /** What was typed is meant. */
  enter(event) {
    if (!this.writing) return;
    this.writing = false;
    this.shown = null;
    this.acts.set(this.control.path, this.box.value, "", event.timeStamp);
  }

  /** One drag, or keys in quick succession, are one thing to undo. */
  gesture(event) {
    if (event.timeStamp - (this.ended ?? -Infinity) > 900) {
      this.gestures += 1;
      this.ended = Infinity;
    }
    return `${this.control.path}#${this.gestures}`;
  }

  paint(value, { changed, locked, fitted }) {
    const { control, range, box } = this;
    const same = this.value === value && this.changed === changed && this.locked === locked && this.fitted === fitted;
    if (same && this.shown !== null && range.dataset.at === String(value)) return;
    this.value = value;
    if (this.locked !== locked) {
      this.locked = locked;
      this.lock.setAttribute("aria-pressed", locked);
      this.lock.firstChild.replaceWith(icon(locked ? "locked" : "open"));
      this.element.classList.toggle("lb-locked", locked);
    }
    if (this.changed !== changed) {
      this.changed = changed;
      this.element.classList.toggle("lb-changed", changed);
      this.back.disabled = !changed;
    }
    if (this.fitted !== fitted) {
      this.fitted = fitted;
      if (this.fit) this.fit.checked = fitted;
    }
    range.disabled = box.disabled = locked || fitted;
    if (this.fit) this.fit.disabled = locked;
    this.back.disabled = !changed || locked;
    const text = typed(value, control.decimals);
    if (!this.writing && !this.wrong && this.shown !== text) box.value = this.shown = text;
    if (this.held || this.asked) return; // the thumb is where the hand has put it
    if (range.dataset.at !== String(value)) {
      this.reach(value);
      range.dataset.at = value;
      range.value = value;
      range.setAttribute("aria-valuetext", `${read(value, control.decimals)} ${control.unit}`);
    }
  }

  /** As far as the slider goes, and in whole steps on to a value that was typed beyond. */
  reach(value) {
    const { control, range } = this;
    const steps = Math.abs(value - control.base) / control.step;
    const on = control.step * Math.ceil(steps - 1e-9);
    range.max = value > control.high + 1e-9 ? control.base + on : control.high;
    range.min = value < control.low - 1e-9 ? control.base - on : control.low;
  }

  trouble(says) {
    if (this.wrong === says) return;
    this.wrong = says;
    this.says.hidden = !says;
    say(this.says, says);
    dress(this.box, { "aria-invalid": says ? "true" : null });
  }
}
