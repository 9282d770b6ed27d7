// Pure geometry of the page: picture pixels, screen pixels, and looking up in tables that the
// server sent. Angles come from those tables; nothing here knows how they were made.

export const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

/** The remainder that is never negative. */
export const modulo = (value, period) => ((value % period) + period) % period;

/** x moved by whole periods to lie nearest to `near`; unmoved without a period. */
export function nearestCopy(x, near, period) {
  return period ? x + period * Math.round((near - x) / period) : x;
}

/**
 * A frame says which part of the picture the plate shows: picture pixel (x, y) lies at screen
 * pixel ((x - left) * scale, (y - top) * scale). `period` is the width of a full circle or null.
 */
export function toScreen(frame, [x, y]) {
  const near = nearestCopy(x, centreX(frame), frame.period);
  return [(near - frame.left) * frame.scale, (y - frame.top) * frame.scale];
}

export function toPicture(frame, [x, y]) {
  return [x / frame.scale + frame.left, y / frame.scale + frame.top];
}

export const centreX = (frame) => frame.left + frame.width / frame.scale / 2;
export const centreY = (frame) => frame.top + frame.height / frame.scale / 2;

const DEEPEST = 8;

/** The scales between which a plate may zoom: the whole picture, and 8 screen pixels a pixel. */
export function scaleLimits(plate, picture) {
  const [across, down] = [plate.width / picture.width, plate.height / picture.height];
  const whole = picture.period ? Math.max(across, Math.min(across, down)) : Math.min(across, down);
  return [whole, Math.max(DEEPEST, whole)];
}

/** A lawful frame: scale within limits, the picture's edge not inside the plate. */
export function settle(frame, picture) {
  const [low, high] = scaleLimits(frame, picture);
  const scale = clamp(frame.scale, low, high);
  const kept = { ...frame, scale, period: picture.period };
  const across = (picture.width - frame.width / scale) / 2;
  const down = (picture.height - frame.height / scale) / 2;
  kept.top = down < 0 ? down : clamp(frame.top, 0, 2 * down);
  if (picture.period) kept.left = modulo(frame.left, picture.period);
  else kept.left = across < 0 ? across : clamp(frame.left, 0, 2 * across);
  return kept;
}

/** The frame zoomed by a factor, with the screen point kept where it is. */
export function zoomAt(frame, picture, [x, y], factor) {
  const [low, high] = scaleLimits(frame, picture);
  const scale = clamp(frame.scale * factor, low, high);
  const [px, py] = toPicture(frame, [x, y]);
  return settle({ ...frame, scale, left: px - x / scale, top: py - y / scale }, picture);
}

/** The frame moved by screen pixels. */
export function moveBy(frame, picture, dx, dy) {
  return settle({ ...frame, left: frame.left - dx / frame.scale, top: frame.top - dy / frame.scale }, picture);
}

/** The frame with a picture point in the middle, at the same or another scale. */
export function centreOn(frame, picture, [x, y], scale = frame.scale) {
  const [low, high] = scaleLimits(frame, picture);
  const kept = clamp(scale, low, high);
  return settle(
    { ...frame, scale: kept, left: x - frame.width / kept / 2, top: y - frame.height / kept / 2 },
    picture,
  );
}

/** A first frame: as much width as `share` of the picture, its middle at (x, y). */
export function firstFrame(plate, picture, [x, y], share) {
  const cover = Math.max(plate.width / picture.width, plate.height / picture.height);
  const scale = Math.max(cover, plate.width / (picture.width * share));
  return centreOn({ ...plate, left: 0, top: 0, scale, period: picture.period }, picture, [x, y]);
}

// --- tables -------------------------------------------------------------------------------

/**
 * Bilinear value of table[row][column] at fractional places; null next to an unknown. With `turn`
 * the values are angles that start again after it.
 */
function bilinear(table, row, column, turn = null) {
  const rows = table.length;
  const columns = rows ? table[0].length : 0;
  if (!(row >= 0 && column >= 0 && row <= rows - 1 && column <= columns - 1)) return null;
  const r = Math.min(Math.floor(row), rows - 2);
  const c = Math.min(Math.floor(column), columns - 2);
  if (r < 0 || c < 0) return table[Math.max(r, 0)][Math.max(c, 0)];
  const [v, u] = [row - r, column - c];
  const found = [table[r][c], table[r][c + 1], table[r + 1][c], table[r + 1][c + 1]];
  if (found.some((value) => value === null)) return null;
  const corners = found.map((value) => nearestCopy(value, found[0], turn));
  const upper = corners[0] * (1 - u) + corners[1] * u;
  return upper * (1 - v) + (corners[2] * (1 - u) + corners[3] * u) * v;
}

/** What the server's grid says of a picture point: azimuths, elevation, sigmas; null outside. */
export function anglesAt(angles, [x, y], period) {
  const { grid } = angles;
  const inside = period ? modulo(x - grid.x0_px, period) + grid.x0_px : x;
  const column = (inside - grid.x0_px) / grid.dx_px;
  const row = (y - grid.y0_px) / grid.dy_px;
  const azimuth = bilinear(grid.azimuth_deg, row, column, 360);
  const elevation = bilinear(grid.elevation_deg, row, column);
  if (azimuth === null || elevation === null) return null;
  return {
    azimuth: modulo(azimuth, 360),
    magnetic: angles.declination_deg === null ? null : modulo(azimuth - angles.declination_deg, 360),
    elevation,
    azimuthSigma: bilinear(grid.azimuth_sigma_deg, row, column),
    elevationSigma: bilinear(grid.elevation_sigma_deg, row, column),
  };
}

/** The picture point of a direction from the server's inverse table; null outside. */
export function pointAt(angles, azimuth, elevation) {
  const { inverse } = angles;
  if (!inverse) return null;
  const column = modulo(azimuth - inverse.azimuth0_deg, 360) / inverse.step_deg;
  const row = (elevation - inverse.elevation0_deg) / inverse.step_deg;
  const x = bilinear(inverse.x_px, row, column);
  const y = bilinear(inverse.y_px, row, column);
  return x === null || y === null ? null : [x, y];
}

/** Where `value` lies in rising `steps`: the step below it and the share on to the next. */
export function between(steps, value) {
  let index = 0;
  while (index < steps.length - 2 && steps[index + 1] <= value) index += 1;
  if (steps.length < 2) return { index: 0, share: 0 };
  const share = (value - steps[index]) / (steps[index + 1] - steps[index]);
  return { index, share: clamp(share, 0, 1) };
}

export const nearestIndex = (steps, value) =>
  steps.reduce((best, step, i) => (Math.abs(step - value) < Math.abs(steps[best] - value) ? i : best), 0);

/** Between two numbers; the known one where the other is unknown. */
export function mix(a, b, share) {
  if (a === null || a === undefined) return b ?? null;
  if (b === null || b === undefined) return a;
  return a + (b - a) * share;
}

/** The value over rising steps, linear between them. */
export function interpolate(steps, values, at) {
  const { index, share } = between(steps, at);
  return mix(values[index], values[Math.min(index + 1, values.length - 1)], share);
}

// --- shapes -------------------------------------------------------------------------------

export const distance = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by);

/** The point of the segment a-b nearest to p, with its share along the segment. */
function onSegment(p, a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const length = dx * dx + dy * dy;
  const share = length ? clamp(((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length, 0, 1) : 0;
  return [a[0] + share * dx, a[1] + share * dy];
}

/** The nearest point on a line or ring: {point, index of the vertex before it, distance}. */
export function nearestOnLine(line, p, closed) {
  let best = { point: null, index: -1, distance: Infinity };
  const last = closed ? line.length : line.length - 1;
  for (let i = 0; i < last; i += 1) {
    const point = onSegment(p, line[i], line[(i + 1) % line.length]);
    const far = distance(p, point);
    if (far < best.distance) best = { point, index: i, distance: far };
  }
  return best;
}

/** p moved onto the nearest of the lines if one lies within `reach`, else p. */
export function snapTo(lines, p, reach) {
  let best = { point: p, distance: reach };
  for (const line of lines) {
    const near = nearestOnLine(line, p, false);
    if (near.distance < best.distance) best = near;
  }
  return best.point;
}

/** Whether a point lies inside a ring (even-odd). */
export function inRing(ring, [x, y]) {
  let inside = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [[ax, ay], [bx, by]] = [ring[i], ring[j]];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  }
  return inside;
}

/**
 * Fewer points of an open line, none of the dropped ones further than `reach` from what stays
 * (the recursive split at the farthest point, after Ramer 1972 and Douglas and Peucker 1973).
 */
export function simplify(line, reach) {
  if (line.length < 3) return line.slice();
  const kept = new Set([0, line.length - 1]);
  const spans = [[0, line.length - 1]];
  while (spans.length) {
    const [from, to] = spans.pop();
    let far = { index: -1, distance: reach };
    for (let i = from + 1; i < to; i += 1) {
      const away = distance(line[i], onSegment(line[i], line[from], line[to]));
      if (away > far.distance) far = { index: i, distance: away };
    }
    if (far.index >= 0) {
      kept.add(far.index);
      spans.push([from, far.index], [far.index, to]);
    }
  }
  return line.filter((_, i) => kept.has(i));
}

/** `count` points evenly along an open line, its ends among them; its first point where it is 1. */
export function evenly(line, count) {
  const far = [0];
  for (let i = 1; i < line.length; i += 1) far.push(far[i - 1] + distance(line[i - 1], line[i]));
  const step = count > 1 ? far[far.length - 1] / (count - 1) : 0;
  return Array.from({ length: count }, (_, i) => [0, 1].map((axis) => interpolate(far, line.map((point) => point[axis]), i * step)));
}

/** The rectangle of points: [left, top, right, bottom]. */
export function bounds(points) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  }
  return box;
}
