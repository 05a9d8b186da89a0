// Metres east and north of an origin on the ellipsoid of WGS 84, there and back.

const A = 6378137, E2 = 0.00669437999014, RAD = Math.PI / 180;
const normal = lat => A / Math.sqrt(1 - E2 * Math.sin(lat) ** 2);
const meridian = lat => A * (1 - E2) / (1 - E2 * Math.sin(lat) ** 2) ** 1.5;

/** [latitude, longitude] → [east, north]; right to millimetres within a few km. */
export function metresFrom([lat0, lon0], [lat, lon]) {
  const f = lat * RAD, e = (lon - lon0) * RAD * normal(f) * Math.cos(f);
  return [e, (lat - lat0) * RAD * meridian((lat + lat0) / 2 * RAD) + e * e * Math.tan(f) / 2 / normal(f)];
}

/** [east, north] → [latitude, longitude]: metresFrom turned round, step by step. */
export function placeAt([lat0, lon0], [e, n]) {
  let lat = lat0 + n / meridian(lat0 * RAD) / RAD;
  for (let i = 0; i < 3; i++) lat = lat0 + (n - e * e * Math.tan(lat * RAD) / 2 / normal(lat * RAD)) / meridian((lat + lat0) / 2 * RAD) / RAD;
  return [lat, lon0 + e / (normal(lat * RAD) * Math.cos(lat * RAD)) / RAD];
}
