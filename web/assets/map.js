// The map: corridors true to scale, lines, readings, places to revisit and a scale
// bar, over what base.js lays under it.
import * as L from './vendor/leaflet.js';
import { t } from './text.js';
import { metresFrom } from './geo.js';
import { Grid, layBase } from './base.js';
import { lengthText, roundLength, roundText } from './units.js';
import { Labels, boundText, wideLayer, widest } from './widths.js';

// Leaflet rounds to whole pixels, which shows as steps at centimetres.
L.Map.include({ latLngToLayerPoint(at) { return this.project(L.latLng(at))._subtract(this.getPixelOrigin()); } });

const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// Classes that can colour a line: each has a colour that holds for colour-blind
// eyes (Okabe and Ito, 2008) and a dash of its own.
const strong = { colour: '#0072b2', dash: null }, fair = { colour: '#009e73', dash: '14 5' }, weak = { colour: '#e69f00', dash: '7 6' }, bad = { colour: '#d55e00', dash: '2 7' };
const step = (v, limits, looks, names) => { const i = limits.findIndex(l => v <= l); return { ...looks[i < 0 ? limits.length : i], name: t(names[i < 0 ? limits.length : i], { a: lengthText(limits[(i < 0 ? limits.length : i) - 1] ?? 0), b: lengthText(limits[i < 0 ? limits.length - 1 : i]) }) }; };
export const schemes = {
  fix: v => ({ ...(v.fix === 'rtk_fixed' ? strong : v.fix === 'rtk_float' ? fair : v.fix === 'differential' || v.fix === 'pps' ? weak : bad), name: t('fix')[v.fix] || v.fix }),
  width: v => step(v.half, [0.25, 0.5, 1], [strong, fair, weak, bad], ['narrow', 'middle', 'wide', 'useless']),
  depth: v => v.depth === null ? { colour: '#777', dash: '1 6', name: t('no_depth') } : step(v.depth, [0.5, 1, 2], [bad, weak, fair, strong], ['shallow', 'usual', 'deep', 'deepest']),
  flags: v => v.flags?.length ? { ...bad, name: t('remarked') } : { ...strong, name: t('clear') },
};

/**
 * Draws a view. pick(part, station, hover) is called when somebody points at a line,
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
  const layers = { under: L.layerGroup().addTo(map), record: L.layerGroup().addTo(map), corridors: L.layerGroup().addTo(map), wide: wideLayer(parts, view.origin), lines: L.layerGroup().addTo(map), dots: L.layerGroup().addTo(map), labels: L.layerGroup().addTo(map), pins: L.layerGroup().addTo(map) };
  for (const p of parts) for (const polygon of p.part.corridor) L.polygon(polygon, { color: p.look.colour, weight: 1, fillOpacity: 0.3, interactive: false }).addTo(layers.corridors);
  const labels = new Labels(map, layers.labels, () => pins.map(p => { const at = map.latLngToContainerPoint(p.getLatLng()); return { x: at.x - 11, y: at.y - 11, w: 22, h: 22 }; }));
  for (const p of parts) labels.add(p.part.vertices[Math.floor(p.part.vertices.length / 2)].at, `${p.look.letters} ${p.part.name}`, 0, 'name');
  for (const line of view.lines) { const w = widest(line); if (w) labels.add(w.v.at, boundText(w.v.half), w.v.half, 'bound'); }
  const pins = view.revisit.map((r, i) => {
    const pin = L.marker(r.at, { icon: L.divIcon({ className: 'pin', iconSize: [26, 26] }), title: `${i + 1}: ${r.reason}`, alt: `${i + 1}: ${r.reason}`, zIndexOffset: 1000 }).on('click', () => place(i)).addTo(layers.pins);
    pin.getElement().textContent = i + 1;
    return pin;
  });
  labels.place();

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
  const leader = L.polyline([], { color: css('--mark'), weight: 2, dashArray: '4 4', interactive: false });
  const cursor = L.circleMarker([0, 0], { radius: 9, color: css('--mark'), weight: 3, fillOpacity: 0, interactive: false });

  // Pointing at a line: the nearest one within a finger's width.
  let pending = false;
  function point(e, far, hover) {
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
    if (best.p) pick(best.p.part, best.s, hover);
  }
  map.on('mousemove', e => { if (pending || e.originalEvent.buttons || choosing() || e.originalEvent.target.closest?.('.pin')) return; pending = true; requestAnimationFrame(() => { pending = false; point(e, 14, true); }); });
  map.on('click', e => { if (!choosing()) point(e, 30, false); });

  const far = () => box.classList.toggle('far', map.getZoom() < 20.25);
  map.on('zoomend', far);
  far();
  const resize = new ResizeObserver(() => map.invalidateSize({ animate: false, pan: true }));
  resize.observe(box);

  return {
    map, fit, colour, base: () => layBase(map),
    /** Shows which readings are chosen. */
    chosen(set) {
      for (const r of lit) if (!set.has(r)) marks.get(r)?.setStyle(dotLook(r, false)).setRadius(dotLook(r, false).radius);
      for (const r of set) if (!lit.has(r)) marks.get(r)?.setStyle(dotLook(r, true)).setRadius(7).bringToFront();
      lit = new Set(set);
    },
    /** Lays an owner's record under the lines, its stations by verdict, joined to the lines. */
    record(features) {
      layers.record.clearLayers();
      const flip = at => [at[1], at[0]], runs = new Map(), looks = { agrees: strong, differs: bad, inconclusive: weak };
      for (const f of features || []) {
        if (f.properties.kind === 'station') { runs.set(f.properties.as_built_id, [...(runs.get(f.properties.as_built_id) || []), flip(f.geometry.coordinates)]); continue; }
        L.polyline(f.geometry.coordinates.map(flip), { ...beneath, color: (looks[f.properties.verdict] || weak).colour, weight: 3 }).addTo(layers.record);
      }
      for (const run of runs.values()) L.polyline(run, { ...beneath, color: css('--ink'), weight: 2, dashArray: '2 6' }).addTo(layers.record);
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
    /** Goes to a place to revisit, with a leader to where it lies on its line; null chooses none. */
    go(i, on) {
      pins.forEach((p, k) => { p.getElement()?.classList.toggle('on', k === i); p.setZIndexOffset(k === i ? 2000 : 1000); });
      leader.remove();
      if (i === null) return;
      const { at } = view.revisit[i];
      map.setView(at, Math.max(map.getZoom(), 21), { animate: false });
      if (on) leader.setLatLngs([at, on]).addTo(map);
    },
    scale(bar) {
      const draw = () => {
        const y = map.getSize().y / 2, a = map.containerPointToLatLng([0, y]), b = map.containerPointToLatLng([100, y]);
        const per = metresFrom([a.lat, a.lng], [b.lat, b.lng])[0], long = roundLength(per * 0.7);
        bar.style.width = 100 * long / per + 'px';
        bar.textContent = roundText(long);
      };
      map.on('zoomend moveend', draw);
      draw();
    },
    close() { resize.disconnect(); map.remove(); },
  };
}
