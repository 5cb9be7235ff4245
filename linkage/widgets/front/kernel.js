// The line to the kernel: one question in the air, the newest of each kind waiting, older ones dropped.

const WORK = new Set(["settle", "save", "fit", "approve"]); // leaves the design on the screen as it is

class Kernel {
  constructor(model, { state, slow, behind }) {
    this.model = model;
    this.name = Math.random().toString(36).slice(2);
    this.waiting = new Map();
    this.flying = null;
    this.sent = 0;
    this.state = state;
    this.slow = slow;
    this.behind = behind;
    this.hear = (reply) => this.heard(reply);
    model.on("msg:custom", this.hear);
  }

  close() {
    clearTimeout(this.timer);
    clearTimeout(this.lag);
    this.model.off("msg:custom", this.hear);
  }

  /** Ask; a question with the same key that still waits is replaced. `since` is when the hand moved. */
  ask(key, message, since = performance.now()) {
    this.waiting.delete(key);
    this.waiting.set(key, { message, since });
    this.lag ??= this.watch();
    this.pump();
  }

  /** When an answer is long in coming, what is seen is said to be no longer what is asked for. */
  watch() {
    return this.busy ? setTimeout(() => this.behind(true), 250) : undefined;
  }

  get idle() {
    return this.flying === null && this.waiting.size === 0;
  }

  /** Whether something newer than what is seen is asked for; work on what is seen is not. */
  get busy() {
    return [this.flying?.key, ...this.waiting.keys()].some((key) => key && !WORK.has(key));
  }

  pump() {
    if (this.flying || this.waiting.size === 0) return;
    const [key, question] = this.waiting.entries().next().value;
    this.waiting.delete(key);
    this.sent += 1;
    this.flying = { seq: this.sent, since: question.since, key };
    this.model.send({ ...question.message, seq: this.sent, from: this.name });
    this.timer = setTimeout(() => this.slow(true), 2500);
  }

  heard(reply) {
    let since = null;
    let mine = false;
    if (reply.kind === "progress") {
      clearTimeout(this.timer);
      if (reply.to === this.name) this.state(reply, null, true);
      return;
    }
    if (reply.to === this.name) {
      if (!this.flying || reply.seq !== this.flying.seq) return; // an answer nobody waits for any more
      since = this.flying.since;
      mine = true;
      this.flying = null;
      clearTimeout(this.timer);
      this.slow(false);
    } else if (reply.kind !== "state" && reply.kind !== "settled") {
      return; // another view of the same bench asked
    }
    this.state(reply, since, mine);
    this.pump();
    clearTimeout(this.lag);
    this.lag = this.watch();
    this.behind(false);
  }
}
