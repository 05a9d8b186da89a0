// Widths that can be seen: bands drawn several times as wide as they are, and the
// figure at each line's widest place.
import * as L from './vendor/leaflet.js';
import { metresFrom, placeAt } from './geo.js';
import { fromMetres, unit } from './units.js';

/** How many times as wide the switch draws a width. */
export const times = 10;

/** A half-width in words, as a bound: '±0.14 m', '±1.4 m'. */
export const boundText = half => { const v = fromMetres(half); return `±${v.toFixed(v < 1 ? 2 : 1)} ${unit()}`; };

/** The vertex at which a line's parts are widest; null when no width is known. */
export function widest(line) {
  let worst = null;
  for (const part of line.parts) for (const v of part.vertices) if (v.half !== null && !(worst && worst.v.half >= v.half)) worst = { part, v };
  return worst;
}

/**
 * Rings of [latitude, longitude] that together cover the band of k half-widths to
 * either side of a part: a trapezium a segment, a disc a bend, all turning the same
 * way, so that the nonzero rule fills their union.
 */
export function band(part, origin, k) {
  const vs = part.vertices.filter(v => v.half !== null).map(v => ({ p: metresFrom(origin, v.at), r: k * v.half })), rings = [];
  let before = null;
  for (let i = 1; i < vs.length; i++) {
    const a = vs[i - 1], b = vs[i], dx = b.p[0] - a.p[0], dy = b.p[1] - a.p[1], long = Math.hypot(dx, dy);
    if (!long) continue;
    const n = [-dy / long, dx / long], to = (v, side) => placeAt(origin, [v.p[0] + side * v.r * n[0], v.p[1] + side * v.r * n[1]]);
    rings.push([to(a, 1), to(b, 1), to(b, -1), to(a, -1)]);
    if (before && before[0] * n[0] + before[1] * n[1] < 0.9998) rings.push(disc(a, origin)); // a bend of more than a degree
    before = n;
  }
  return rings;
}

const disc = ({ p, r }, origin) => Array.from({ length: 24 }, (_, i) => placeAt(origin, [p[0] + r * Math.cos(-i * Math.PI / 12), p[1] + r * Math.sin(-i * Math.PI / 12)]));

/** The bands of parts as one layer: [{part, look}] → layer. */
export const wideLayer = (parts, origin) => L.layerGroup(parts.map(p => L.polygon(band(p.part, origin, times).map(ring => [ring]), { stroke: false, fillColor: p.look.colour, fillOpacity: 0.35, fillRule: 'nonzero', interactive: false })));

/**
 * Labels beside places of the map. What finds no room is hidden until there is some:
 * figures come first, the widest before the others, then names.
 */
export class Labels {
  constructor(map, layer, taken) {
    Object.assign(this, { map, layer, taken, all: [] });
    map.on('zoomend resize', () => this.place());
  }

  add(at, text, rank, kind) {
    const marker = L.marker(at, { interactive: false, keyboard: false, icon: L.divIcon({ className: 'tag ' + kind, iconSize: null, html: '' }) }).addTo(this.layer);
    marker.getElement().textContent = text;
    this.all.push({ marker, rank });
  }

  place() {
    if (!this.map.hasLayer(this.layer)) return;
    const put = [], marks = this.taken();
    const hits = (a, list) => list.some(b => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h);
    for (const l of this.all) { l.element = l.marker.getElement(); l.w ||= l.element.offsetWidth; l.h ||= l.element.offsetHeight; }
    for (const l of this.all.sort((a, b) => b.rank - a.rank)) {
      const p = this.map.latLngToContainerPoint(l.marker.getLatLng()), far = 7;
      const boxes = [[far, -l.h - 2], [-l.w - far, -l.h - 2], [far, 2], [-l.w - far, 2], [-l.w / 2, -l.h - 16], [-l.w / 2, 16]].map(([x, y]) => ({ x: p.x + x, y: p.y + y, w: l.w, h: l.h }));
      const box = boxes.find(b => !hits(b, put) && !hits(b, marks)) || boxes.find(b => !hits(b, put));
      l.element.style.visibility = box ? '' : 'hidden';
      if (!box) continue;
      l.element.style.margin = `${box.y - p.y}px 0 0 ${box.x - p.x}px`;
      put.push(box);
    }
  }
}
