// Handles on the drawing: pins, pivots, anchors and the casing's end, dragged or moved with the arrow keys.

const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

class Handles {
  constructor(drawing, { drag, grab }) {
    Object.assign(this, { drawing, drag, grab, gestures: 0 });
  }

  paint(motion, position) {
    const { scene, parts } = this.drawing;
    for (const name in motion.pins) {
      const member = name.slice(0, name.indexOf("."));
      if (Math.abs(scene.facing(parts.members[member].axis)) > 0.2) {
        this.handle(`pin:${name}`, `Pin ${name.slice(member.length + 1)} of ${member}`, scene.pin(motion, name, position));
      }
    }
    for (const name in parts.members) {
      if (!parts.members[name].shaft && !motion.blocks[name]) this.handle(`pivot:${name}`, `Pivot of ${name}`, scene.flat(motion.pivots[name]));
    }
    for (const name in motion.anchors) this.handle(`anchor:${name}`, `Anchor of spring ${name}`, scene.flat(motion.anchors[name]));
    if (motion.casing && (!motion.casing.radius || motion.casing.given)) {
      this.handle("casing:", "End of the cable's casing", scene.flat(motion.casing.end));
    }
  }

  handle(name, words, point) {
    const [x, y] = this.drawing.on(point);
    const digits = this.drawing.parts.unit === "in" ? 3 : 1;
    const told = `${words}, ${read(point[0], digits)} right, ${read(point[1], digits)} up ${this.drawing.parts.unit}. Drag it, or move it with the arrow keys.`;
    const made = this.drawing.board.put("handles", name, "circle", { class: "lb-handle", cx: x, cy: y, r: 11 });
    made.point = point;
    if (made.told !== told) {
      made.told = told;
      made.setAttribute("aria-label", told);
    }
    if (made.ready) return;
    made.ready = true;
    dress(made, { tabindex: 0, role: "button", "aria-roledescription": "handle" });
    made.append(s("title", {}, `${words}: drag it`));
    made.addEventListener("pointerdown", (event) => this.seize(event, name, made));
    made.addEventListener("keydown", (event) => this.nudge(event, name, made));
  }

  seize(event, name, made) {
    if (event.button !== 0) return;
    event.preventDefault();
    made.focus({ preventScroll: true });
    made.setPointerCapture(event.pointerId);
    const at = this.grab();
    const gesture = `${name}#${(this.gestures += 1)}`;
    const corner = this.drawing.svg.getBoundingClientRect();
    const start = this.drawing.on(made.point);
    const away = [start[0] - (event.clientX - corner.left), start[1] - (event.clientY - corner.top)];
    const move = (now) => {
      const frame = this.drawing.svg.getBoundingClientRect();
      const to = this.drawing.off([now.clientX - frame.left + away[0], now.clientY - frame.top + away[1]]);
      this.drag(name, to, at, this.drawing.scene.name, gesture, now.timeStamp);
    };
    const end = () => {
      made.removeEventListener("pointermove", move);
      made.classList.remove("lb-held");
    };
    made.classList.add("lb-held");
    made.addEventListener("pointermove", move);
    made.addEventListener("lostpointercapture", end, { once: true });
  }

  nudge(event, name, made) {
    const step = STEPS[event.key];
    if (!step) return;
    event.preventDefault();
    const size = (event.shiftKey ? 10 : 1) * (this.drawing.parts.unit === "in" ? 0.02 : 0.5);
    const at = this.grab();
    if (!this.nudged || this.nudged.name !== name || event.timeStamp - this.nudged.when > 900) {
      this.nudged = { name, gesture: `${name}#${(this.gestures += 1)}`, point: made.point };
    }
    this.nudged.when = event.timeStamp;
    this.nudged.point = this.nudged.point.map((v, k) => v + size * step[k]);
    this.drag(name, this.nudged.point, at, this.drawing.scene.name, this.nudged.gesture, event.timeStamp);
  }
}
