// The cuts as small pictures, a control that moves the bodies apart, and playing through them.

window.silhouetteStrip = (() => {
  const { onBeforeUnmount, ref } = window.Vue;
  const PACE = 1400; // milliseconds for which each stage is shown

  const SilhouetteStrip = {
    props: {
      steps: { type: Array, required: true },
      stage: { default: null },
      apart: { type: Number, required: true },
    },
    emits: ["step", "apart"],
    setup(props, { emit }) {
      const playing = ref(0);
      function stop() {
        clearInterval(playing.value);
        playing.value = 0;
      }
      function play() {
        if (playing.value) return stop();
        let next = 0;
        const show = () => {
          if (next >= props.steps.length) return stop();
          emit("step", next);
          next += 1;
        };
        playing.value = setInterval(show, PACE);
        show();
      }
      function choose(k) {
        stop();
        emit("step", k);
      }
      onBeforeUnmount(stop);
      const shown = (k) => (props.stage === null ? k === props.steps.length - 1 : k === props.stage);
      return { choose, play, playing, shown };
    },
    template: `
<section class="strip" aria-label="Cut by cut">
  <div class="hand">
    <button type="button" :disabled="!steps.length" :aria-pressed="Boolean(playing)" @click="play">{{ playing ? 'Stop' : 'Play' }}</button>
    <label class="field"><span>Move apart</span><input type="range" min="0" max="1" step="0.01" :value="apart" @input="$emit('apart', Number($event.target.value))"></label>
  </div>
  <ol>
    <li v-for="(step, k) in steps"><button type="button" :aria-pressed="shown(k)" @click="choose(k)" :title="step.words">
      <img v-if="step.picture" :src="step.picture" alt=""><span v-else class="no-picture" aria-hidden="true">{{ k }}</span>
      <b>{{ step.title }}</b><small>{{ step.words }}</small></button></li>
    <li v-if="!steps.length" class="none">The cuts come as soon as they are worked out.</li>
  </ol>
</section>`,
  };

  return {
    install(app) {
      app.component("SilhouetteStrip", SilhouetteStrip);
    },
  };
})();
