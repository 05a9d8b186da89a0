// Where to go back to: the list, and where on a line each place lies.
import { el, fill } from './dom.js';
import { t } from './text.js';
import { metresFrom } from './geo.js';
import { lengthText } from './units.js';
import { valuesAt } from './profile.js';
import { file } from './panels.js';

/**
 * Where on its line a place lies: {part, s, at, beside}, beside being how many metres
 * the place is from there. A place with no station is taken to the nearest vertex of
 * its line; null for one on no line.
 */
export function onLine(view, place) {
  const line = view.lines.find(l => l.id === place.line);
  let best = null;
  for (const part of line?.parts || []) {
    if (place.part && part.number !== place.part) continue;
    const last = part.vertices.at(-1)?.s ?? -1;
    for (const s of place.s === null ? part.vertices.map(v => v.s) : place.s <= last + 0.01 ? [Math.min(place.s, last)] : []) {
      const { at } = valuesAt(part, s), beside = Math.hypot(...metresFrom(place.at, at));
      if (!best || beside < best.beside) best = { part, s, at, beside };
    }
  }
  return best;
}

// A pin this far from its line, m, is no matter of the fit: the readings were taken
// elsewhere, and that has to be said.
const apart = 0.5;

export function revisit(box, c) {
  const { view } = c;
  if (!view.revisit.length) return fill(box, el('p', {}, t('revisit_none')));
  const list = el('div', { class: 'list' }, view.revisit.map((r, i) => {
    const on = onLine(view, r);
    return el('button', { onclick: () => c.goPlace(i) }, el('b', {}, i + 1), r.reason,
      el('small', {}, [r.line && (r.s === null ? r.line : t('at_station', { line: r.line, s: lengthText(r.s, 1) })), r.advice].filter(Boolean).join('. ')),
      on?.beside > apart && r.s !== null && el('small', {}, t('pin_beside', { d: lengthText(on.beside, 1), line: r.line })));
  }));
  c.markPlace = i => { [...list.children].forEach((b, k) => b.setAttribute('aria-current', k === i)); list.children[i]?.scrollIntoView({ block: 'nearest' }); };
  fill(box, el('p', {}, t('revisit_lead')), el('div', { class: 'links' }, t('for_phone'), file(c, 'revisit.gpx', 'GPX'), file(c, 'revisit.kml', 'KML')), list);
  if (c.place !== null) c.markPlace(c.place);
}
