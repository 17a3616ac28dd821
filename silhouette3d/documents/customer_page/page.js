"use strict";

/* The page comes alive: where 3D can be drawn the picture gives way to it. */

/** A canvas and its context, or nothing where there is no WebGL. */
function context3d() {
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("webgl2", { antialias: true, alpha: true });
  return context ? { canvas, context } : null;
}

function start(drawn) {
  const data = JSON.parse(document.getElementById("data").textContent);
  const place = document.getElementById("scene");
  const renderer = new THREE.WebGLRenderer({ ...drawn, antialias: true, alpha: true });
  const scene = new THREE.Scene();
  const world = fill(scene, data);

  let waiting = false;
  const draw = () => {
    waiting = false;
    const [width, height] = [place.clientWidth, place.clientHeight];
    if (!width || !height) return;
    eye.place(width / height);
    renderer.render(scene, eye.camera);
  };
  const changed = () => {
    if (!waiting) requestAnimationFrame(draw);
    waiting = true;
  };
  const eye = new Eye(changed);

  place.append(drawn.canvas);
  document.body.classList.add("live");
  drawn.canvas.addEventListener("webglcontextlost", () => document.body.classList.remove("live"));
  drawn.canvas.addEventListener("webglcontextrestored", () => {
    document.body.classList.add("live");
    changed();
  });
  new ResizeObserver(() => {
    renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    renderer.setSize(place.clientWidth, place.clientHeight, false);
    draw(); // at once: a canvas that was given a size is empty
  }).observe(place);

  const told = document.getElementById("told");
  const tell = (words) => { told.textContent = words; };
  listenToPointers(place, eye);
  listenToKeys(place, eye, tell);
  for (const button of document.querySelectorAll("button[data-do]")) {
    button.addEventListener("click", () => {
      ACTS[button.dataset.do](eye);
      tell(eye.words);
    });
  }
  connect(world, data, eye);
}

/** Puts every body into the scene: the part, the stock, and those of each step. */
function fill(scene, data) {
  const bodies = new Bodies(data);
  const looks = Object.fromEntries(
    Object.entries(data.looks).map(([name, look]) => [name, surface(look, data.patternScale)]),
  );
  const ink = new THREE.LineBasicMaterial({ color: data.ink });
  const glass = new THREE.MeshBasicMaterial({
    color: data.ghost, transparent: true, opacity: 0.14, side: THREE.BackSide, depthWrite: false,
  });
  const ghostLines = new THREE.LineBasicMaterial({ color: data.ghost });
  const stock = bodies.next(data.stock, glass, ghostLines);
  scene.add(stock.group);
  const steps = data.steps.map((step) => step.bodies.map((body) => {
    const made = bodies.next(body, looks[body.look], ink);
    scene.add(made.group);
    return { ...made, move: new THREE.Vector3(...body.move) };
  }));
  return { stock, steps };
}

/** The stock's tick and the two sliders. */
function connect(world, data, eye) {
  const stock = document.getElementById("stock");
  const step = document.getElementById("step");
  const apart = document.getElementById("apart");
  const words = document.getElementById("step-words");
  const update = () => {
    const shown = step ? Number(step.value) : world.steps.length - 1;
    const share = apart ? Number(apart.value) / 100 : 0;
    world.stock.group.visible = stock.checked;
    world.steps.forEach((bodies, i) => bodies.forEach((body) => {
      body.group.visible = i === shown;
      body.group.position.copy(body.move).multiplyScalar(share);
    }));
    const clouds = world.steps[shown].map(({ points, group }) => ({ points, move: group.position }));
    if (stock.checked) clouds.push({ points: world.stock.points, move: world.stock.group.position });
    eye.showing(ballAround(clouds));
    if (step) {
      const { title, line } = data.steps[shown];
      words.textContent = `${title}: ${line}`;
      step.setAttribute("aria-valuetext", title);
      apart.setAttribute("aria-valuetext", `${apart.value} percent`);
    }
  };
  for (const input of [stock, step, apart]) input?.addEventListener("input", update);
  update();
}

{
  const drawn = context3d();
  if (drawn) start(drawn);
}
