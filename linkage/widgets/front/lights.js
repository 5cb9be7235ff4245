// The verdict: a light for every check, with its shape, its word and its figure.

const WORST = ["pass", "caution", "fail"];
const WORDS = { pass: "pass", caution: "caution", fail: "FAIL", working: "…", none: "–" };

class Lights {
  constructor() {
    this.badge = h("output", { class: "lb-badge" });
    this.live = h("div", { class: "lb-lamps", "data-part": "motion" });
    this.road = h("div", { class: "lb-lamps", "data-part": "road" });
    this.roadHead = h("h3", {}, "As made, warm, worn and parted");
    this.care = h("ul", { class: "lb-care", "aria-live": "polite" });
    this.liveHead = h("h3", {}, "Motion");
    this.element = h("section", { class: "lb-lights", "aria-label": "Verdict" },
      this.liveHead, this.live, this.roadHead, this.road);
    this.known = {}; // names of the lights of each part, so that they keep their places while they are worked out
    this.made = new Map();
    this.asked = new Set(); // lights whose sentence is wanted though they pass
  }

  /** Lights of the motion, then of the other parts; what is not worked out yet says so. */
  paint(state, kept) {
    const word = state.why ? "none" : "working";
    const known = (part, lights) => {
      if (lights) this.known[part] = lights.map(({ name, label }) => ({ name, label, word: "", found: "", limit: "", unit: "", says: "" }));
      return lights ?? (this.known[part] ?? []).map((one) => ({ ...one, word }));
    };
    const motion = known("motion", state.why ? undefined : state.settled.motion ?? state.live);
    const road = state.parts.filter((part) => part !== "motion").flatMap((part) => known(part, state.settled[part]));
    this.fill(this.live, motion, kept);
    this.fill(this.road, road, kept);
    this.roadHead.hidden = road.length === 0;
    this.liveHead.hidden = motion.length === 0;
    this.last = [[...motion, ...road], state];
    this.attention(...this.last);
    const worst = Math.max(0, ...[...motion, ...road].map((one) => WORST.indexOf(one.word)));
    this.verdict(state.why ? "fail" : WORST[worst], state);
  }

  verdict(word, state) {
    const open = state.left.length > 0;
    const text = state.why ? "CANNOT BE ASSEMBLED" : word.toUpperCase();
    const after = state.why || !open ? "" : "so far";
    if (this.badge.dataset.text === text + after) return;
    this.badge.dataset.text = text + after;
    this.badge.dataset.word = word;
    this.badge.replaceChildren(sign(word), h("b", {}, text), h("span", {}, after));
  }

  fill(grid, lights, kept) {
    const wanted = lights.map((one) => one.name);
    const names = wanted.join();
    if (grid.dataset.names !== names) {
      grid.dataset.names = names;
      grid.replaceChildren(...wanted.map((name) => this.light(name).element));
    }
    for (const one of lights) this.light(one.name).paint(one, kept?.lights[one.name]);
  }

  light(name) {
    if (!this.made.has(name)) this.made.set(name, new Light(name, () => this.ask(name)));
    return this.made.get(name);
  }

  /** Show the sentence of a light, or take it away again. */
  ask(name) {
    if (!this.asked.delete(name)) this.asked.add(name);
    this.attention(...this.last);
  }

  /** What fails or asks for care, the worst first, with its sentence once that is worked out. */
  attention(lights, state) {
    const bad = ["fail", "caution"].flatMap((word) => lights.filter((one) => one.word === word));
    bad.push(...lights.filter((one) => this.asked.has(one.name) && !bad.includes(one)));
    for (const [name, light] of this.made) light.pressed(this.asked.has(name));
    const rows = state.why ? [] : bad; // the drawing says why
    const key = JSON.stringify(rows.map((one) => [one.word, one.label, one.says]));
    if (this.care.dataset.key === key) return;
    this.care.dataset.key = key;
    this.care.replaceChildren(...rows.map(({ word, label, says }) =>
      h("li", { "data-word": word }, sign(word), h("p", {}, h("b", {}, `${WORDS[word]} · ${label}`), h("span", {}, says ? ` ${says}` : " …")))));
  }
}

class Light {
  constructor(name, ask) {
    this.word = h("span", { class: "lb-word" });
    this.label = h("span", { class: "lb-what" });
    this.found = h("span", { class: "lb-found" });
    this.limit = h("span", { class: "lb-limit" });
    this.was = h("span", { class: "lb-was" });
    const figures = h("span", { class: "lb-figures" }, this.word, this.found, this.limit, this.was);
    const given = { type: "button", class: "lb-light", "data-name": name, title: "Say it in a sentence", onclick: ask };
    this.element = h("button", given, sign("working"), this.label, figures);
  }

  pressed(is) {
    if (this.down === is) return;
    this.down = is;
    this.element.setAttribute("aria-pressed", is);
  }

  paint(one, was) {
    if (this.shown !== one.word) {
      this.shown = one.word;
      this.element.dataset.word = one.word;
      this.element.firstChild.replaceWith(sign(one.word));
      say(this.word, WORDS[one.word]);
    }
    say(this.label, one.label);
    const unit = one.unit === "°" ? "°" : one.unit ? ` ${one.unit}` : "";
    say(this.found, one.found === "" ? "" : one.found.replace("-", "−") + unit);
    say(this.limit, one.limit);
    say(this.was, was && was.found !== one.found ? `kept ${was.found.replace("-", "−")}` : "");
  }
}
