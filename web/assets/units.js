// Lengths as the reader wants them: metres, or feet of exactly 0.3048 m (the
// international foot). The server keeps and sends metres.
import { prefs } from './reader.js';

const FOOT = 0.3048;

export const imperial = () => prefs().units === 'imperial';

/** The unit of lengths on the page. */
export const unit = () => imperial() ? 'ft' : 'm';

/** Metres into the reader's unit; null stays null. */
export const fromMetres = m => m === null || m === undefined ? m : imperial() ? m / FOOT : m;

/** The reader's unit into metres. */
export const toMetres = v => v === null || v === undefined ? v : imperial() ? v * FOOT : v;

/** A length in words: '1.23 m' or '4.04 ft'. */
export const lengthText = (m, digits = 2) => `${fromMetres(m).toFixed(digits)} ${unit()}`;

/** A round length for scale bars and grids, a little above the given metres; in metres. */
export function roundLength(m) {
  const v = fromMetres(m), p = 10 ** Math.floor(Math.log10(v));
  return toMetres([1, 2, 5, 10].map(k => k * p).find(k => k >= v * (1 - 1e-12)));
}

/** A round length in words, in the unit that fits its size. */
export function roundText(m) {
  const v = fromMetres(m), n = x => String(+x.toPrecision(6));
  if (imperial()) return v >= 5280 ? `${n(v / 5280)} mi` : v >= 1 ? `${n(v)} ft` : `${n(v * 12)} in`;
  return v >= 1000 ? `${n(v / 1000)} km` : v >= 1 ? `${n(v)} m` : `${n(v * 100)} cm`;
}
