// The block and how it is cut: its size, material, kerf, order; and one more outline.

window.silhouetteBlock = (() => {
  const { computed, inject, ref } = window.Vue;
  const number = (event) => {
    const value = event.target.valueAsNumber;
    return Number.isFinite(value) ? value : null;
  };

  const SilhouetteBlock = {
    props: { job: { type: Object, required: true }, choices: { type: Object, required: true } },
    setup(props) {
      const ask = inject("ask");
      const bar = computed(() => props.job.stock.round);
      const NAMES = ["Width x", "Depth y", "Height z"];
      function size(i, event) {
        const value = number(event);
        if (value === null) return;
        const all = [...props.job.stock.size];
        all[i] = value;
        ask("stock", all, null, `typing size ${i}`);
      }
      function round(key, value) {
        if (value !== null) ask("stock", null, { ...bar.value, [key]: value }, `typing bar ${key}`);
      }
      function kind(what) {
        if (what === "bar") {
          const [w, d, h] = props.job.stock.size;
          ask("stock", null, { diameter: Math.min(w, d), length: h, along: "z" });
        } else {
          const { diameter, length, along } = bar.value;
          ask("stock", ["x", "y", "z"].map((axis) => (axis === along ? length : diameter)), null);
        }
      }
      const put = (event, ...key) => number(event) !== null && ask("put", key, number(event), `typing ${key.join(" ")}`);
      function move(k, by) {
        const order = [...props.job.order];
        const [name] = order.splice(k, 1);
        order.splice(k + by, 0, name);
        ask("order", order);
      }
      function density(event) {
        if (number(event) !== null || !event.target.value) ask("density", number(event));
      }
      const known = computed(() => props.choices.materials.some(({ name }) => name === props.job.stock.material));
      return { NAMES, ask, bar, density, kind, known, move, number, put, round, size };
    },
    template: `
<section class="block" aria-labelledby="block">
  <h2 id="block">Block and cuts</h2>
  <div class="fields">
    <label class="field"><span>Stock</span><select :value="bar ? 'bar' : 'block'" @change="kind($event.target.value)"><option value="block">a block</option><option value="bar">a round bar</option></select></label>
    <template v-if="bar">
      <label class="field"><span>Diameter, {{ job.units }}</span><input type="number" min="0" step="any" :value="bar.diameter" @input="round('diameter', number($event))"></label>
      <label class="field"><span>Length, {{ job.units }}</span><input type="number" min="0" step="any" :value="bar.length" @input="round('length', number($event))"></label>
      <label class="field"><span>Along</span><select :value="bar.along" @change="round('along', $event.target.value)"><option>x</option><option>y</option><option>z</option></select></label>
    </template>
    <label v-else v-for="(words, i) in NAMES" class="field"><span>{{ words }}, {{ job.units }}</span><input type="number" min="0" step="any" :value="job.stock.size[i]" @input="size(i, $event)"></label>
    <label class="field wide"><span>Material</span>
      <select :value="job.stock.material" @change="ask('material', $event.target.value)">
        <option v-if="!known" :value="job.stock.material">{{ job.stock.material || 'by its density' }}</option>
        <option v-for="m in choices.materials" :value="m.name">{{ m.name }} – {{ m.density }} g/cm³</option></select></label>
    <label class="field"><span>Density, g/cm³</span><input type="number" min="0" step="any" :value="job.stock.density" placeholder="known" @change="density"></label>
    <label class="field"><span>Kerf, {{ job.units }}</span><input type="number" min="0" step="any" :value="job.kerf" @input="put($event, 'cutting', 'kerf')"></label>
    <label class="field"><span>Tabs wide, {{ job.units }}</span><input type="number" min="0" step="any" :value="job.tabWidth" @input="put($event, 'cutting', 'tab_width')"></label>
    <label class="field"><span>Thin below, {{ job.units }}</span><input type="number" min="0" step="any" :value="job.thin" @input="put($event, 'checks', 'thin')"></label>
  </div>
  <h3>Order of the cuts</h3>
  <ol class="order"><li v-for="(name, k) in job.order" :key="name"><span>{{ k + 1 }}. {{ name }}</span>
    <button type="button" :disabled="!k" @click="move(k, -1)" :aria-label="'Cut ' + name + ' earlier'">▲</button>
    <button type="button" :disabled="k === job.order.length - 1" @click="move(k, 1)" :aria-label="'Cut ' + name + ' later'">▼</button></li></ol>
  <p class="pair"><button type="button" @click="ask('propose_order')">Propose an order</button>
    <button type="button" @click="ask('propose_tabs')">Propose tabs</button></p>
</section>`,
  };

  // One more outline, from a drawing in the folder or an upload.
  const SilhouetteMore = {
    props: { state: { type: Object, required: true } },
    setup(props) {
      const ask = inject("ask");
      const drawing = ref("");
      const view = ref("");
      const free = computed(() => {
        const taken = props.state.job.profiles.map((p) => p.view);
        return props.state.choices.views.filter((name) => !taken.includes(name));
      });
      async function add() {
        if (await ask("add_profile", drawing.value, view.value || free.value[0])) drawing.value = "";
      }
      return { add, drawing, free, view };
    },
    template: `
<details class="more"><summary>One more outline</summary>
  <div class="fields">
    <label class="field"><span>Drawing</span><select v-model="drawing"><option value="" disabled>choose</option><option v-for="name in state.folder.drawings">{{ name }}</option></select></label>
    <label class="field"><span>Seen from</span><select v-model="view"><option v-for="name in free" :value="name">{{ name }}</option></select></label>
    <silhouette-upload class="wide" :most="state.choices.mostBytes" @stored="drawing = $event"></silhouette-upload>
    <p class="wide"><button type="button" :disabled="!drawing" @click="add">Add it</button></p>
  </div></details>`,
  };

  return {
    install(app) {
      app.component("SilhouetteBlock", SilhouetteBlock);
      app.component("SilhouetteMore", SilhouetteMore);
    },
  };
})();
