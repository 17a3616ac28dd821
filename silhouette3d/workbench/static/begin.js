// The beginning: a sample, a job of the folder, or stock and drawings for a first one.

window.silhouetteBegin = (() => {
  const { computed, inject, reactive, ref } = window.Vue;

  // Sends drawings into the job's folder.
  const SilhouetteUpload = {
    props: { most: { type: Number, required: true } },
    emits: ["stored"],
    setup(props, { emit }) {
      const said = ref("");
      const over = ref(false);
      const refused = ref(null);
      async function sendOne(file, replace) {
        refused.value = null;
        if (file.size > props.most) {
          said.value = `✖ ${file.name} is too large: at most ${props.most / 1e6} MB are taken.`;
          return;
        }
        said.value = `sending ${file.name} …`;
        const where = `drawings/${encodeURIComponent(file.name)}${replace ? "?replace=yes" : ""}`;
        const first = await fetch(where, { method: "POST", body: file }).catch(() => null);
        const answer = first ? await first.json().catch(() => ({})) : {};
        said.value = answer.stored ? `${answer.stored} is in the folder now.` : `✖ ${answer.error || "It could not be sent."}`;
        if (answer.stored) emit("stored", answer.stored);
        else if (/already/.test(answer.error)) refused.value = file;
      }
      async function send(files) {
        for (const file of files) await sendOne(file, false);
      }
      function drop(event) {
        over.value = false;
        send(event.dataTransfer.files);
      }
      return { drop, over, refused, said, send, sendOne };
    },
    template: `
<div class="upload" :class="{over}" @dragover.prevent="over = true" @dragleave="over = false" @drop.prevent="drop">
  <label><span>Bring a drawing (DXF or SVG): choose it, or drop it here</span>
  <input type="file" multiple accept=".dxf,.svg" @change="send($event.target.files); $event.target.value = ''"></label>
  <em role="status">{{ said }}</em>
  <button v-if="refused" type="button" @click="sendOne(refused, true)">Write over it</button></div>`,
  };

  const SilhouetteBegin = {
    props: { state: { type: Object, required: true } },
    setup(props) {
      const ask = inject("ask");
      const first = reactive({
        name: "My first part", units: "mm", size: [80, 40, 50], material: "aluminium 6061",
        profiles: [{ view: "front", drawing: "", layer: "" }],
      });
      const layers = reactive({});
      const folder = computed(() => props.state.folder || { jobs: [], drawings: [], samples: [], path: "" });
      async function look(drawing) {
        if (drawing && !(drawing in layers)) layers[drawing] = (await ask("layers", drawing)) || [];
      }
      function take(name) {
        const open = first.profiles.find(({ drawing }) => !drawing);
        if (open) open.drawing = name;
        else first.profiles.push({ view: free(first.profiles.length), drawing: name, layer: "" });
        look(name);
      }
      const ORDER = ["front", "right", "top", "rear", "left", "bottom"];
      const free = () => ORDER.find((name) => !first.profiles.some(({ view }) => view === name)) || "front";
      const more = () => first.profiles.push({ view: free(), drawing: "", layer: "" });
      const ready = computed(() => first.profiles.every(({ drawing }) => drawing) && first.size.every((x) => x > 0));
      function begin() {
        const profiles = first.profiles.map(({ view, drawing, layer }) => ({ view, drawing, ...(layer ? { layer } : {}) }));
        ask("begin", first.name, first.units, { size: first.size.map(Number), material: first.material }, profiles);
      }
      return { ORDER, ask, begin, first, folder, layers, look, more, ready, take };
    },
    template: `
<main class="begin">
  <h1>silhouette3d <small>a part from one block, by cuts from several sides</small></h1>
  <div v-if="state.trouble" class="trouble" role="alert"><b>✖ {{ state.trouble.what }}</b>
    <span v-if="state.trouble.where">{{ state.trouble.where }}</span><em v-if="state.trouble.todo">{{ state.trouble.todo }}</em>
    <button type="button" @click="ask('dismiss')">Understood</button></div>
  <p>Working in <code>{{ folder.path }}</code></p>
  <div class="ways">
    <section aria-labelledby="look-first"><h2 id="look-first">Look first</h2>
      <p>A ready part to turn, cut open and change. It is copied into a folder of its own.</p>
      <p class="pair"><button v-for="name in folder.samples" type="button" class="main" @click="ask('open_sample', name)">Open the sample “{{ name }}”</button></p>
      <template v-if="folder.jobs.length"><h2>Jobs of this folder</h2>
        <ul class="plain"><li v-for="name in folder.jobs"><button type="button" @click="ask('open', name)">{{ name }}</button></li></ul></template>
    </section>
    <form aria-labelledby="own" @submit.prevent="begin"><h2 id="own">A part of your own</h2>
      <h3>1. The block, as measured</h3>
      <div class="fields four">
        <label class="field wide"><span>Name of the part</span><input v-model="first.name" required></label>
        <label class="field"><span>Units</span><select v-model="first.units"><option>mm</option><option>in</option></select></label>
        <label v-for="(words, i) in ['Width x', 'Depth y', 'Height z']" class="field"><span>{{ words }}, {{ first.units }}</span><input type="number" min="0" step="any" v-model.number="first.size[i]" required></label>
        <label class="field wide"><span>Material</span><select v-model="first.material"><option v-for="m in state.choices.materials" :value="m.name">{{ m.name }} – {{ m.density }} g/cm³</option></select></label>
      </div>
      <h3>2. An outline for each side that is cut</h3>
      <silhouette-upload :most="state.choices.mostBytes" @stored="take"></silhouette-upload>
      <div v-for="(p, i) in first.profiles" class="fields side-of-block">
        <label class="field"><span>Cut seen from</span><select v-model="p.view"><option v-for="name in ORDER">{{ name }}</option></select></label>
        <label class="field"><span>Drawing</span><select v-model="p.drawing" @change="look(p.drawing)"><option value="" disabled>choose</option><option v-for="name in folder.drawings">{{ name }}</option></select></label>
        <label class="field"><span>Layer</span><select v-model="p.layer"><option value="">all that is visible</option><option v-for="name in layers[p.drawing] || []">{{ name }}</option></select></label>
        <button type="button" v-if="i" class="quiet" @click="first.profiles.splice(i, 1)">Leave out</button>
      </div>
      <p><button type="button" @click="more" :disabled="first.profiles.length >= 6">One more side</button></p>
      <h3>3. See the part</h3>
      <p class="pair"><button type="submit" class="main" :disabled="!ready">Make the part</button>
        <span v-if="!ready" class="hint">Choose a drawing for each side first.</span></p>
    </form>
  </div>
</main>`,
  };

  return {
    install(app) {
      app.component("SilhouetteUpload", SilhouetteUpload);
      app.component("SilhouetteBegin", SilhouetteBegin);
    },
  };
})();
