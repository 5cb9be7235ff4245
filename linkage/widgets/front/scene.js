// Where things stand at a share of the travel, and how a view looks at them.

/** A track of n values at a position between two of them; a number stands for one that keeps still. */
function between(track, position) {
  if (typeof track === "number") return track;
  const low = Math.min(Math.floor(position), track.length - 1);
  const high = Math.min(low + 1, track.length - 1);
  return track[low] + (track[high] - track[low]) * (position - low);
}

/** The position (0 to n - 1) at which a share of the travel is reached. */
function positionOf(motion, share) {
  const track = motion.fraction;
  const last = track.length - 1;
  if (!(track[last] > track[0])) return share * last;
  let low = 0;
  let high = last;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (track[middle] <= share) low = middle;
    else high = middle;
  }
  const step = track[high] - track[low];
  return step > 0 ? low + Math.min(Math.max((share - track[low]) / step, 0), 1) : low;
}

class Scene {
  constructor(parts) {
    this.parts = parts;
    this.look("front");
  }

  look(name) {
    this.name = name;
    this.view = this.parts.views[name];
  }

  /** A point or direction (x, y, z) as seen: right and up. */
  flat(p) {
    const { right, up } = this.view;
    return [
      p[0] * right[0] + p[1] * right[1] + p[2] * right[2],
      p[0] * up[0] + p[1] * up[1] + p[2] * up[2],
    ];
  }

  facing(axis) {
    const { out } = this.view;
    return axis[0] * out[0] + axis[1] * out[1] + axis[2] * out[2];
  }

  endOn(member) {
    return Math.abs(this.facing(this.parts.members[member].axis)) > 0.999;
  }

  pin(motion, name, position) {
    return this.flat(motion.pins[name].map((track) => between(track, position)));
  }

  path(motion, name) {
    const tracks = motion.pins[name];
    return motion.fraction.map((_, i) => this.flat(tracks.map((track) => between(track, i))));
  }

  /** Both ends of a plate seen edge-on. */
  plate(motion, shaft, position) {
    const { half, across, turned, sense } = motion.plates[shaft];
    const a = (sense * between(motion.opening[shaft], position) * Math.PI) / 180;
    const way = across.map((v, i) => half * (Math.cos(a) * v + Math.sin(a) * turned[i]));
    const pivot = motion.pivots[shaft];
    return [-1, 1].map((end) => this.flat(pivot.map((v, i) => v + end * way[i])));
  }

  /** Corners of a bore in section, wall by wall. */
  bore(motion, shaft) {
    const { bore, along } = motion.plates[shaft];
    const way = this.flat(along);
    const side = [way[1], -way[0]];
    const at = this.flat(motion.pivots[shaft]);
    const corner = (i, j) => [0, 1].map((k) => at[k] + 0.5 * i * bore * side[k] + 0.72 * j * bore * way[k]);
    return [corner(-1, -1), corner(-1, 1), corner(1, 1), corner(1, -1)];
  }

  /** Corners of a block that slides. */
  block(motion, name, position) {
    return motion.blocks[name].corners.map((corner) => this.flat(corner.map((track) => between(track, position))));
  }

  /** Lower left and upper right corner of what a motion shows; far casing ends and anchors reach in only so far. */
  frame(motion) {
    const points = Object.keys(motion.pins).flatMap((name) => this.path(motion, name));
    for (const name in motion.hubs) points.push(this.flat(motion.hubs[name]));
    for (const name in motion.pivots) points.push(this.flat(motion.pivots[name]));
    for (const name in motion.plates) if (this.endOn(name)) points.push(...this.bore(motion, name));
    for (const name in motion.blocks) points.push(...motion.blocks[name].rails.flat().map((p) => this.flat(p)));
    const cable = motion.casing;
    const reach = cable && (cable.radius || cable.reach);
    if (reach) {
      const [x, y] = this.flat(motion.pivots[this.parts.driver]);
      points.push([x - reach, y - reach], [x + reach, y + reach]);
    }
    const low = [0, 1].map((k) => Math.min(...points.map((p) => p[k])));
    const high = [0, 1].map((k) => Math.max(...points.map((p) => p[k])));
    const spare = 0.3 * Math.max(high[0] - low[0], high[1] - low[1]);
    const far = [...(cable ? [cable.end] : []), ...Object.values(motion.anchors)].map((p) => this.flat(p));
    const out = [low.slice(), high.slice()];
    for (const p of far) {
      for (const k of [0, 1]) {
        out[0][k] = Math.min(out[0][k], Math.max(p[k], low[k] - spare));
        out[1][k] = Math.max(out[1][k], Math.min(p[k], high[k] + spare));
      }
    }
    return out;
  }
}
