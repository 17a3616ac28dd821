// One card per profile: its outline over the block's face, to be moved by keys, fields and mouse.

window.silhouetteCard = (() => {
  const { computed, inject, nextTick, ref } = window.Vue;
  const EDGE = 0.05; // margin of the drawing, as a share of its longer side

  const number = (event) => {
    const value = event.target.valueAsNumber;
    return Number.isFinite(value) ? value : null;
  };

  const SilhouetteCard = {
    props: {
      card: { type: Object, required: true },
      profile: { type: Object, required: true },
      index: { type: Number, required: true },
      units: { type: String, required: true },
      chosen: Boolean,
    },
    emits: ["choose"],
    setup(props, { emit }) {
      const ask = inject("ask");
      const nudge = inject("nudge");
      const paper = ref(null);
      const held = ref(null);
      const box = computed(() => {
        const [u, v, w, h] = props.card.box;
        const edge = EDGE * Math.max(w, h);
        return `${u - edge} ${-v - h - edge} ${w + 2 * edge} ${h + 2 * edge}`;
      });
      const dot = computed(() => Math.max(props.card.box[2], props.card.box[3]) / 28);

      function onFace(event) {
        const matrix = paper.value.getScreenCTM().inverse();
        const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
        return [x, -y];
      }
      function addTab(event) {
        emit("choose");
        ask("add_tab", props.index, onFace(event));
      }
      // A drag is one edit to undo; while an answer is awaited only the newest place is kept.
      async function drag(event, tab) {
        if (tab.index === null) return;
        event.target.setPointerCapture(event.pointerId);
        event.target.focus();
        const run = `tab ${props.index} ${tab.index} ${Date.now()}`;
        let next = null;
        let waiting = false;
        const send = async () => {
          if (waiting || !next) return;
          waiting = true;
          const at = next;
          next = null;
          await ask("move_tab", props.index, tab.index, at, run);
          waiting = false;
          send();
        };
        const move = (moved) => {
          held.value = { index: tab.index, at: onFace(moved) };
          next = held.value.at;
          send();
        };
        const end = () => {
          held.value = null;
          event.target.removeEventListener("pointermove", move);
        };
        event.target.addEventListener("pointermove", move);
        event.target.addEventListener("lostpointercapture", end, { once: true });
      }
      const ALONG = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
      function keyOnTab(event, tab) {
        const along = ALONG[event.key];
        if (tab.index === null || !(along || ["Delete", "Backspace"].includes(event.key))) return;
        event.preventDefault();
        event.stopPropagation();
        if (along) {
          const at = along.map((x, i) => tab.at[i] + x * (event.shiftKey ? 5 : 1)); // mm
          ask("move_tab", props.index, tab.index, at, `keys on tab ${props.index} ${tab.index}`);
          return;
        }
        ask("remove_tab", props.index, tab.index);
        nextTick(() => paper.value.focus());
      }
      function key(event) {
        if (event.target.closest(".tab")) return;
        if (nudge(event, props.index)) event.stopPropagation();
      }
      const put = (name, value) =>
        ask("put", ["profile", props.index, name], value, `typing ${props.index} ${name}`);
      function shift(which, event) {
        const value = number(event);
        if (value === null) return;
        const to = [...props.profile.shift];
        to[which] = value;
        ask("shift", props.index, to, `typing ${props.index} shift ${which}`);
      }
      const datum = computed(() => (Array.isArray(props.profile.datum) ? "point" : props.profile.datum || ""));
      function setDatum(kind) {
        const value = { "": null, point: [0, 0], centre: "centre", corner: "corner" }[kind];
        ask("put", ["profile", props.index, "datum"], value);
      }
      function setPoint(which, event) {
        const value = number(event);
        if (value === null) return;
        const to = [...props.profile.datum];
        to[which] = value;
        put("datum", to);
      }
      return {
        addTab, ask, box, datum, dot, drag, held, key, keyOnTab, number, paper, put, setDatum, setPoint, shift,
        step: computed(() => (props.units === "in" ? 0.01 : 0.1)),
      };
    },
    template: `
<article class="card" :class="{chosen}" @focusin="$emit('choose')">
  <h3><button type="button" :aria-expanded="chosen" @click="$emit('choose')">
    {{ card.name }} <small>{{ card.drawing }}{{ card.view !== card.name ? ', seen from ' + card.view : '' }} · face {{ card.faceSize }}</small></button></h3>
  <svg ref="paper" :viewBox="box" tabindex="0" role="group" @keydown="key" :class="{stale: !card.known}"
       :aria-label="'Outline ' + card.name + '. Arrow keys move it by 0.1, with Shift by 1, with Alt by 0.01. A click on the outline adds a tab.'">
    <defs><pattern :id="'hatch-' + index" patternUnits="userSpaceOnUse" :width="dot * .6" :height="dot * .6" patternTransform="rotate(45)">
      <rect :width="dot * .6" :height="dot * .6" class="hatch-ground"/><rect :width="dot * .22" :height="dot * .6" class="hatch-line"/></pattern></defs>
    <g transform="scale(1,-1)" fill-rule="evenodd">
      <path class="face" :d="card.face"/>
      <path class="shadow" :d="card.shadow"/>
      <path v-for="lost in card.lost" class="lost" :d="lost.area" :fill="'url(#hatch-' + index + ')'"/>
      <path class="outline" :d="card.outline"/>
      <path class="hit" :d="card.outline" @click="addTab"><title>Add a tab here</title></path>
      <g v-for="(tab, k) in card.tabs" class="tab" :class="{drawn: tab.index === null}"
         :tabindex="tab.index === null ? -1 : 0" role="button" @pointerdown="drag($event, tab)"
         @keydown="keyOnTab($event, tab)"
         :aria-label="'Tab ' + (k + 1) + (tab.index === null ? ', from the drawing' : ', arrow keys move it along the outline, Delete takes it away')">
        <path :d="tab.area"/>
        <circle :cx="held && tab.index !== null && held.index === tab.index ? held.at[0] : tab.at[0]" :cy="held && tab.index !== null && held.index === tab.index ? held.at[1] : tab.at[1]" :r="dot * .8"/>
        <path class="bar-of-tab" :d="'M' + (tab.at[0] - dot * .4) + ' ' + tab.at[1] + 'h' + dot * .8"/>
        <title>{{ tab.index === null ? 'A tab of the drawing' : 'Drag along the outline; Delete takes it away' }}</title>
      </g>
    </g>
  </svg>
  <div v-if="chosen" class="fields">
    <label class="field"><span>Right, {{ units }}</span><input type="number" step="any" :value="profile.shift[0]" @input="shift(0, $event)"></label>
    <label class="field"><span>Up, {{ units }}</span><input type="number" step="any" :value="profile.shift[1]" @input="shift(1, $event)"></label>
    <label class="field"><span>Turn, degrees</span><input type="number" step="any" :value="profile.turn" @input="number($event) !== null && put('turn', number($event))"></label>
    <label class="field check"><input type="checkbox" :checked="profile.mirror" @change="put('mirror', $event.target.checked)"><span>Mirrored</span></label>
    <label class="field wide"><span>On the face's corner lies</span>
      <select :value="datum" @change="setDatum($event.target.value)">
        <option value="">as the drawing says</option><option value="corner">the outline's lower left</option>
        <option value="centre">nothing: centred</option><option value="point">a point of the drawing</option>
      </select></label>
    <template v-if="datum === 'point'">
      <label class="field"><span>Its u, {{ units }}</span><input type="number" step="any" :value="profile.datum[0]" @input="setPoint(0, $event)"></label>
      <label class="field"><span>Its v, {{ units }}</span><input type="number" step="any" :value="profile.datum[1]" @input="setPoint(1, $event)"></label>
    </template>
    <div class="tabs wide">
      <span>{{ profile.tabs.length ? 'Tabs of this job' : 'Tabs: click on the outline, or' }}
        <button type="button" @click="ask('add_tab', index, [card.box[0] + card.box[2] / 2, card.box[1]])">Add a tab</button></span>
      <label v-for="(tab, k) in profile.tabs" class="field row"><span>Tab {{ k + 1 }}, wide</span>
        <input type="number" min="0" step="any" :value="tab.width" @change="ask('widen_tab', index, k, number($event))"> {{ units }}
        <button type="button" @click="ask('remove_tab', index, k)" :aria-label="'Take tab ' + (k + 1) + ' away'">Take away</button></label>
    </div>
    <silhouette-counts :profile="profile" :index="index" :areas="card.areas"></silhouette-counts>
    <p v-for="note in card.notes" class="hint wide">● {{ note }}</p>
    <p class="hint wide">Arrow keys move by 0.1 {{ units }}, with Shift by 1, with Alt by 0.01.</p>
    <div class="wide"><button type="button" class="quiet" @click="ask('remove_profile', index)">Take this outline out of the job</button></div>
  </div>
</article>`,
  };

  return {
    install(app) {
      app.component("SilhouetteCard", SilhouetteCard);
    },
  };
})();
