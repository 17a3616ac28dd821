// The eye inside the 3D view: where it stands, what it points at, where points are drawn.

window.silhouetteEye = (() => {
  const { inject, onMounted, onBeforeUnmount } = window.Vue;
  const TURNING = 280; // milliseconds that a turn of the view takes
  const STEP = 15; // degrees for one press of an arrow key
  // Places of lights are relative to the eye.
  const LIGHTS = window.silhouetteTheme.lights;
  const NAMED = Object.fromEntries(window.silhouetteTheme.views.map((view) => [view.name, view]));
  const ISO = NAMED.iso;

  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const add = (a, b, k = 1) => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];
  const unit = (a) => a.map((x) => x / (Math.hypot(...a) || 1));
  const cross = (a, b) => [
    a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0],
  ];
  const mix = (a, b, t) => a.map((x, i) => x + (b[i] - x) * t);
  const still = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches;

  // `bounds` gives the least and the greatest corner of all there is to see.
  function makeEye(view, bounds) {
    const size = () => bounds()[1].map((x, i) => x - bounds()[0][i]);
    const far = () => 4 * Math.hypot(...size());
    const middle = () => bounds()[1].map((x, i) => (x + bounds()[0][i]) / 2);
    let turning = 0;

    function state() {
      const camera = view.activeCamera;
      const focus = [...camera.getFocalPoint()];
      const look = unit(add(focus, camera.getPosition(), -1));
      return { focus, look, up: [...camera.getViewUp()], scale: camera.getParallelScale() };
    }

    function place({ focus, look, up, scale }) {
      const sight = unit(look);
      const upward = unit(add(up, sight, -dot(up, sight)));
      view.activeCamera.set({
        parallelProjection: true,
        focalPoint: focus,
        position: add(focus, sight, -far()),
        viewUp: upward,
        parallelScale: scale,
      });
      view.style.setCenterOfRotation(focus);
      view.render();
    }

    // Half the height that the block needs, seen along a look.
    function fitting(look, up, room = 1.12) {
      const sight = unit(look);
      const upward = unit(add(up, sight, -dot(up, sight)));
      const right = cross(sight, upward);
      const [w, h] = view.openglRenderWindow.getSize();
      const half = (axis) => dot(axis.map(Math.abs), size()) / 2;
      return room * Math.max(half(upward), (half(right) * h) / Math.max(w, 1), 1e-3);
    }

    function turnTo(goal) {
      const from = state();
      const to = { ...from, ...goal };
      const turn = ++turning;
      if (still()) return place(to);
      // Opposite looks would meet nowhere on the way: go round by the side.
      const over = dot(from.look, unit(to.look)) < -0.99 ? unit(cross(from.look, from.up)) : null;
      const start = performance.now();
      const step = (now) => {
        if (turn !== turning || !view.renderer) return;
        const t = Math.min((now - start) / TURNING, 1);
        const s = t * t * (3 - 2 * t);
        let look = mix(from.look, unit(to.look), s);
        if (over) look = add(look, over, 0.5 * Math.sin(Math.PI * s));
        place({
          focus: mix(from.focus, to.focus, s),
          look,
          up: mix(from.up, to.up, s),
          scale: from.scale * (to.scale / from.scale) ** s,
        });
        if (t < 1) requestAnimationFrame(step);
        else place(to);
      };
      requestAnimationFrame(step);
    }

    return {
      state,
      place,
      fit(name = null, own = null) {
        const { look, up } = own || NAMED[name] || state();
        turnTo({ look, up, focus: middle(), scale: fitting(look, up) });
      },
      // The same, at once.
      follow() {
        const { look, up } = state();
        turning += 1;
        place({ look, up, focus: middle(), scale: fitting(look, up) });
      },
      start() {
        place({ ...ISO, focus: middle(), scale: fitting(ISO.look, ISO.up) });
      },
      // Look at a place: along the outline's own view, or from outside towards it.
      visit(at, own = null) {
        const off = add(at, middle(), -1).map((x, i) => x / (size()[i] || 1));
        const from = ISO.look.map((x, i) => (Math.abs(off[i]) > 0.15 ? Math.sign(off[i]) : -x));
        const look = own ? own.look : from.map((x) => -x);
        const up = own ? own.up : [0, 0, 1];
        turnTo({ look, up, focus: at, scale: fitting(look, up) * 0.55 });
      },
      zoom(factor) {
        const now = state();
        place({ ...now, scale: now.scale / factor });
      },
      turn(right, up) {
        const now = state();
        const angle = (STEP * Math.PI) / 180;
        const side = cross(now.look, now.up);
        const swing = (a, b, t) => add(a.map((x) => x * Math.cos(t)), b, Math.sin(t));
        let { look } = now;
        let upward = now.up;
        if (right) look = swing(look, side, -right * angle);
        if (up) {
          look = swing(now.look, now.up, -up * angle);
          upward = swing(now.up, now.look, up * angle);
        }
        place({ ...now, look, up: upward });
      },
      // Pixels of the page from the view's upper left corner.
      onScreen(at) {
        const glass = view.openglRenderWindow;
        const [x, y] = glass.worldToDisplay(...at, view.renderer);
        const [, high] = glass.getSize();
        const ratio = window.devicePixelRatio || 1;
        return [x / ratio, (high - y) / ratio];
      },
      millimetresPerPixel() {
        const [, high] = view.openglRenderWindow.getSize();
        const ratio = window.devicePixelRatio || 1;
        return (2 * view.activeCamera.getParallelScale() * ratio) / high;
      },
      pick(event) {
        const { x, y } = view.getScreenEventPositionFor(event);
        const hit = (view.pick(x, y, x, y) || [])[0];
        return hit ? hit.worldPosition : null;
      },
      async picture(paper) {
        const drawn = view.openglRenderWindow.captureNextImage("image/png");
        view.renderWindow.render();
        const image = new Image();
        image.src = await drawn;
        await image.decode();
        const canvas = document.createElement("canvas");
        [canvas.width, canvas.height] = [image.width, image.height];
        const pen = canvas.getContext("2d");
        pen.fillStyle = paper;
        pen.fillRect(0, 0, canvas.width, canvas.height);
        pen.drawImage(image, 0, 0);
        return canvas.toDataURL("image/png");
      },
      draw: () => view.render(),
    };
  }

  // Stands inside the view, and hands its eye to whoever asked for it.
  const SilhouetteEye = {
    props: { bounds: { type: Function, required: true } },
    emits: ["ready", "moved"],
    setup(props, { emit }) {
      const view = inject("view");
      const eye = makeEye(view, props.bounds);
      let waiting = 0;
      const tell = () => {
        cancelAnimationFrame(waiting);
        waiting = requestAnimationFrame(() => view.renderer && emit("moved"));
      };
      const subscriptions = [view.activeCamera.onModified(tell)];
      const seen = new ResizeObserver(tell);
      view.renderer.setBackground(0, 0, 0, 0);
      view.renderer.setAutomaticLightCreation(false);
      view.renderer.removeAllLights();
      for (const { position, power } of LIGHTS) {
        const light = view.renderer.makeLight();
        light.set({ lightType: "CameraLight", position, focalPoint: [0, 0, 0], intensity: power });
        view.renderer.addLight(light);
      }
      onMounted(async () => {
        await window.Vue.nextTick();
        clearTimeout(view.resetCameraTimeout); // the eye is placed here
        seen.observe(view.container);
        eye.start();
        emit("ready", eye);
      });
      onBeforeUnmount(() => {
        cancelAnimationFrame(waiting);
        seen.disconnect();
        subscriptions.forEach((one) => one.unsubscribe());
      });
      return {};
    },
    template: "<span hidden></span>",
  };

  return {
    NAMED,
    install(app) {
      app.component("SilhouetteEye", SilhouetteEye);
    },
  };
})();
