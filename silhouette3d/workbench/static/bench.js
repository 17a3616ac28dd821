// The page as a whole: what the server tells, what is asked of it, and where things stand.

window.workbench = { unsaved: false, newest: 0, drawn: 0, shown: null, eye: null, ask: null };

window.silhouetteBench = (() => {
  const { computed, inject, nextTick, onBeforeUnmount, onMounted, provide, reactive, ref, shallowReactive, watch } = window.Vue;
  const KEYS = [
    "job", "figures", "cards", "findings", "checked", "strip", "scene", "marks", "labels",
    "trouble", "refused", "busy", "conflict", "proposal", "errand", "unit", "folder", "choices",
  ];
  const { signs: SIGNS, words: WORDS } = window.silhouetteTheme;
  const PATIENCE = 60; // milliseconds between two requests for another section

  // What the server tells, kept as it comes.
  function useServer(trame) {
    const state = shallowReactive({});
    const take = (keys) => keys.filter((k) => KEYS.includes(k)).forEach((k) => {
      state[k] = trame.state.get(k);
    });
    const listen = ({ keys }) => keys && take(keys);
    take(KEYS);
    trame.state.addListener(listen);
    onBeforeUnmount(() => trame.state.removeListener(listen));
    return state;
  }

  const SilhouetteBench = {
    setup() {
      const trame = inject("trame");
      const state = useServer(trame);
      const ask = (name, ...given) => trame.trigger(name, given);
      provide("ask", ask);
      window.workbench.ask = ask;
      const chosen = ref(0);
      const stage = ref(null);
      const apart = ref(0.35);
      const scene = ref(null);
      const dialog = ref("");
      const look = ref(document.documentElement.dataset.look);
      const sight = reactive({
        stock: true, prisms: false, marks: true, section: { axis: "", share: 0.5, keep: "low" },
      });

      watch(() => state.job && state.job.unsaved, (unsaved) => {
        window.workbench.unsaved = Boolean(unsaved);
      }, { immediate: true });
      watch(() => state.job && `${state.job.unsaved ? "• " : ""}${state.job.name}`, (name) => {
        document.title = name ? `${name} – silhouette3d` : "silhouette3d";
      }, { immediate: true });
      watch(() => state.proposal, (proposal) => {
        if (proposal) dialog.value = "proposal";
        else if (dialog.value === "proposal") dialog.value = "";
      });
      watch(() => state.conflict, (conflict) => {
        if (conflict) dialog.value = "conflict";
        else if (dialog.value === "conflict") dialog.value = "";
      }, { immediate: true });
      watch(() => state.figures && state.figures.number, (number) => {
        window.workbench.newest = number || 0;
        if (!number) stage.value = null;
      }, { immediate: true });
      watch(() => state.job && state.job.profiles.length, (count) => {
        if (count && chosen.value >= count) chosen.value = 0;
      });

      let due = 0;
      function want() {
        clearTimeout(due);
        due = setTimeout(() => ask("want", {
          stage: stage.value, prisms: sight.prisms, section: { ...sight.section },
        }), PATIENCE);
      }
      function see(change) {
        Object.assign(sight, change);
        if ("prisms" in change || "section" in change) want();
      }
      function step(k) {
        const last = state.strip.length - 1;
        stage.value = k === null || k === last ? null : k;
        want();
      }

      const nudgeStep = (event) => (event.shiftKey ? 1 : event.altKey ? 0.01 : 0.1);
      const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
      function nudge(event, i) {
        if (!ARROWS[event.key] || event.ctrlKey || event.metaKey) return false;
        const by = nudgeStep(event);
        ask("nudge", i, ...ARROWS[event.key].map((x) => x * by));
        event.preventDefault();
        return true;
      }
      provide("nudge", nudge);

      const typing = (target) => /^(INPUT|SELECT|TEXTAREA)$/.test(target.tagName);
      function key(event) {
        const held = event.ctrlKey || event.metaKey;
        const letter = event.key.toLowerCase();
        if (held && letter === "s") ask("save");
        else if (held && letter === "z" && !typing(event.target)) ask(event.shiftKey ? "redo" : "undo");
        else if (held && letter === "y" && !typing(event.target)) ask("redo");
        else if (!held && event.target === document.body && state.job) nudge(event, chosen.value);
        else return;
        if (held) event.preventDefault();
      }
      const hush = (event) => typing(event.target) && event.stopImmediatePropagation();
      onMounted(() => {
        want(); // whatever another page may have asked for before
        window.addEventListener("keydown", key);
        window.addEventListener("keyup", hush, true); // the view would take an R as its own
      });
      onBeforeUnmount(() => {
        window.removeEventListener("keydown", key);
        window.removeEventListener("keyup", hush, true);
      });

      function visit(finding) {
        if (stage.value !== null) step(null);
        const i = state.job.profiles.findIndex(({ name }) => name === finding.profile);
        if (i >= 0) chosen.value = i;
        sight.marks = true;
        nextTick(() => scene.value.visit(finding));
      }
      function switchLook() {
        look.value = look.value === "dark" ? "light" : "dark";
        document.documentElement.dataset.look = look.value;
        try {
          window.localStorage.setItem("silhouette3d-look", look.value);
        } catch {
          // no storage: until the page is loaded again
        }
      }

      const shapes = computed(() => [...state.scene.shapes, ...(state.scene.stage === null ? state.marks : [])]);
      const counts = computed(() =>
        ["error", "warning", "note"]
          .map((kind) => [kind, (state.findings || []).filter((f) => f.severity === kind && !f.accepted).length])
          .filter(([, count]) => count)
          .map(([kind, count]) => `${SIGNS[kind]} ${count} ${WORDS[kind].toLowerCase()}${count > 1 ? "s" : ""}`)
          .concat((state.findings || []).some((f) => f.accepted)
            ? [`${state.findings.filter((f) => f.accepted).length} accepted`] : []),
      );
      const cardOf = ({ name }) => state.cards.find((card) => card.name === name);
      const doing = computed(() => {
        const { busy, errand } = state;
        if (busy) return "working it out …";
        return errand && ["waiting", "running"].includes(errand.state) ? `${errand.words} …` : "";
      });
      return {
        SIGNS, WORDS, apart, ask, cardOf, chosen, counts, dialog, doing, look, scene, see, shapes, sight, stage,
        state, step, switchLook, visit,
        picture: () => scene.value.picture(),
      };
    },
    template: `
<div v-if="!state.job" class="empty"><silhouette-begin :state="state"></silhouette-begin></div>
<div v-else class="bench">
  <header class="bar">
    <h1><span class="name">{{ state.job.name }}</span>
      <small>{{ state.job.file }}<b v-if="state.job.unsaved" class="unsaved"> • not saved</b></small></h1>
    <div class="figures" v-if="state.figures" aria-label="Weight and size">
      <b class="mass">{{ state.figures.mass }}</b>
      <span class="size">{{ state.figures.size }}</span>
      <small>{{ state.figures.volume }} of {{ state.figures.stockMass }} block</small>
    </div>
    <fieldset class="switch"><legend class="unseen">Units shown</legend>
      <label v-for="[unit, words] in [['mm', 'mm · g'], ['in', 'in · lb']]">
        <input type="radio" name="unit" :value="unit" :checked="state.unit.name === unit"
               @change="ask('switch', unit)"><span>{{ words }}</span></label>
    </fieldset>
    <nav aria-label="Job">
      <button type="button" :disabled="!state.job.canUndo" @click="ask('undo')" title="Ctrl+Z">Undo</button>
      <button type="button" :disabled="!state.job.canRedo" @click="ask('redo')" title="Ctrl+Y">Redo</button>
      <button type="button" class="main" :disabled="!state.job.unsaved" @click="ask('save')" title="Ctrl+S">Save</button>
      <button type="button" @click="dialog = 'beside'">Save beside …</button>
      <button type="button" @click="dialog = 'export'">Write files …</button>
      <button type="button" @click="switchLook">{{ look === 'dark' ? 'Light' : 'Dark' }}</button>
    </nav>
  </header>
  <div v-if="state.trouble" class="trouble" role="alert">
    <b>✖ {{ state.trouble.what }}</b>
    <span v-if="state.trouble.where">{{ state.trouble.where }}</span>
    <em v-if="state.trouble.todo">{{ state.trouble.todo }}</em>
    <button type="button" @click="ask('dismiss')">Understood</button>
  </div>
  <silhouette-scene v-if="state.figures" ref="scene" :shapes="shapes"
      :labels="state.scene.stage === null ? state.labels : []" :size="state.figures.block" :apart="state.scene.stage === null ? 0 : apart"
      :stage="state.scene.stage" :unit="state.unit" :sight="sight" :number="state.scene.number"
      :busy="doing" @sight="see"></silhouette-scene>
  <section v-else class="scene waiting"><p role="status">{{ state.trouble ? 'There is no part yet.' : 'Reading the drawings …' }}</p></section>
  <silhouette-strip :steps="state.strip" :stage="stage" :apart="apart"
      @step="step" @apart="apart = $event"></silhouette-strip>
  <div class="side"><div class="left">
    <section class="findings" aria-labelledby="to-look-at" :aria-busy="!state.checked">
      <h2 id="to-look-at">To look at <small>{{ counts.join('  ') || (state.checked ? 'nothing' : '') }}
        <i v-if="!state.checked">checking …</i></small></h2>
      <p v-if="state.checked && !state.findings.length" class="fine">✔ Nothing to mend.</p>
      <ol><li v-for="f in state.findings">
        <button type="button" :class="f.severity" @click="visit(f)">
          <b><span aria-hidden="true">{{ SIGNS[f.severity] }} {{ f.number }}</span> {{ f.accepted ? "Accepted: " + WORDS[f.severity].toLowerCase() : WORDS[f.severity] }}<template v-if="f.profile">, {{ f.profile }}</template></b>
          <span>{{ f.message }}</span><em>{{ f.advice }}</em>
        </button></li></ol>
    </section></div><div class="right">
    <section class="outlines" aria-labelledby="outlines">
      <h2 id="outlines">Outlines</h2>
      <template v-for="(profile, i) in state.job.profiles" :key="profile.name">
        <silhouette-refused v-if="state.refused && state.refused.profile === profile.name" :refused="state.refused"
            :profile="profile" :index="i"></silhouette-refused>
        <silhouette-card v-else-if="cardOf(profile)" :card="cardOf(profile)" :index="i" :profile="profile"
            :units="state.job.units" :chosen="chosen === i" @choose="chosen = i"></silhouette-card>
      </template>
      <silhouette-more :state="state"></silhouette-more>
    </section>
    <silhouette-block :job="state.job" :choices="state.choices"></silhouette-block>
  </div></div>
  <silhouette-dialogs :state="state" :dialog="dialog" :picture="picture" @close="dialog = ''"></silhouette-dialogs>
</div>`,
  };

  return {
    install(app) {
      app.component("SilhouetteBench", SilhouetteBench);
    },
  };
})();
