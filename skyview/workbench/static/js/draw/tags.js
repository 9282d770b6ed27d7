// Where the stations' tags hang: along the rails at the top of the plate, each at its own pole.
// A search along azimuth keeps the cheapest ways so far; no two tags touch, no tag lies on a
// foreign pole, a mark, or anything solid. A tag keeps its place while the picture moves.

import { touches } from "./svg.js";

const GAP = 5;
const FROM_POLE = 9;
const KNEES = [24, 48, 80, 120];
const WAYS_KEPT = 60;
const COST = { rail: 1, left: 0.4, form: [0, 12, 40], knee: 90, none: 400, kept: -3 };

/** All places that one tag could take, the last being none at all. */
function choices(pin, board, before) {
  const all = [];
  board.rails.forEach((rail, rank) => {
    for (const side of ["right", "left"]) {
      const base = rank * COST.rail + (side === "left" ? COST.left : 0);
      pin.sizes.forEach((size, form) => {
        all.push(choice(pin, rail, side, form, size, 0, base + COST.form[form]));
      });
      for (const knee of KNEES) {
        const form = pin.sizes.length - 1;
        const aside = side === "right" ? knee : -knee;
        all.push(choice(pin, rail, side, form, pin.sizes[form], aside, base + COST.knee + knee / 10));
      }
    }
  });
  const lawful = all.filter(
    (one) =>
      one.box[0] >= board.left &&
      one.box[2] <= board.right &&
      pin.box[1] > one.rail + Math.abs(one.aside) + 4 &&
      !board.solids.some((solid) => touches(one.box, solid, GAP)) &&
      !board.marks.some((other) => touches(one.box, other, 2)) &&
      !(one.aside && board.marks.some((other) => other !== pin.box && touches(one.slant, other, 2))),
  );
  for (const one of lawful) {
    if (before && before.rail === one.rail && before.side === one.side && before.form === one.form && before.aside === one.aside) {
      one.cost += COST.kept;
    }
    one.cost *= pin.weight;
  }
  return [...lawful, { none: true, cost: COST.none * pin.weight }];
}

function choice(pin, rail, side, form, [width, height], aside, cost) {
  const head = pin.x + aside;
  const left = side === "right" ? head + FROM_POLE : head - FROM_POLE - width;
  const slant = [Math.min(pin.x, head), rail, Math.max(pin.x, head), rail + Math.abs(aside)];
  const points = aside ? [[pin.x, pin.box[1]], [pin.x, rail + Math.abs(aside)], [head, rail]] : [[pin.x, pin.box[1]], [pin.x, rail]];
  const upright = [pin.x - 1, rail + Math.abs(aside), pin.x + 1, pin.box[1]];
  return { rail, side, form, aside, cost, slant, points, upright, box: [left, rail, left + width, rail + height] };
}

function clash(a, b) {
  if (a.none || b.none) return false;
  return (
    touches(a.box, b.box, GAP) ||
    touches(a.box, b.upright, GAP) ||
    touches(b.box, a.upright, GAP) ||
    (a.aside && (touches(a.slant, b.box, GAP) || touches(a.slant, b.upright, 2))) ||
    (b.aside && (touches(b.slant, a.box, GAP) || touches(b.slant, a.upright, 2))) ||
    (a.aside && b.aside && touches(a.slant, b.slant, 2))
  );
}

/**
 * The place of each pin's tag, null where none was free. A pin: {id, x, box of its mark, sizes of
 * its tag in each form [[w, h] ...], weight}. A board: {left, right, rails, solids}.
 */
export function placeTags(pins, board, before = new Map()) {
  const order = [...pins].sort((a, b) => a.x - b.x);
  const marked = { ...board, marks: pins.map((pin) => pin.box) };
  let ways = [{ cost: 0, pick: null, back: null }];
  for (const pin of order) {
    const next = [];
    for (const option of choices(pin, marked, before.get(pin.id))) {
      for (const way of ways) {
        if (!meets(way, option)) next.push({ cost: way.cost + option.cost, pick: option, back: way });
      }
    }
    next.sort((a, b) => a.cost - b.cost);
    ways = next.slice(0, WAYS_KEPT);
  }
  const places = new Map();
  let way = ways[0];
  for (const pin of order.toReversed()) {
    places.set(pin.id, way.pick.none ? null : way.pick);
    way = way.back;
  }
  return places;
}

function meets(way, option) {
  for (let earlier = way; earlier.pick; earlier = earlier.back) if (clash(earlier.pick, option)) return true;
  return false;
}
