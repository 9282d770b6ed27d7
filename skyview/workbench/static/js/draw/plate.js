// The plate: canvas, marks upon it, border and pattern beneath, drawn anew once a frame at most.

import { anglesAt, firstFrame, nearestCopy, pointAt, settle, toScreen } from "../geometry.js";
import { antennaOfSpot, on, set, sheet, state } from "../state/store.js";
import { isStroke } from "../state/strokes.js";
import { azimuthX, border, patternRuns, pointer } from "./border.js";
import { crosses, elevations, levelBand, north, northBox, readoutText, skyline } from "./graticule.js";
import { lossAreas, lossLabels } from "./loss.js";
import { marksWithArrows } from "./residuals.js";
import { handles, names, outlines, shapesNow } from "./shapes.js";
import { chip, stations, stationsNow } from "./stations.js";
import { strokeMarks } from "./strokes.js";
import { pathOf, s, text } from "./svg.js";
import { Tiles } from "./tiles.js";

const LAYERS = ["loss", "cross", "level", "ground", "shape", "north", "edge", "zone", "name", "pole", "station", "marked", "draft", "chips"];

/** Whether the plate shows the answer: the stations, and shapes as the antenna sees them. */
const answering = () => state.step === "answer" || state.step === "spots";

export class Plate {
  constructor({ box, canvas, overlay, border: strip, pattern }) {
    Object.assign(this, { box, canvas, overlay, strip, pattern });
    this.tiles = new Tiles(canvas, () => this.soon());
    this.layers = {};
    for (const name of LAYERS) {
      this.layers[name] = s("g", { class: `layer-${name}` });
      overlay.append(this.layers[name]);
    }
    this.targets = [];
    this.chips = [];
    this.drawn = {};
    this.waiting = false;
    this.frames = [];
    new ResizeObserver(() => this.resize()).observe(box);
    on(
      "ready frame picture angles pose heights paths aims revision ground groundShown station height leaf step survey draft picked trial aim pattern loss lossShown tool cursor proposals snapping view strokes",
      () => this.soon(),
    );
    on("picture", () => this.takePicture());
    on("angles", () => state.frame?.first && this.reframe());
  }

  takePicture() {
    this.tiles.show(state.picture);
    const same = state.picture && state.picture.key === this.key;
    this.key = state.picture?.key ?? null;
    if (!same) this.reframe();
  }

  size() {
    return { width: this.box.clientWidth, height: this.box.clientHeight };
  }

  /** The first look: level in the middle, about sixty degrees on a phone. */
  reframe() {
    const picture = sheet();
    const size = this.size();
    if (!picture || !size.width) {
      set({ frame: null });
      return;
    }
    const level = state.angles?.level?.line_px;
    const middle = level?.length ? level[Math.floor(level.length / 2)][1] - 40 / (size.height / picture.height) : picture.height / 2;
    const share = size.width < 640 ? 60 / Math.max(60, this.degreesAcross()) : 1;
    set({ frame: { ...firstFrame(size, picture, [picture.width / 2, middle], share), first: !state.angles } });
  }

  degreesAcross() {
    const grid = state.angles?.grid;
    const row = grid?.azimuth_deg?.[Math.floor(grid.rows / 2)]?.filter((value) => value !== null) ?? [];
    return row.slice(1).reduce((sum, value, i) => sum + Math.abs(nearestCopy(value, row[i], 360) - row[i]), 0) || 120;
  }

  resize() {
    const size = this.size();
    const { frame } = state;
    if (!size.width || !sheet()) return;
    if (!frame) this.reframe();
    else {
      const scale = frame.scale * (size.height / frame.height);
      set({ frame: settle({ ...frame, ...size, scale }, sheet()) });
    }
  }

  soon() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.draw();
    });
  }

  draw() {
    const { frame } = state;
    const begun = performance.now();
    const size = this.size();
    this.tiles.draw(frame ?? { ...size, left: 0, top: 0, scale: 1 }, getComputedStyle(this.box).getPropertyValue("--blank").trim() || "#F4EEE2");
    this.overlay.setAttribute("viewBox", `0 0 ${size.width} ${size.height}`);
    if (!frame) {
      for (const layer of Object.values(this.layers)) layer.replaceChildren();
      this.drawn = {};
      this.targets = [];
      this.chips = [];
      this.drawBlankBorder(size);
      return;
    }
    this.drawMoving(frame);
    this.drawStill(frame);
    this.drawBorder(frame);
    this.frames.push(performance.now() - begun);
    if (this.frames.length > 400) this.frames.shift();
  }

  /** Layers in picture pixels: built when their data change, moved by a transform else. */
  drawMoving(frame) {
    const shapes = shapesNow();
    this.shapes = shapes;
    const lossShown = state.lossShown && answering() && state.loss?.steps;
    const held = this.heldThing();
    const contents = {
      loss: [lossShown ? state.loss : null, () => (lossShown ? lossAreas(state.loss) : [])],
      level: [state.angles, () => (state.angles ? levelBand(state.angles.level) : [])],
      ground: [state.groundShown && state.ground, () => (state.groundShown && state.ground ? skyline(state.ground) : [])],
      shape: [
        [answering() ? state.heights : state.survey, state.paths, state.height, state.step, state.view, held, state.draft, lossShown].map(idOf).join(),
        () => (lossShown || state.step === "photos" ? [] : outlines(shapes, held)),
      ],
    };
    for (const [name, [key, build]] of Object.entries(contents)) {
      if (this.drawn[name] !== key) {
        this.drawn[name] = key;
        const parts = build();
        const copies = frame.period ? [-1, 1].map((turn) => s("g", { transform: `translate(${turn * frame.period} 0)` }, parts.map((part) => part.cloneNode(true)))) : [];
        this.layers[name].replaceChildren(...parts, ...copies);
      }
      this.layers[name].setAttribute("transform", `scale(${frame.scale}) translate(${-frame.left} ${-frame.top})`);
    }
    this.layers.level.setAttribute("visibility", state.step === "photos" && !state.pose?.calibrated ? "hidden" : "visible");
  }

  heldThing() {
    if (answering()) return stationsNow().find((row) => row.station === state.station)?.obstruction ?? null;
    if (state.picked?.list === "outlines") return state.survey.outlines?.find((one) => one.id === state.picked.id)?.obstruction ?? null;
    return state.picked?.list === "obstructions" ? state.picked.id : null;
  }

  drawStill(frame) {
    const { layers } = this;
    const { angles } = state;
    const boxes = [...this.overlayBoxes()];
    const solids = [...boxes, ...northBox(frame, angles)];
    const rows = answering() && state.paths;
    layers.north.replaceChildren(...(angles ? north(frame, angles) : []));
    this.targets = [];
    this.chips = [];
    layers.chips.replaceChildren();
    for (const name of ["zone", "pole", "station"]) layers[name].replaceChildren();
    if (rows) this.drawStations(frame, solids, boxes);
    layers.marked.replaceChildren(...(state.step === "mark" ? marksWithArrows(frame, boxes) : []));
    const lossShown = state.lossShown && state.loss?.steps && rows;
    const edge = angles ? elevations(frame, angles, boxes) : { marks: [], boxes: [] };
    layers.edge.replaceChildren(...edge.marks);
    layers.name.replaceChildren(...(lossShown ? lossLabels(frame, state.loss) : state.step === "photos" ? [] : names(frame, this.shapes, this.heldThing(), [...boxes, ...solids, ...edge.boxes], this.overlayBoxes())));
    layers.cross.replaceChildren(...(angles ? crosses(frame, angles, boxes) : []));
    layers.draft.replaceChildren(...this.draftParts(frame));
  }

  drawStations(frame, solids, boxes) {
    const { layers } = this;
    const rows = stationsNow();
    const outside = { left: [], right: [] };
    for (const row of rows) {
      if (!row.place || row.place.inside === false) outside[row.place?.side ?? "right"].push(row);
      else {
        const [x] = toScreen(frame, [row.place.x_px, 0]);
        if (x < 0) outside.left.push(row);
        else if (x > frame.width) outside.right.push(row);
      }
    }
    for (const side of ["left", "right"]) {
      const made = chip(frame, outside[side].filter((row) => row.bearing_deg !== null), side);
      if (made) {
        this.chips.push(made);
        layers.chips.append(made.group);
      }
    }
    const drawing = stations(frame, rows, [...solids, ...this.chips.map((one) => one.box)]);
    layers.zone.replaceChildren(...drawing.zones);
    layers.pole.replaceChildren(...drawing.poles);
    layers.station.replaceChildren(...drawing.marks);
    boxes.push(...drawing.boxes, ...this.chips.map((one) => one.box));
    this.targets = drawing.targets;
  }

  /** Boxes of the page's own buttons that lie upon the plate. */
  overlayBoxes() {
    const base = this.box.getBoundingClientRect();
    return [...this.box.querySelectorAll(".on-plate")].filter((one) => one.offsetParent).map((one) => {
      const box = one.getBoundingClientRect();
      return [box.left - base.left, box.top - base.top, box.right - base.left, box.bottom - base.top];
    });
  }

  draftParts(frame) {
    const parts = [];
    const { draft } = state;
    for (const line of state.step === "mark" && state.tool !== "look" ? state.proposals?.line_px ?? [] : []) {
      const d = pathOf(line.map((point) => toScreen(frame, point)));
      parts.push(s("path", { d, class: "case proposed" }), s("path", { d, class: "line proposed" }));
    }
    if (isStroke(state.tool)) parts.push(...strokeMarks(frame));
    const proposed = state.picked?.list === "proposals" && state.proposals?.outlines.find((one) => one.id === state.picked.id);
    if (proposed) {
      const d = proposed.rings_px.map((ring) => pathOf(ring.map((point) => toScreen(frame, point)), true)).join("");
      parts.push(s("path", { d, class: "case outline" }), s("path", { d, class: "line outline held" }));
    }
    if (draft?.rings && draft.outline) parts.push(...handles(frame, draft.rings, draft.corner));
    else if (draft?.points?.length) {
      const points = draft.points.map((point) => toScreen(frame, point));
      const d = pathOf(points);
      parts.push(s("path", { d, class: "case outline" }), s("path", { d, class: "line outline held" }));
      if (!draft.free) parts.push(...points.map(([x, y]) => s("rect", { x: x - 5, y: y - 5, width: 10, height: 10, class: "handle" })));
    }
    if (state.cursor && state.step === "mark" && state.tool !== "look") {
      const [x, y] = toScreen(frame, state.cursor);
      const d = `M${x - 22} ${y}h16M${x + 6} ${y}h16M${x} ${y - 22}v16M${x} ${y + 6}v16`;
      parts.push(s("path", { d, class: "case cursor" }), s("path", { d, class: "line cursor" }));
    }
    return parts;
  }

  drawBlankBorder(size) {
    this.strip.setAttribute("viewBox", `0 0 ${size.width} ${this.strip.clientHeight}`);
    this.strip.replaceChildren(s("rect", { x: -1, y: 3, width: size.width + 2, height: 7, class: "scale" }), text(6, 24, "no bearings yet", { class: "small" }));
    this.pattern.replaceChildren();
    this.pattern.classList.add("empty");
  }

  drawBorder(frame) {
    const { angles } = state;
    if (!angles) {
      this.drawBlankBorder(frame);
      return;
    }
    const high = this.strip.clientHeight;
    this.strip.setAttribute("viewBox", `0 0 ${frame.width} ${high}`);
    const aim = this.aim();
    const aimed = state.step === "answer" && aim !== null;
    const x = aimed ? azimuthX(frame, angles, aim) : null;
    const parts = border(frame, angles, { fine: high > 40, aim: x });
    if (x !== null) {
      parts.push(...pointer(x, high));
      parts.push(text(x, 24, high > 40 ? "" : `aim ${Math.round(aim) % 360}°`, { class: "aim halo", "text-anchor": "middle" }));
    }
    this.strip.replaceChildren(...parts);
    this.drawPattern(frame, angles, aim, x, aimed);
  }

  drawPattern(frame, angles, aim, x, aimed) {
    this.pattern.classList.toggle("empty", !aimed);
    const high = this.pattern.clientHeight;
    if (!aimed || !high || !state.pattern?.bands?.length) {
      this.pattern.replaceChildren();
      return;
    }
    this.pattern.setAttribute("viewBox", `0 0 ${frame.width} ${high}`);
    const parts = patternRuns(frame, angles, state.pattern, this.band(), aim, 4, high - 2);
    if (x !== null) {
      const magnetic = angles.declination_deg === null ? "" : `, ${Math.round((((aim - angles.declination_deg) % 360) + 360) % 360)}° magnetic`;
      const right = x < frame.width - 220;
      parts.push(s("path", { d: `M${x} 0V${high}`, class: "pencil-line" }));
      parts.push(text(right ? x + 10 : x - 10, high - 8, `aim ${Math.round(aim) % 360}° true${magnetic}`, { class: "aim halo", "text-anchor": right ? "start" : "end" }));
    }
    this.pattern.replaceChildren(...parts);
  }

  aim() {
    return state.aim ?? antennaOfSpot()?.aim_true_deg ?? null;
  }

  /** The antenna's band for the chosen station, else its widest. */
  band() {
    const row = state.paths?.rows?.find((one) => one.station === state.station);
    const name = row && (row.frequency_mhz < 108 ? "low_vhf" : row.frequency_mhz < 300 ? "high_vhf" : "uhf");
    return state.pattern.bands.find((band) => band.band === name) ?? state.pattern.bands[state.pattern.bands.length - 1];
  }

  readout(point) {
    const at = state.angles && anglesAt(state.angles, point, sheet()?.period);
    return at ? readoutText(at) : null;
  }

  bring(azimuth, elevation = 0) {
    return state.angles && pointAt(state.angles, azimuth, elevation);
  }
}

const ids = new WeakMap();
let nextId = 0;

function idOf(value) {
  if (value === null || typeof value !== "object") return String(value);
  if (!ids.has(value)) ids.set(value, (nextId += 1));
  return `#${ids.get(value)}`;
}
