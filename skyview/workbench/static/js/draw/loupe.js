// The loupe: what lies under the thumb, four times as large, at the plate's other side.

const SIDE = 132;
const LARGER = 4;

export class Loupe {
  constructor(box, canvas, tiles) {
    Object.assign(this, { box, canvas, tiles });
    this.context = canvas.getContext("2d");
    this.hide();
  }

  /** Shows the surroundings of a picture point that lies at a screen point. */
  show(frame, point, [x]) {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    this.canvas.width = SIDE * ratio;
    this.canvas.height = SIDE * ratio;
    this.box.hidden = false;
    this.box.classList.toggle("left", x > frame.width / 2);
    this.tiles.magnify(this.context, point, SIDE, Math.max(frame.scale * LARGER, 0.8));
    this.cross(ratio);
  }

  cross(ratio) {
    const { context } = this;
    const middle = (SIDE * ratio) / 2;
    for (const [colour, width] of [["#FCFAF4", 5], ["#B0361B", 1.6]]) {
      context.strokeStyle = colour;
      context.lineWidth = width * ratio;
      context.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        context.moveTo(middle + dx * 5 * ratio, middle + dy * 5 * ratio);
        context.lineTo(middle + dx * 26 * ratio, middle + dy * 26 * ratio);
      }
      context.stroke();
    }
  }

  hide() {
    this.box.hidden = true;
  }
}
