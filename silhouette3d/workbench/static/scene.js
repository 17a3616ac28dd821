// The 3D view with its marks, its tools, and what it tells of points.

window.silhouetteScene = (() => {
  const { computed, inject, nextTick, onMounted, ref, watch } = window.Vue;
  const { of: lookOf, canBePicked, hasCorners, isBackdrop } = window.silhouetteLooks;
  const CLICK = 4; // pixels: a press that moves less than this is a click
  const CORNER = 9; // pixels within which a corner is meant
  const SIGNS = window.silhouetteTheme.signs;
  const VIEWS = window.silhouetteTheme.views.map(({ name, words }) => [name, words]);
  const BUTTONS = [
    { button: 1, action: "Rotate" },
    { button: 2, action: "Pan" },
    { button: 3, action: "Zoom", scrollEnabled: true },
    { button: 1, action: "Pan", shift: true },
    { button: 1, action: "Zoom", control: true },
  ];

  const unpacked = new WeakMap();
  function pointsOf({ state }) {
    if (!unpacked.has(state)) {
      const bytes = Uint8Array.from(window.atob(state.mesh.points.bvals), (c) => c.charCodeAt(0));
      unpacked.set(state, new Float32Array(bytes.buffer));
    }
    return unpacked.get(state);
  }

  const SilhouetteScene = {
    props: {
      shapes: { type: Array, required: true },
      labels: { type: Array, required: true },
      size: { type: Array, required: true },
      apart: { type: Number, required: true },
      unit: { type: Object, required: true },
      stage: { default: null },
      sight: { type: Object, required: true },
      busy: { type: String, default: "" },
      number: { type: Number, default: 0 },
    },
    emits: ["sight"],
    setup(props, { emit, expose }) {
      let eye = null;
      const frame = ref(null);
      const marks = ref([]);
      const large = ref(1); // how much larger than usual letters are
      const points = ref([]);
      const shown = ref([]);
      const pointing = ref("");
      const chosen = ref(null);
      const drawable = Boolean(document.createElement("canvas").getContext("webgl2"));
      const trame = inject("trame");

      const visible = computed(() =>
        props.shapes.filter(
          ({ role }) =>
            (props.sight.stock || !role.startsWith("stock")) &&
            (props.sight.marks || !/^(lost|thin)/.test(role)),
        ),
      );
      const actor = ({ role, move }) => ({
        position: move.map((mm) => mm * props.apart),
        pickable: canBePicked(role),
        forceOpaque: isBackdrop(role, props.apart),
      });

      function place() {
        if (!eye) return;
        large.value = parseFloat(getComputedStyle(document.documentElement).fontSize) / 14;
        shown.value = points.value.map(({ at }) => eye.onScreen(at));
        marks.value = (props.sight.marks ? props.labels : []).map((label) => ({
          ...label,
          sign: SIGNS[label.severity],
          chosen: label.number === chosen.value,
          place: eye.onScreen(label.at),
        }));
      }

      // The block, and what stands out of it when bodies are moved apart.
      function bounds() {
        const low = [0, 0, 0];
        const high = [...props.size];
        if (!props.apart) return [low, high];
        for (const shape of visible.value.filter(({ move }) => move.some(Boolean))) {
          const flat = pointsOf(shape);
          for (let i = 0; i < flat.length; i += 1) {
            const x = flat[i] + shape.move[i % 3] * props.apart;
            low[i % 3] = Math.min(low[i % 3], x);
            high[i % 3] = Math.max(high[i % 3], x);
          }
        }
        return [low, high];
      }

      // Corners that lie near a point, so that one measures from corner to corner.
      function cornerNear(at) {
        const reach = CORNER * eye.millimetresPerPixel();
        let best = null;
        for (const shape of visible.value.filter(({ role }) => hasCorners(role))) {
          const flat = pointsOf(shape);
          const move = shape.move.map((mm) => mm * props.apart);
          for (let i = 0; i < flat.length; i += 3) {
            const corner = [0, 1, 2].map((k) => flat[i + k] + move[k]);
            const off = Math.hypot(...corner.map((x, k) => x - at[k]));
            if (off < (best ? best.off : reach)) best = { off, at: corner };
          }
        }
        return best && best.at;
      }

      let pressed = null;
      function press(event) {
        pressed = event.button === 0 ? [event.clientX, event.clientY] : null;
      }
      function release(event) {
        const still = pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) < CLICK;
        pressed = null;
        if (!still || !eye || !pointing.value) return;
        const hit = eye.pick(event);
        if (!hit) return;
        const corner = cornerNear(hit);
        const point = { at: corner || hit, corner: Boolean(corner) };
        const more = pointing.value === "measure" && points.value.length === 1;
        points.value = more ? [...points.value, point] : [point];
        place();
      }

      const told = computed(() => {
        const { per, name, digits } = props.unit;
        const tenth = 10 ** digits; // halves away from zero, whatever binary number stands for them
        const rounded = (x) => (Math.sign(x) * Math.round(Math.abs(x) * tenth * (1 + 1e-12))) / tenth;
        const write = (mm) => rounded(mm / per).toFixed(digits).replace(/^-(0\.?0*)$/, "$1");
        const where = ({ at, corner }) =>
          `x ${write(at[0])}  y ${write(at[1])}  z ${write(at[2])} ${name}${corner ? " (corner)" : ""}`;
        const [a, b] = points.value;
        if (!a) {
          if (pointing.value === "measure") return "Click on two points of the part.";
          return pointing.value ? "Click on the part to read where that is." : "";
        }
        if (!b) return where(a) + (pointing.value === "measure" ? " – click on the other point" : "");
        const off = b.at.map((x, i) => x - a.at[i]);
        return (
          `${write(Math.hypot(...off))} ${name} apart: ` +
          `${write(off[0])} along x, ${write(off[1])} along y, ${write(off[2])} along z`
        );
      });

      function point(how) {
        pointing.value = pointing.value === how ? "" : how;
        points.value = [];
        place();
      }

      const TURNS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
      function key(event) {
        if (!eye || event.altKey || event.ctrlKey || event.metaKey) return;
        if (TURNS[event.key]) eye.turn(...TURNS[event.key]);
        else if (event.key === "+" || event.key === "=") eye.zoom(1.25);
        else if (event.key === "-") eye.zoom(0.8);
        else if (event.key === "0") eye.fit();
        else if (event.key === "Escape") point(pointing.value);
        else return;
        event.preventDefault();
      }

      function ready(found) {
        eye = found;
        window.workbench.eye = found;
        place();
        report();
      }

      watch(() => [props.labels, props.sight.marks, chosen.value], place);
      watch(() => props.apart, () => eye && eye.follow(), { flush: "post" });
      watch(() => props.size.join(), () => eye && eye.fit());
      // What is on screen once the browser has painted it.
      function report() {
        const { number, stage } = props;
        requestAnimationFrame(() => requestAnimationFrame(() => {
          Object.assign(window.workbench, { drawn: number, shown: stage });
        }));
      }

      let before = props.stage;
      watch(visible, async () => {
        points.value = [];
        await nextTick();
        if (!eye) return;
        if (props.stage !== before) eye.follow();
        before = props.stage;
        eye.draw();
        place();
        report();
      });
      onMounted(() => frame.value.addEventListener("keydown", key));

      expose({
        async visit(finding) {
          chosen.value = finding.number;
          const own = finding.profile ? await trame.trigger("look", [finding.profile]) : null;
          if (!eye) return;
          if (finding.where) eye.visit(finding.where, own);
          else eye.fit(null, own);
        },
        async picture() {
          const paper = getComputedStyle(document.body).backgroundColor;
          return eye ? eye.picture(paper) : null;
        },
      });

      const set = (change) => emit("sight", { ...props.sight, ...change });
      const cut = (change) => {
        const section = { ...props.sight.section, ...change };
        if ("axis" in change) section.keep = change.axis === "y" ? "high" : "low"; // towards the eye
        set({ section });
      };
      return {
        BUTTONS, VIEWS, actor, bounds, cut, drawable, frame, large, lookOf, marks, point, pointing, point, points, press,
        ready, release, set, shown, told, visible, fit: (...a) => eye && eye.fit(...a),
        zoom: (k) => eye && eye.zoom(k),
      };
    },
    template: `
<section class="scene" aria-label="The part in 3D">
  <div class="tools" role="toolbar" aria-label="What the view shows">
    <label class="field"><span>Seen from</span>
      <select @change="fit($event.target.value); $event.target.selectedIndex = 0">
        <option value="" selected>turned by hand</option>
        <option v-for="[name, words] in VIEWS" :value="name">{{ words }}</option>
      </select></label>
    <span class="pair">
      <button type="button" @click="fit()">Show all</button>
      <button type="button" @click="zoom(1.25)" aria-label="Nearer">+</button>
      <button type="button" @click="zoom(0.8)" aria-label="Further">−</button>
    </span>
    <span class="pair">
      <button type="button" :aria-pressed="sight.stock" @click="set({stock: !sight.stock})">Block</button>
      <button type="button" :aria-pressed="sight.prisms" @click="set({prisms: !sight.prisms})">Prisms</button>
      <button type="button" :aria-pressed="sight.marks" @click="set({marks: !sight.marks})">Marks</button>
    </span>
    <span class="pair">
      <button type="button" :aria-pressed="pointing === 'read'" @click="point('read')">Read a point</button>
      <button type="button" :aria-pressed="pointing === 'measure'" @click="point('measure')">Measure</button>
    </span>
    <label class="field"><span>Cut open across</span>
      <select :value="sight.section.axis" @change="cut({axis: $event.target.value})">
        <option value="">nothing</option><option>x</option><option>y</option><option>z</option>
      </select></label>
  </div>
  <div v-if="sight.section.axis" class="knife pair">
    <input type="range" min="0.01" max="0.99" step="0.01" :value="sight.section.share"
           aria-label="Where it is cut open" @input="cut({share: Number($event.target.value)})">
    <button type="button" @click="cut({keep: sight.section.keep === 'low' ? 'high' : 'low'})">Other side</button>
  </div>
  <div class="glass" ref="frame" tabindex="0" role="application"
       aria-label="3D view. Arrow keys turn it, plus and minus zoom, 0 shows all."
       :class="{pointing: pointing}" @pointerdown.capture="press" @click.capture="release">
    <vtk-view v-if="drawable" :background="[1, 1, 1]" :interactor-settings="BUTTONS">
      <silhouette-eye :bounds="bounds" @ready="ready" @moved="place"></silhouette-eye>
      <vtk-geometry-representation v-for="s in visible" :key="s.id + s.role" :id="s.id"
          :property="lookOf(s.role)" :actor="actor(s)">
        <vtk-mesh :state="s.state"></vtk-mesh>
      </vtk-geometry-representation>
    </vtk-view>
    <p v-else class="nothing">This browser cannot draw in 3D (WebGL 2 is off or missing).</p>
    <svg class="marks" aria-hidden="true">
      <line v-if="shown.length === 2" class="span" :x1="shown[0][0]" :y1="shown[0][1]"
            :x2="shown[1][0]" :y2="shown[1][1]"/>
      <g v-for="p in shown" :transform="'translate(' + p + ')'"><path class="cross" d="M-7 0H7M0 -7V7"/></g>
      <g v-for="m in marks" class="mark" :class="[m.severity, {chosen: m.chosen}]"
         :transform="'translate(' + m.place + ') scale(' + large + ')'">
        <circle v-if="m.chosen" r="22" class="ring"/>
        <circle r="3.5" class="dot"/>
        <g transform="translate(9 -19)">
          <rect rx="4" width="34" height="18"/>
          <text x="17" y="13">{{ m.sign }} {{ m.number }}</text>
        </g>
      </g>
    </svg>
  </div>
  <p class="told" role="status" v-show="told">{{ told }}</p>
  <p class="busy" role="status"><span v-if="busy"><i aria-hidden="true"></i>{{ busy }}</span></p>
</section>`,
  };

  return {
    install(app) {
      app.component("SilhouetteScene", SilhouetteScene);
    },
  };
})();
