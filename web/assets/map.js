// The map: corridors true to scale, lines, readings, places to revisit, a metric
// grid and a scale bar. It needs no base map and asks nobody for one.
import * as L from './vendor/leaflet.js';
import { t } from './text.js';

// Leaflet rounds to whole pixels, which shows as steps at centimetres.
L.Map.include({ latLngToLayerPoint(at) { return this.project(L.latLng(at))._subtract(this.getPixelOrigin()); } });

const A = 6378137, E2 = 0.00669437999014, RAD = Math.PI / 180; // WGS 84
const normal = lat => A / Math.sqrt(1 - E2 * Math.sin(lat) ** 2);
const meridian = lat => A * (1 - E2) / (1 - E2 * Math.sin(lat) ** 2) ** 1.5;

/** Metres east and north of an origin; right to millimetres within a few km. */
export function metresFrom([lat0, lon0], [lat, lon]) {
  const f = lat * RAD, e = (lon - lon0) * RAD * normal(f) * Math.cos(f);
  return [e, (lat - lat0) * RAD * meridian((lat + lat0) / 2 * RAD) + e * e * Math.tan(f) / 2 / normal(f)];
}

const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// Classes that can colour a line: each has a colour that holds for colour-blind
// eyes (Okabe and Ito, 2008) and a dash of its own.
const strong = { colour: '#0072b2', dash: null }, fair = { colour: '#009e73', dash: '14 5' }, weak = { colour: '#e69f00', dash: '7 6' }, bad = { colour: '#d55e00', dash: '2 7' };
const step = (v, limits, looks, names) => { const i = limits.findIndex(l => v <= l); return { ...looks[i < 0 ? limits.length : i], name: t(names[i < 0 ? limits.length : i]) }; };
export const schemes = {
  fix: v => ({ ...(v.fix === 'rtk_fixed' ? strong : v.fix === 'rtk_float' ? fair : v.fix === 'differential' || v.fix === 'pps' ? weak : bad), name: t('fix')[v.fix] || v.fix }),
  width: v => step(v.half, [0.25, 0.5, 1], [strong, fair, weak, bad], ['narrow', 'middle', 'wide', 'useless']),
  depth: v => v.depth === null ? { colour: '#777', dash: '1 6', name: t('no_depth') } : step(v.depth, [0.5, 1, 2], [bad, weak, fair, strong], ['shallow', 'usual', 'deep', 'deepest']),
  flags: v => v.flags?.length ? { ...bad, name: t('remarked') } : { ...strong, name: t('clear') },
};

const Grid = L.Layer.extend({
  initialize(origin) { this.origin = origin; },
  onAdd(map) {
    this.canvas = L.DomUtil.create('canvas', 'leaflet-layer');
    map.getPane('tilePane').appendChild(this.canvas);
    map.on('moveend zoomend resize', this.draw, this);
    this.draw();
  },
  onRemove(map) { this.canvas.remove(); map.off('moveend zoomend resize', this.draw, this); },
  draw() {
    const map = this._map, size = map.getSize(), pad = size.multiplyBy(0.5).round(), ratio = devicePixelRatio || 1;
    const corner = map.containerPointToLayerPoint(pad.multiplyBy(-1));
    L.DomUtil.setPosition(this.canvas, corner);
    const w = size.x + 2 * pad.x, h = size.y + 2 * pad.y;
    Object.assign(this.canvas, { width: w * ratio, height: h * ratio });
    Object.assign(this.canvas.style, { width: w + 'px', height: h + 'px' });
    const c = this.canvas.getContext('2d');
    c.scale(ratio, ratio);
    const [lat0, lon0] = this.origin;
    const nw = map.layerPointToLatLng(corner), se = map.layerPointToLatLng(corner.add([w, h]));
    const [w0, n1] = metresFrom(this.origin, [nw.lat, nw.lng]), [e1, s0] = metresFrom(this.origin, [se.lat, se.lng]);
    const every = nice((e1 - w0) / 14);
    if (!(every > 0) || (e1 - w0) > 2e6) return;
    const at = (lat, lon) => map.latLngToLayerPoint([lat, lon]).subtract(corner);
    c.strokeStyle = css('--grid');
    c.lineWidth = 1;
    const east = (e, lat) => lon0 + e / (normal(lat * RAD) * Math.cos(lat * RAD)) / RAD;
    const north = (n, e) => { let lat = lat0 + n / meridian(lat0 * RAD) / RAD; for (let i = 0; i < 3; i++) lat = lat0 + (n - e * e * Math.tan(lat * RAD) / 2 / normal(lat * RAD)) / meridian((lat + lat0) / 2 * RAD) / RAD; return lat; };
    for (let e = Math.ceil(w0 / every) * every; e <= e1; e += every) stroke(c, at(nw.lat, east(e, nw.lat)), at(se.lat, east(e, se.lat)));
    for (let n = Math.ceil(s0 / every) * every; n <= n1; n += every) stroke(c, at(north(n, w0), nw.lng), at(north(n, e1), se.lng));
  },
});

function stroke(c, a, b) { c.beginPath(); c.moveTo(a.x, a.y); c.lineTo(b.x, b.y); c.stroke(); }

function nice(v) { const p = 10 ** Math.floor(Math.log10(v)); return [1, 2, 5, 10].map(k => k * p).find(k => k >= v); }

const lengthText = m => m >= 1000 ? m / 1000 + ' km' : m >= 1 ? m + ' m' : Math.round(m * 100) + ' cm';

/**
 * Draws a view. pick(part, station) is called when somebody points at a line,
 * look(reading) when at a reading, place(number) when at a place to revisit; while
 * choosing() holds, toggle(reading, all between) is called instead.
 */
export function drawMap(box, view, { pick, look, choosing, toggle, place }) {
  const map = L.map(box, { preferCanvas: true, zoomAnimation: false, fadeAnimation: false, attributionControl: false, maxZoom: 27, minZoom: 3, zoomSnap: 0.25, zoomDelta: 1, wheelPxPerZoomLevel: 90, renderer: L.canvas({ padding: 0.4, tolerance: 6 }) });
  const parts = view.lines.flatMap(line => line.parts.map(part => ({ line, part, look: view.looks[line.utility] })));
  const readings = view.readings.filter(r => r.at);
  const bounds = L.latLngBounds([...parts.flatMap(p => p.part.vertices.map(v => v.at)), ...readings.map(r => r.at)]);
  const fit = () => map.fitBounds(bounds, { paddingTopLeft: [30, 84], paddingBottomRight: [30, 56], maxZoom: 24, animate: false });
  fit();
  new Grid(view.origin).addTo(map);
  map.createPane('under').style.zIndex = 350; // below the lines and their clicks
  const beneath = { pane: 'under', renderer: L.canvas({ pane: 'under', padding: 0.4 }), color: css('--soft'), interactive: false };
  const layers = { under: L.layerGroup().addTo(map), corridors: L.layerGroup().addTo(map), lines: L.layerGroup().addTo(map), dots: L.layerGroup().addTo(map), pins: L.layerGroup().addTo(map) };
  for (const p of parts) for (const polygon of p.part.corridor) L.polygon(polygon, { color: p.look.colour, weight: 1, fillOpacity: 0.3, interactive: false }).addTo(layers.corridors);
  for (const p of parts) {
    const vs = p.part.vertices, mid = vs[Math.floor(vs.length / 2)];
    L.marker(mid.at, { interactive: false, keyboard: false, icon: L.divIcon({ className: 'tag', iconSize: null, html: '' }) }).addTo(layers.corridors)
      .getElement().textContent = `${p.look.letters} ${p.part.name}`;
  }
  const pins = view.revisit.map((r, i) => {
    const pin = L.marker(r.at, { icon: L.divIcon({ className: 'pin', iconSize: [26, 26] }), title: `${i + 1}: ${r.reason}`, alt: `${i + 1}: ${r.reason}` }).on('click', () => place(i)).addTo(layers.pins);
    pin.getElement().textContent = i + 1;
    return pin;
  });

  function colour(by) {
    layers.lines.clearLayers();
    const key = new Map();
    for (const p of parts) {
      const vs = p.part.vertices;
      L.polyline(vs.map(v => v.at), { color: css('--ink'), weight: 5.5, opacity: 0.75, interactive: false }).addTo(layers.lines);
      if (by === 'utility') {
        L.polyline(vs.map(v => v.at), { color: p.look.colour, weight: 3.2, dashArray: p.look.dash?.map(d => d * 3).join(' '), interactive: false }).addTo(layers.lines);
        key.set(p.look.name, { name: `${p.look.letters} ${p.look.name}`, colour: p.look.colour, dash: p.look.dash && 'dashed' });
        continue;
      }
      for (let i = 1, from = 0; i < vs.length; i++) {
        const look = schemes[by](vs[i]), next = vs[i + 1] && schemes[by](vs[i + 1]);
        if (next && next.name === look.name) continue;
        L.polyline(vs.slice(from, i + 1).map(v => v.at), { color: look.colour, weight: 4, dashArray: look.dash, interactive: false }).addTo(layers.lines);
        key.set(look.name, look);
        from = i;
      }
    }
    cursor.bringToFront();
    return [...key.values()];
  }

  const marks = new Map();
  const dotLook = (r, chosen) => {
    const plain = r.used && !r.feature, hand = r.flags?.includes('set_aside_by_hand');
    if (chosen) return { radius: 7, color: css('--ink'), weight: 2, fillColor: css('--mark'), fillOpacity: 1, dashArray: null };
    return { radius: r.feature ? 6 : hand ? 5 : 3.5, color: plain || r.feature ? css('--ink') : css('--mark'), weight: plain ? 1.2 : 2, fillColor: css('--paper'), fillOpacity: plain ? 0.9 : 0.5, dashArray: plain || r.feature ? null : hand ? '1 3' : '2 2' };
  };
  for (const r of readings) {
    marks.set(r, L.circleMarker(r.at, dotLook(r, false)).on('click', e => { L.DomEvent.stopPropagation(e); if (choosing()) toggle(r, e.originalEvent.shiftKey); else look(r); }).addTo(layers.dots));
  }
  let lit = new Set();
  const cursor = L.circleMarker([0, 0], { radius: 9, color: css('--mark'), weight: 3, fillOpacity: 0, interactive: false });

  // Pointing at a line: the nearest one within a finger's width.
  let pending = false;
  function point(e, far) {
    let best = { d: far };
    const at = map.latLngToLayerPoint(e.latlng);
    for (const p of parts) {
      const vs = p.part.vertices;
      for (let i = 1; i < vs.length; i++) {
        const a = map.latLngToLayerPoint(vs[i - 1].at), b = map.latLngToLayerPoint(vs[i].at), dx = b.x - a.x, dy = b.y - a.y;
        const k = Math.max(0, Math.min(1, ((at.x - a.x) * dx + (at.y - a.y) * dy) / (dx * dx + dy * dy || 1)));
        const d = Math.hypot(at.x - a.x - k * dx, at.y - a.y - k * dy);
        if (d < best.d) best = { d, p, s: vs[i - 1].s + k * (vs[i].s - vs[i - 1].s) };
      }
    }
    if (best.p) pick(best.p.part, best.s);
  }
  map.on('mousemove', e => { if (pending || e.originalEvent.buttons || choosing()) return; pending = true; requestAnimationFrame(() => { pending = false; point(e, 14); }); });
  map.on('click', e => { if (!choosing()) point(e, 30); });

  const far = () => box.classList.toggle('far', map.getZoom() < 20.25);
  map.on('zoomend', far);
  far();
  const resize = new ResizeObserver(() => map.invalidateSize({ animate: false, pan: true }));
  resize.observe(box);

  return {
    map, fit, colour,
    /** Shows which readings are chosen. */
    chosen(set) {
      for (const r of lit) if (!set.has(r)) marks.get(r)?.setStyle(dotLook(r, false)).setRadius(dotLook(r, false).radius);
      for (const r of set) if (!lit.has(r)) marks.get(r)?.setStyle(dotLook(r, true)).setRadius(7).bringToFront();
      lit = new Set(set);
    },
    /** Lays the lines of another view grey under this one; nothing for null. */
    under(old) {
      layers.under.clearLayers();
      for (const line of old?.lines || []) for (const p of line.parts) {
        for (const polygon of p.corridor) L.polygon(polygon, { ...beneath, weight: 1, fillOpacity: 0.15 }).addTo(layers.under);
        L.polyline(p.vertices.map(v => v.at), { ...beneath, weight: 11, opacity: 0.5 }).addTo(layers.under);
      }
    },
    show(name, on) { if (on) layers[name].addTo(map); else layers[name].remove(); },
    mark(at, follow) { cursor.setLatLng(at).addTo(map).bringToFront(); if (follow && !map.getBounds().contains(at)) map.panTo(at, { animate: false }); },
    go(i) { pins.forEach((p, k) => p.getElement()?.classList.toggle('on', k === i)); map.setView(view.revisit[i].at, Math.max(map.getZoom(), 21), { animate: false }); },
    scale(bar) {
      const draw = () => {
        const y = map.getSize().y / 2, a = map.containerPointToLatLng([0, y]), b = map.containerPointToLatLng([100, y]);
        const per = metresFrom([a.lat, a.lng], [b.lat, b.lng])[0], long = nice(per * 0.7);
        bar.style.width = 100 * long / per + 'px';
        bar.textContent = lengthText(long);
      };
      map.on('zoomend moveend', draw);
      draw();
    },
    close() { resize.disconnect(); map.remove(); },
  };
}
