// What leaves the bench: the design file, a fit, the approval sheet.

class Desk {
  constructor(design, ask) {
    this.ask = ask;
    this.name = h("input", { type: "text", class: "lb-file", value: design.file, "aria-label": "Name of the design file", spellcheck: "false" });
    this.name.addEventListener("input", () => this.again());
    const send = (kind) => ({ kind, name: this.name.value, replace: this.replace === kind });
    this.save = button("", "Save as design file", () => ask("save", send("save")));
    this.sheet = button("", "Make the approval sheet", () => this.work("approve", send("approve")));
    this.panel = this.fitting(design);
    this.opens = button("", "Send to fit …", () => this.open(this.panel.hidden));
    this.opens.setAttribute("aria-expanded", "false");
    if (!Object.keys(design.choices).length) this.opens.hidden = true;
    this.note = h("p", { class: "lb-note", role: "status" });
    this.speed = h("p", { class: "lb-speed" });
    const row = h("div", { class: "lb-desk" }, h("div", { class: "lb-saving" }, this.name, this.save), this.opens, this.sheet, this.note, this.speed);
    this.element = h("footer", {}, this.panel, row);
  }

  /** What may change and what is wished. */
  fitting(design) {
    const keys = Object.keys(design.choices);
    const first = keys.includes("free") ? "free" : keys[0];
    this.choices = keys.map((key) => h("input", { type: "checkbox", value: key, checked: key === first }));
    const ticks = this.choices.map((box) => h("label", {}, box, design.choices[box.value]));
    this.wishes = design.wishes.map(({ name, value, label }) =>
      h("input", { type: "text", class: "lb-box", value, "data-wish": name, inputmode: "decimal", placeholder: "any", "aria-label": `Wish: ${label}` }));
    const words = { mismatch: "mismatch, at most", transmission_angle: "link to its arm, at least" };
    const boxes = design.wishes.map(({ name, label, unit }, i) =>
      h("label", {}, words[name] ?? label, this.wishes[i], h("span", { class: "lb-unit" }, unit === "deg" ? "°" : unit)));
    const go = button("", "Fit", () => this.work("fit", {
      kind: "fit",
      choices: this.choices.filter((box) => box.checked).map((box) => box.value),
      wish: Object.fromEntries(this.wishes.map((box) => [box.dataset.wish, box.value])),
    }));
    return h("section", { class: "lb-fitting", hidden: true, "aria-label": "Send to fit" },
      h("fieldset", {}, h("legend", {}, "May change, within its sliders; what is locked stays"), ticks),
      h("fieldset", {}, h("legend", {}, "Wished, besides the limits of the verdict"), boxes), go);
  }

  open(is) {
    this.panel.hidden = !is;
    this.opens.setAttribute("aria-expanded", is);
  }

  /** Something that takes a while. */
  work(key, message) {
    this.busy(true);
    this.told("Working …", "");
    this.ask(key, message);
  }

  busy(is) {
    this.works = is;
  }

  /** What stands there already is replaced when the same button is pressed again. */
  again(about, replace) {
    this.replace = replace ? about : null;
    this.save.words(this.replace === "save" ? "Replace that file" : "Save as design file");
    this.sheet.words(this.replace === "approve" ? "Replace that sheet" : "Make the approval sheet");
  }

  done(says) {
    this.again();
    this.told(says, "");
  }

  told(says, word) {
    this.note.dataset.word = word;
    say(this.note, says);
  }
}
