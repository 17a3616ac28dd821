// Questions that stand before the bench: proposals, a file changed elsewhere, what to write.

window.silhouetteDialogs = (() => {
  const { computed, inject, nextTick, ref, watch } = window.Vue;

  // The browser's own dialog: it keeps the focus inside, and Escape closes it.
  const SilhouetteAsk = {
    props: { open: Boolean, title: { type: String, required: true } },
    emits: ["close"],
    setup(props) {
      const frame = ref(null);
      watch(() => props.open, async (open) => {
        await nextTick();
        if (open && !frame.value.open) frame.value.showModal();
        if (!open && frame.value.open) frame.value.close();
      }, { immediate: true });
      return { frame };
    },
    template: `
<dialog ref="frame" :aria-label="title" @cancel.prevent="$emit('close')">
  <template v-if="open"><h2>{{ title }}</h2><slot></slot></template></dialog>`,
  };

  const SilhouetteDialogs = {
    props: {
      state: { type: Object, required: true },
      dialog: { type: String, required: true },
      picture: { type: Function, required: true },
    },
    emits: ["close"],
    setup(props, { emit }) {
      const ask = inject("ask");
      const VIEW = { kind: "view", label: "Picture of the view as it stands", suffixes: [".png"] };
      const kinds = computed(() => [...props.state.choices.exports, VIEW]);
      const kind = ref("mesh");
      const suffix = ref(".stl");
      const name = ref("");
      const replace = ref(false);
      const said = ref("");
      const beside = ref("");
      const now = computed(() => kinds.value.find((one) => one.kind === kind.value) || VIEW);
      const stem = computed(() => (props.state.job.name || "part").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "part");
      watch(kind, () => {
        [suffix.value] = now.value.suffixes;
        name.value = "";
      });
      const file = computed(() => (name.value || `${stem.value}${["mesh", "view"].includes(kind.value) ? "" : `-${kind.value}`}`) + suffix.value);
      async function write() {
        said.value = "";
        if (kind.value !== "view") {
          await ask("export", kind.value, file.value, replace.value);
          return;
        }
        const stored = await ask("keep_picture", file.value, await props.picture(), replace.value);
        said.value = stored ? `Written: ${file.value}` : "";
      }
      const errand = computed(() => props.state.errand);
      const running = computed(() => errand.value && ["waiting", "running"].includes(errand.value.state));
      async function answer(...given) {
        emit("close");
        await ask(...given);
      }
      return { answer, ask, beside, errand, file, kind, kinds, name, now, replace, running, said, stem, suffix, write };
    },
    template: `
<silhouette-ask :open="dialog === 'proposal' && Boolean(state.proposal)" title="A proposal" @close="answer('refuse')">
  <p>{{ state.proposal.words }}</p>
  <p class="pair" v-if="!state.proposal.nothing"><button type="button" class="main" @click="answer('accept')">Take it over</button>
    <button type="button" @click="answer('refuse')">Leave it as it is</button></p>
  <p v-else><button type="button" class="main" @click="answer('refuse')">Good</button></p>
</silhouette-ask>
<silhouette-ask :open="dialog === 'conflict'" title="The job's file was changed elsewhere" @close="$emit('close')">
  <p>{{ state.job.file }} on the disk differs from what was read, and you have changes that are not saved.</p>
  <p class="pair"><button type="button" @click="answer('reload')">Load it as it is on the disk</button>
    <button type="button" class="main" @click="answer('save_beside')">Save mine beside it</button>
    <button type="button" @click="$emit('close')">Decide later</button></p>
  <p class="hint">After loading, Undo brings your changes back.</p>
</silhouette-ask>
<silhouette-ask :open="dialog === 'beside'" title="Save beside" @close="$emit('close')">
  <form @submit.prevent="answer('save_beside', beside)">
    <label class="field"><span>Name of the new job file</span><input v-model="beside" placeholder="the next free one"></label>
    <p class="pair"><button type="submit" class="main">Save</button><button type="button" @click="$emit('close')">Not now</button></p>
  </form>
</silhouette-ask>
<silhouette-ask :open="dialog === 'export'" title="Write files into the job's folder" @close="$emit('close')">
  <form @submit.prevent="write">
    <fieldset class="kinds"><legend>What</legend>
      <label v-for="one in kinds"><input type="radio" name="kind" :value="one.kind" v-model="kind"> {{ one.label }}</label></fieldset>
    <div class="fields">
      <label class="field"><span>Format</span><select v-model="suffix"><option v-for="one in now.suffixes">{{ one }}</option></select></label>
      <label class="field wide"><span>Name, without its ending</span><input v-model="name" :placeholder="file.slice(0, file.length - suffix.length)"></label>
      <label class="field check wide"><input type="checkbox" v-model="replace"><span>Write over a file of this name</span></label>
    </div>
    <p class="pair"><button type="submit" class="main" :disabled="running">Write {{ file }}</button><button type="button" @click="$emit('close')">Close</button></p>
  </form>
  <p v-if="state.trouble" class="trouble" role="alert"><b>✖ {{ state.trouble.what }}</b> <span>{{ state.trouble.where }}</span> <em>{{ state.trouble.todo }}</em></p>
  <div role="status" class="errand">
    <p v-if="said">✔ {{ said }}</p>
    <template v-if="errand && !said">
      <p v-if="running">{{ errand.words }} …</p>
      <progress v-if="running" :value="errand.share === null ? undefined : errand.share" :aria-label="errand.words"></progress>
      <p v-if="errand.state === 'done' && errand.file">✔ Written: {{ errand.file }} <a :href="'files/' + encodeURIComponent(errand.file)" download>Download a copy</a></p>
    </template>
  </div>
</silhouette-ask>`,
  };

  return {
    install(app) {
      app.component("SilhouetteAsk", SilhouetteAsk);
      app.component("SilhouetteDialogs", SilhouetteDialogs);
    },
  };
})();
