// The section: a picture under a drawing. It has a state of its own, because to change a property of any element
// makes the library go through all elements of the page, which takes longer than to solve the case.
// The drawing is built of numbers on the server, and of texts that are escaped there.
export default {
  template: `
    <div>
      <div class="picture" :class="{old: shown.old}" :style="{position: 'relative', aspectRatio: width / height}">
        <img :src="shown.source" alt="The container, cut along its axis" draggable="false" style="width: 100%; height: 100%"
          @pointermove="tell" @pointerdown="tell" @pointerup="tell" @pointerleave="tell" />
        <svg :viewBox="'0 0 ' + width + ' ' + height" v-html="shown.drawing"
          style="position: absolute; inset: 0; width: 100%; height: 100%; pointer-events: none"></svg>
      </div>
      <div class="read">{{ shown.read }}</div>
    </div>
  `,
  props: { width: Number, height: Number, shown_first: Object },
  data() {
    return { shown: { ...this.shown_first } };
  },
  methods: {
    show(changes) {
      Object.assign(this.shown, changes);
    },
    tell(event) {
      const { width, height } = event.target.getBoundingClientRect();
      const x = (event.offsetX * this.width) / width, y = (event.offsetY * this.height) / height;
      this.$emit("pointer", { kind: event.type, x, y });
    },
  },
};
