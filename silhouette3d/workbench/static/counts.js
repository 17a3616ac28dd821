// What of a drawing counts, and what is made of it: fields on every card; and the card of a
// drawing that gives no outline, with what may be declared instead and the area it gives.

window.silhouetteCounts = (() => {
  const { computed, inject, ref, watch } = window.Vue;
  const EDGE = 0.08; // margin of the drawing, as a share of its longer side

  const SilhouetteCounts = {
    props: {
      profile: { type: Object, required: true },
      index: { type: Number, required: true },
      areas: { type: Array, default: () => [] },
      open: Boolean,
    },
    setup(props) {
      const ask = inject("ask");
      const there = ref({ layers: [], colours: [], linetypes: [] });
      const shown = ref(props.open);
      async function look() {
        if (shown.value) there.value = (await ask("contents", props.profile.drawing)) || there.value;
      }
      watch(() => [shown.value, props.profile.drawing], look, { immediate: true });
      const KINDS = [
        ["layer", "Layer", "layers", "all but stock and tabs"],
        ["colour", "Colour", "colours", "any"],
        ["linetype", "Linetype", "linetypes", "any"],
      ];
      const RULES = [
        ["", "united, with a warning", "union"], ["union", "united", "union"],
        ["subtract", "the smaller taken from the larger", "subtract"],
        ["even-odd", "what lies in an odd number of them", "even-odd"],
      ];
      const one = (key) => {
        const value = props.profile[key];
        return value === null ? "" : String(value);
      };
      const several = (key) => Array.isArray(props.profile[key]);
      const area = (rule) => (props.areas.find(([name]) => name === rule) || ["", ""])[1];
      const put = (key, value) => ask("put", ["profile", props.index, key], value || null);
      const named = (key, list) => {
        const value = one(key);
        return value && !there.value[list].includes(value) ? [value, ...there.value[list]] : there.value[list];
      };
      return { KINDS, RULES, area, named, one, put, several, shown };
    },
    template: `
<details class="counts wide" :open="open" @toggle="shown = $event.target.open"><summary>What of the drawing counts</summary>
  <div class="fields">
    <label v-for="[key, words, list, all] in KINDS" class="field"><span>{{ words }}</span>
      <select :value="one(key)" @change="put(key, $event.target.value)"><option value="">{{ all }}</option>
        <option v-for="name in named(key, list)" :value="name" :disabled="several(key) && name === one(key)">{{ name }}</option></select></label>
    <label class="field wide"><span>Outline</span>
      <select :value="one('take')" @change="put('take', $event.target.value)"><option value="">closed loops, one in the other a hole</option><option value="silhouette">the silhouette of everything drawn</option></select></label>
    <label class="field wide"><span>Lines that do not close</span>
      <select :value="one('open')" @change="put('open', $event.target.value)"><option value="">are refused</option><option value="ignore">are left out</option></select></label>
    <label class="field wide"><span>Loops that overlap</span>
      <select :value="one('overlap')" @change="put('overlap', $event.target.value)">
        <option v-for="[value, words, rule] in RULES" :value="value">{{ words }}{{ area(rule) ? ': ' + area(rule) : '' }}</option></select></label>
  </div>
</details>`,
  };

  const SilhouetteRefused = {
    props: {
      refused: { type: Object, required: true },
      profile: { type: Object, required: true },
      index: { type: Number, required: true },
    },
    setup(props) {
      const ask = inject("ask");
      const box = computed(() => {
        const [u, v, w, h] = props.refused.box;
        const edge = EDGE * Math.max(w, h);
        return `${u - edge} ${-v - h - edge} ${w + 2 * edge} ${h + 2 * edge}`;
      });
      const dot = computed(() => Math.max(props.refused.box[2], props.refused.box[3]) / 40);
      const take = ({ key, value }) => ask("put", ["profile", props.index, key], value);
      return { ask, box, dot, take };
    },
    template: `
<article class="card refused chosen">
  <h3>{{ profile.name }} <small>{{ profile.drawing }} · no outline yet</small></h3>
  <svg :viewBox="box" role="img" :aria-label="'The drawing of ' + profile.name + ': ' + refused.marks.length + ' places where it is not clear how lines go on'">
    <g transform="scale(1,-1)" fill-rule="evenodd"><path class="face" :d="refused.region"/><path class="outline" :d="refused.lines"/>
      <g v-for="mark in refused.marks"><circle class="loose" :cx="mark.at[0]" :cy="mark.at[1]" :r="dot"/><title>{{ mark.number }}: {{ mark.words }}</title></g></g>
  </svg>
  <ul class="hint" v-if="refused.counts.length"><li v-for="words in refused.counts">● {{ words }}</li></ul>
  <template v-if="refused.offers.length">
    <p>Take it as</p>
    <div class="offers"><button v-for="offer in refused.offers" type="button" @click="take(offer)">
      <span v-if="offer.key === 'colour'" class="swatch" :style="{background: offer.value}"></span>{{ offer.words }} <b>{{ offer.area }}</b></button></div>
  </template>
  <silhouette-counts :profile="profile" :index="index" open></silhouette-counts>
  <div class="wide"><button type="button" class="quiet" @click="ask('remove_profile', index)">Take this outline out of the job</button></div>
</article>`,
  };

  return {
    install(app) {
      app.component("SilhouetteCounts", SilhouetteCounts);
      app.component("SilhouetteRefused", SilhouetteRefused);
    },
  };
})();
