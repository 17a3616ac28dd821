"use strict";

/* Bodies out of the page's data, and an eye that turns about them. */

/** The bytes of a base64 text. */
function bytesOf(text) {
  return Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)).buffer;
}

/** Reads one body after the other: points, triangles and edges as whole numbers. */
class Bodies {
  constructor(data) {
    this.buffer = bytesOf(data.numbers);
    this.at = 0;
    this.step = data.step;
    this.origin = data.origin;
  }

  numbers(count, wide) {
    const kind = wide ? Uint32Array : Uint16Array;
    const found = new kind(this.buffer, this.at, count);
    this.at = Math.ceil((this.at + found.byteLength) / 4) * 4;
    return found;
  }

  /** A group of faces and edges, and the points that they share. */
  next(counts, faces, lines) {
    const whole = this.numbers(3 * counts.points, false);
    const triangles = this.numbers(3 * counts.triangles, counts.wide);
    const edges = this.numbers(2 * counts.edges, counts.wide);
    const points = Float32Array.from(whole, (n, i) => this.origin[i % 3] + n * this.step);
    const group = new THREE.Group();
    group.add(new THREE.Mesh(flatFaces(points, triangles), faces));
    const drawn = new THREE.BufferGeometry();
    drawn.setAttribute("position", new THREE.BufferAttribute(points, 3));
    drawn.setIndex(new THREE.BufferAttribute(edges, 1));
    group.add(new THREE.LineSegments(drawn, lines));
    return { group, points };
  }
}

/** The least ball about the middle of a box around some points that holds them all. */
function ballAround(clouds) {
  const box = new THREE.Box3();
  const each = (act) => clouds.forEach(({ points, move }) => {
    for (let i = 0; i < points.length; i += 3) {
      act(new THREE.Vector3(points[i], points[i + 1], points[i + 2]).add(move));
    }
  });
  each((point) => box.expandByPoint(point));
  const middle = box.getCenter(new THREE.Vector3());
  let far = 0;
  each((point) => { far = Math.max(far, point.distanceTo(middle)); });
  return { middle, radius: far };
}

/** Every triangle with corners and a normal of its own: faces are flat, as they are cut. */
function flatFaces(points, triangles) {
  const corners = new Float32Array(3 * triangles.length);
  triangles.forEach((index, i) => corners.set(points.subarray(3 * index, 3 * index + 3), 3 * i));
  const faces = new THREE.BufferGeometry();
  faces.setAttribute("position", new THREE.BufferAttribute(corners, 3));
  faces.computeVertexNormals();
  return faces;
}

const START = { azimuth: -45, elevation: Math.atan(Math.SQRT1_2) * 180 / Math.PI, zoom: 1 };
const ZOOMS = [0.5, 10];
const FILLED = 1.05;

/** An eye that goes round the middle of what is shown: degrees from x towards y, and above the xy plane. */
class Eye {
  constructor(changed) {
    this.camera = new THREE.PerspectiveCamera(28, 1, 1, 10);
    this.middle = new THREE.Vector3();
    this.radius = 1;
    this.changed = changed;
    Object.assign(this, START);
  }

  /** Looks at another ball. */
  showing({ middle, radius }) {
    this.middle.copy(middle);
    this.radius = radius;
    this.changed();
  }

  turn(right, up) {
    this.azimuth = (this.azimuth - right) % 360;
    this.elevation = Math.min(90, Math.max(-90, this.elevation + up));
    this.changed();
  }

  nearer(factor) {
    this.zoom = Math.min(ZOOMS[1], Math.max(ZOOMS[0], this.zoom * factor));
    this.changed();
  }

  reset() {
    Object.assign(this, START);
    this.changed();
  }

  /** Sets up the camera so that a ball of `radius` fits at zoom 1. */
  place(aspect) {
    const [a, e] = [this.azimuth * Math.PI / 180, this.elevation * Math.PI / 180];
    const camera = this.camera;
    const upright = camera.fov * Math.PI / 360;
    const half = Math.min(upright, Math.atan(Math.tan(upright) * aspect));
    const far = this.radius * FILLED / Math.sin(half);
    const out = new THREE.Vector3(Math.cos(e) * Math.cos(a), Math.cos(e) * Math.sin(a), Math.sin(e));
    camera.position.copy(this.middle).addScaledVector(out, far);
    camera.up.set(-Math.sin(e) * Math.cos(a), -Math.sin(e) * Math.sin(a), Math.cos(e));
    camera.lookAt(this.middle);
    camera.aspect = aspect;
    camera.zoom = this.zoom;
    camera.near = Math.max(far - 2 * this.radius, far / 50);
    camera.far = far + 2 * this.radius;
    camera.updateProjectionMatrix();
  }

  get words() {
    const round = (((Math.round(this.azimuth + 90) % 360) + 360) % 360);
    const level = Math.round(this.elevation);
    const side = round > 180 ? `${360 - round}° to the left of the front` : `${round}° to the right of the front`;
    const height = level < 0 ? `${-level}° from below` : `${level}° from above`;
    return `Seen from ${side}, ${height}`;
  }
}

const DEGREES_PER_PIXEL = 0.4;
const KEY_TURN = 10;
const KEY_ZOOM = 1.2;

const ACTS = {
  left: (eye) => eye.turn(-KEY_TURN, 0),
  right: (eye) => eye.turn(KEY_TURN, 0),
  up: (eye) => eye.turn(0, -KEY_TURN),
  down: (eye) => eye.turn(0, KEY_TURN),
  nearer: (eye) => eye.nearer(KEY_ZOOM),
  further: (eye) => eye.nearer(1 / KEY_ZOOM),
  reset: (eye) => eye.reset(),
};

const KEYS = {
  ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down",
  "+": "nearer", "=": "nearer", "-": "further", "_": "further", "−": "further",
  "0": "reset", Home: "reset",
};

/** Mouse, pen and fingers on the scene: one turns, two zoom; the wheel zooms. */
function listenToPointers(place, eye) {
  const down = new Map();
  const spread = () => {
    const [a, b] = [...down.values()];
    return Math.max(1, Math.hypot(a.x - b.x, a.y - b.y));
  };
  place.addEventListener("pointerdown", (event) => {
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    place.setPointerCapture(event.pointerId);
  });
  place.addEventListener("pointermove", (event) => {
    const was = down.get(event.pointerId);
    if (!was) return;
    const before = down.size === 2 ? spread() : 0;
    const now = { x: event.clientX, y: event.clientY };
    down.set(event.pointerId, now);
    if (down.size === 1) {
      eye.turn((now.x - was.x) * DEGREES_PER_PIXEL, (now.y - was.y) * DEGREES_PER_PIXEL);
    } else if (down.size === 2) {
      eye.nearer(spread() / before);
    }
  });
  for (const over of ["pointerup", "pointercancel", "lostpointercapture"]) {
    place.addEventListener(over, (event) => down.delete(event.pointerId));
  }
  place.addEventListener("wheel", (event) => {
    event.preventDefault();
    const pixels = event.deltaY * (event.deltaMode === 1 ? 30 : 1);
    eye.nearer(Math.exp(-pixels / 800));
  }, { passive: false });
}

/** Keys while the scene has the focus; what they did is told to those who listen. */
function listenToKeys(place, eye, tell) {
  place.addEventListener("keydown", (event) => {
    const act = KEYS[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    ACTS[act](eye);
    tell(eye.words);
  });
}
