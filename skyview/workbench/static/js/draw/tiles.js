// The photograph on its canvas: tiles of the level that fits the scale, the overview meanwhile.

import { centreX } from "../geometry.js";

const AT_ONCE = 6;

export class Tiles {
  constructor(canvas, drawn) {
    this.canvas = canvas;
    this.drawn = drawn;
    this.context = canvas.getContext("2d", { alpha: false });
    this.kept = new Map();
    this.wanted = [];
    this.running = 0;
    this.room = matchMedia("(max-width: 640px)").matches ? 90 : 180;
    this.picture = null;
    this.overview = null;
  }

  /** Takes another picture, or the same one when its tiles are ready. */
  show(picture) {
    const same = picture && picture.key === this.picture?.key;
    this.picture = picture;
    if (same) return;
    this.kept.forEach((bitmap) => bitmap?.close?.());
    this.kept.clear();
    this.wanted = [];
    this.overview = null;
    if (picture) this.fetchOverview(picture);
  }

  async fetchOverview(picture) {
    const bitmap = await fetchBitmap(picture.overview);
    if (picture.key !== this.picture?.key) return;
    this.overview = bitmap;
    this.drawn();
  }

  /** Draws the frame; `paper` is the plate's ground where there is no picture. */
  draw(frame, paper) {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const { canvas, context } = this;
    const [width, height] = [Math.round(frame.width * ratio), Math.round(frame.height * ratio)];
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    context.fillStyle = paper;
    context.fillRect(0, 0, width, height);
    if (!this.picture) return;
    const tiles = this.tilesIn(frame, ratio);
    const missing = tiles.filter((tile) => !this.kept.get(tile.key));
    if (missing.length) this.drawOverview(frame, ratio);
    for (const tile of tiles) {
      const bitmap = this.kept.get(tile.key);
      if (bitmap) {
        this.touch(tile.key, bitmap);
        context.drawImage(bitmap, ...tile.box);
      }
    }
    if (this.picture.state === "ready") this.want(missing);
  }

  levelFor(frame, ratio) {
    const { levels } = this.picture;
    const fine = levels.filter((level) => level.scale * frame.scale * ratio <= 1.25);
    return fine.length ? fine.reduce((a, b) => (b.scale > a.scale ? b : a)) : levels[0];
  }

  offsets(frame) {
    const { width_px: width, full_circle: circle } = this.picture;
    if (!circle) return [0];
    const turn = Math.floor(centreX(frame) / width) * width;
    return [turn - width, turn, turn + width];
  }

  /** Tiles that the frame shows: key, address, and their box on the canvas, seamless. */
  tilesIn(frame, ratio) {
    const level = this.levelFor(frame, ratio);
    const side = this.picture.tile_px * level.scale;
    const place = frame.scale * ratio;
    const right = frame.left + frame.width / frame.scale;
    const bottom = frame.top + frame.height / frame.scale;
    const tiles = [];
    for (const offset of this.offsets(frame)) {
      const first = Math.max(0, Math.floor((frame.left - offset) / side));
      const last = Math.min(level.columns - 1, Math.floor((right - offset) / side));
      for (let column = first; column <= last; column += 1) {
        for (let row = Math.max(0, Math.floor(frame.top / side)); row <= Math.min(level.rows - 1, Math.floor(bottom / side)); row += 1) {
          const x0 = Math.round((column * side + offset - frame.left) * place);
          const y0 = Math.round((row * side - frame.top) * place);
          const x1 = Math.round((Math.min((column + 1) * side, this.picture.width_px) + offset - frame.left) * place);
          const y1 = Math.round((Math.min((row + 1) * side, this.picture.height_px) - frame.top) * place);
          const key = `${level.level}/${column}/${row}`;
          tiles.push({ key, box: [x0, y0, x1 - x0, y1 - y0] });
        }
      }
    }
    return tiles;
  }

  drawOverview(frame, ratio) {
    if (!this.overview) return;
    const place = frame.scale * ratio;
    for (const offset of this.offsets(frame)) {
      const x = Math.round((offset - frame.left) * place);
      const y = Math.round(-frame.top * place);
      const width = Math.round(this.picture.width_px * place);
      this.context.drawImage(this.overview, x, y, width, Math.round(this.picture.height_px * place));
    }
  }

  /** The part of the picture round a point, magnified, into another canvas. */
  magnify(context, [x, y], side, scale) {
    const frame = { left: x - side / 2 / scale, top: y - side / 2 / scale, width: side, height: side, scale };
    const ratio = context.canvas.width / side;
    context.fillStyle = "#FCFAF4";
    context.fillRect(0, 0, context.canvas.width, context.canvas.height);
    const own = this.context;
    this.context = context;
    context.imageSmoothingEnabled = scale < 3;
    this.drawOverview(frame, ratio);
    const tiles = this.tilesIn(frame, ratio);
    for (const tile of tiles) {
      const bitmap = this.kept.get(tile.key);
      if (bitmap) context.drawImage(bitmap, ...tile.box);
    }
    this.context = own;
    if (this.picture.state === "ready") this.want([...tiles.filter((tile) => !this.kept.get(tile.key)), ...this.wanted]);
  }

  touch(key, bitmap) {
    this.kept.delete(key);
    this.kept.set(key, bitmap);
  }

  want(tiles) {
    this.wanted = tiles.filter((tile) => !this.kept.has(tile.key));
    while (this.running < AT_ONCE && this.wanted.length) this.fetch(this.wanted.shift());
  }

  async fetch(tile) {
    const { picture } = this;
    this.running += 1;
    this.kept.set(tile.key, null);
    try {
      const bitmap = await fetchBitmap(`/api/pictures/${picture.key}/${tile.key}.jpg`);
      if (picture.key === this.picture?.key && bitmap) this.kept.set(tile.key, bitmap);
      else this.kept.delete(tile.key);
    } finally {
      this.running -= 1;
    }
    for (const [key, old] of this.kept) {
      if (this.kept.size <= this.room) break;
      old?.close();
      this.kept.delete(key);
    }
    this.drawn();
  }
}

async function fetchBitmap(address) {
  try {
    const answer = await fetch(address);
    return answer.ok ? await createImageBitmap(await answer.blob()) : null;
  } catch {
    return null;
  }
}
