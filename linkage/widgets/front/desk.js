// What leaves the bench: the design file, a fit, the approval sheet.

class Desk {
  constructor(design, ask) {
    this.name = h("input", { type: "text", class: "lb-file", value: design.file, "aria-label": "Name of the design file", spellcheck: "false" });
    this.save = button("", "Save as design file", () => ask("save", { kind: "save", name: this.name.value, replace: this.replace }));
    this.name.addEventListener("input", () => this.again(false));
    this.note = h("p", { class: "lb-note", role: "status" });
    this.speed = h("p", { class: "lb-speed" });
    this.element = h("footer", { class: "lb-desk" }, h("div", { class: "lb-saving" }, this.name, this.save), this.note, this.speed);
  }

  again(replace) {
    this.replace = replace;
    this.save.words(replace ? "Replace that file" : "Save as design file");
  }

  done(says) {
    this.again(false);
    this.told(says, "");
  }

  told(says, word) {
    this.note.dataset.word = word;
    say(this.note, says);
  }
}
