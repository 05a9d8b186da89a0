// What lies under the map: the office's base map, when it has set one, and a grid
// of lengths or of degrees with its figures at the edges.
import * as L from './vendor/leaflet.js';
import { el } from './dom.js';
import { t } from './text.js';
import { get } from './api.js';
import { prefs } from './reader.js';
import { roundLength, roundText } from './units.js';
import { metresFrom, placeAt } from './geo.js';

const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

/** Lays the base map; gives its layer and credit, or null where there is none. */
export async function layBase(map) {
  const b = await get('/basemap');
  if (b.kind === 'none') return null;
  if (!map.getPane('base')) map.createPane('base').style.zIndex = 150; // under the grid
  const plain = { pane: 'base', className: 'base', maxZoom: 27, minZoom: b.min_zoom, maxNativeZoom: b.max_zoom, attribution: '', referrerPolicy: 'origin', crossOrigin: false };
  if (b.bounds) plain.bounds = [[b.bounds[1], b.bounds[0]], [b.bounds[3], b.bounds[2]]];
  const layer = b.kind === 'wms' ? L.tileLayer.wms(b.url, { ...plain, layers: b.layers, format: 'image/png', transparent: true, version: '1.3.0' }) : L.tileLayer(b.url.replace(/^\//, ''), plain); // our own tiles lie below the page's address
  const words = [b.credit && t('base_from', { credit: b.credit }), b.kind !== 'file' && t('base_asks', { host: new URL(b.url.replace(/[{}]/g, '')).host })].filter(Boolean).join(' ');
  const credit = el('div', { class: 'credit' }, words);
  const show = on => { if (on) { layer.addTo(map); map.getContainer().append(credit); } else { layer.remove(); credit.remove(); } };
  show(prefs().base === 'on');
  return { show, on: prefs().base === 'on' };
}

/** A grid over an origin [latitude, longitude], by lengths or by degrees. */
export const Grid = L.Layer.extend({
  initialize(origin) { this.origin = origin; },
  onAdd(map) {
    this.canvas = L.DomUtil.create('canvas', 'leaflet-layer');
    this.canvas.setAttribute('aria-hidden', 'true');
    map.getPane('tilePane').appendChild(this.canvas);
    map.on('moveend zoomend resize', this.draw, this);
    this.draw();
  },
  onRemove(map) { this.canvas.remove(); map.off('moveend zoomend resize', this.draw, this); },
  draw() {
    const map = this._map, size = map.getSize(), pad = size.multiplyBy(0.5).round(), ratio = devicePixelRatio || 1;
    const corner = map.containerPointToLayerPoint(pad.multiplyBy(-1)), w = size.x + 2 * pad.x, h = size.y + 2 * pad.y;
    L.DomUtil.setPosition(this.canvas, corner);
    Object.assign(this.canvas, { width: w * ratio, height: h * ratio });
    Object.assign(this.canvas.style, { width: w + 'px', height: h + 'px' });
    const c = this.canvas.getContext('2d'), sort = prefs().grid;
    if (sort === 'none') return;
    c.scale(ratio, ratio);
    c.strokeStyle = css('--grid');
    c.fillStyle = css('--soft');
    c.font = '11px ' + css('--font');
    c.lineWidth = 1;
    const nw = map.layerPointToLatLng(corner), se = map.layerPointToLatLng(corner.add([w, h]));
    const at = (lat, lon) => map.latLngToLayerPoint([lat, lon]).subtract(corner);
    // Where the seen part begins on the canvas: there the figures stand.
    const left = y => pad.x + (y < pad.y + 120 ? 62 : 4), low = pad.y + size.y - 52; // beside the zoom, over the key
    const lines = sort === 'degrees' ? degreeLines(nw, se) : lengthLines(this.origin, nw, se);
    for (const l of lines) {
      const a = at(...l.from), b = at(...l.to), k = l.up ? (low - a.y) / (b.y - a.y) : (left(a.y) - a.x) / (b.x - a.x);
      c.beginPath();
      c.moveTo(a.x, a.y);
      c.lineTo(b.x, b.y);
      c.stroke();
      const x = a.x + k * (b.x - a.x), y = a.y + k * (b.y - a.y);
      if (l.up) c.fillText(l.words, x + 3, low);
      else if (y < low - 16) c.fillText(l.words, left(a.y), y - 3);
    }
  },
});

/** Lines of equal easting and northing from the origin, with their figures. */
function lengthLines(origin, nw, se) {
  const [w0, n1] = metresFrom(origin, [nw.lat, nw.lng]), [e1, s0] = metresFrom(origin, [se.lat, se.lng]), every = roundLength((e1 - w0) / 14);
  if (!(every > 0) || e1 - w0 > 2e6) return [];
  const out = [], words = (v, plus, minus) => v === 0 ? '0' : `${roundText(Math.abs(v))} ${v > 0 ? plus : minus}`;
  for (let i = Math.ceil(w0 / every); i * every <= e1; i++) out.push({ up: true, from: placeAt(origin, [i * every, n1]), to: placeAt(origin, [i * every, s0]), words: words(i * every, t('east'), t('west')) });
  for (let i = Math.ceil(s0 / every); i * every <= n1; i++) out.push({ up: false, from: placeAt(origin, [w0, i * every]), to: placeAt(origin, [e1, i * every]), words: words(i * every, t('north'), t('south')) });
  return out;
}

/** Meridians and parallels, at round parts of a degree. */
function degreeLines(nw, se) {
  const steps = [1e-6, 2e-6, 5e-6, 1e-5, 2e-5, 5e-5, 1e-4, 2e-4, 5e-4, 1e-3, 2e-3, 5e-3, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 30];
  const every = steps.find(s => s >= (se.lng - nw.lng) / 12) || 30, digits = Math.max(0, -Math.floor(Math.log10(every) + 1e-9)), out = [];
  const words = (v, plus, minus) => `${Math.abs(v).toFixed(digits)}° ${v < 0 ? minus : plus}`;
  for (let i = Math.ceil(nw.lng / every); i * every <= se.lng; i++) out.push({ up: true, from: [nw.lat, i * every], to: [se.lat, i * every], words: words(i * every, t('east'), t('west')) });
  for (let i = Math.ceil(se.lat / every); i * every <= nw.lat; i++) out.push({ up: false, from: [i * every, nw.lng], to: [i * every, se.lng], words: words(i * every, t('north'), t('south')) });
  return out;
}
