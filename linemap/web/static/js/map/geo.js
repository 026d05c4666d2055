// Degrees to world pixels of zoom 0 (web Mercator, 256 px), and short ground offsets on GRS 80.

const RAD = Math.PI / 180;
const SEMI_MAJOR_M = 6378137;
const E2 = 0.00669438002290; // GRS 80 first eccentricity squared

const worldX = (lon) => (lon + 180) * (256 / 360);
const worldY = (lat) => 128 - (128 / Math.PI) * Math.asinh(Math.tan(lat * RAD));
const lonOf = (x) => x * (360 / 256) - 180;
const latOf = (y) => Math.atan(Math.sinh((128 - y) * (Math.PI / 128))) / RAD;

/** World pixels of zoom 0 per metre on the ground: eastward and northward (up the map is minus y). */
function worldPerMetre(lat) {
  const sin = Math.sin(lat * RAD);
  const cos = Math.cos(lat * RAD);
  const w2 = 1 - E2 * sin * sin;
  const across = SEMI_MAJOR_M / Math.sqrt(w2); // prime vertical radius
  const along = (SEMI_MAJOR_M * (1 - E2)) / (w2 * Math.sqrt(w2)); // meridian radius
  return { east: 128 / Math.PI / (across * cos), north: 128 / Math.PI / (along * cos) };
}

/** Undo delta coding of scaled integers: [10, 2, -1] at scale 10 -> [1, 1.2, 1.1]. */
function decodeDeltas(deltas, scale) {
  const out = new Float64Array(deltas.length);
  let sum = 0;
  for (let i = 0; i < deltas.length; i += 1) {
    sum += deltas[i];
    out[i] = sum / scale;
  }
  return out;
}

/** Ground metres and azimuth between two near points in degrees. */
function groundBetween(lon1, lat1, lon2, lat2) {
  const scale = worldPerMetre((lat1 + lat2) / 2);
  const east = (worldX(lon2) - worldX(lon1)) / scale.east;
  const north = (worldY(lat1) - worldY(lat2)) / scale.north;
  return { metres: Math.hypot(east, north), azimuth: (Math.atan2(east, north) / RAD + 360) % 360 };
}

export { worldX, worldY, lonOf, latOf, worldPerMetre, decodeDeltas, groundBetween };
