// Geometry in pixels of a scan: the centre of the top-left pixel is [0, 0]. On Leaflet's map that
// pixel's corner is (0, 0), y downwards.
/* global L */
export const crs = L.extend({}, L.CRS.Simple, {transformation: new L.Transformation(1, 0, 1, 0)});
export const toMap = ([x, y]) => L.latLng(y + 0.5, x + 0.5);
export const toPx = (place) => [place.lng - 0.5, place.lat - 0.5];
export const tidy = ([x, y]) => [Math.round(x * 10) / 10, Math.round(y * 10) / 10];
export const shift = ([x, y], [dx, dy]) => [x + dx, y + dy];

/** Of a rectangle: along the edges of pixels. */
export const snap = ([x, y]) => [Math.round(x - 0.5) + 0.5, Math.round(y - 0.5) + 0.5];

export function area(polygon) {
  let sum = 0;
  polygon.forEach(([x, y], i) => {
    const [u, v] = polygon[(i + 1) % polygon.length];
    sum += x * v - u * y;
  });
  return Math.abs(sum) / 2;
}

/** Whether most corners of `outline` lie in the polygon or on its border. */
export function covers(polygon, outline) {
  const on = ([x, y]) => polygon.some(([a, b]) => a === x && b === y);
  const within = ([x, y]) => polygon.reduce((inside, [ax, ay], i) => {
    const [bx, by] = polygon[(i + 1) % polygon.length];
    return (ay > y) !== (by > y) && x < ax + (bx - ax) * (y - ay) / (by - ay) ? !inside : inside;
  }, false);
  return 2 * outline.filter((p) => on(p) || within(p)).length >= outline.length;
}

const turn = ([ax, ay], [bx, by], [cx, cy]) => Math.sign((bx - ax) * (cy - ay) - (by - ay) * (cx - ax));

/** Whether two edges that are not neighbours cross. */
export function crosses(polygon) {
  const n = polygon.length;
  for (let i = 0; i < n; ++i) {
    for (let j = i + 2; j < n; ++j) {
      if (i === 0 && j === n - 1) continue;
      const [a, b, c, d] = [polygon[i], polygon[i + 1], polygon[j], polygon[(j + 1) % n]];
      if (turn(a, b, c) !== turn(a, b, d) && turn(c, d, a) !== turn(c, d, b)) return true;
    }
  }
  return false;
}
