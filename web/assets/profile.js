// Plan-and-profile's lower half: depth with its band, and current, against the
// station of one part of a line.
import uPlot from './vendor/uplot.js';
import { t } from './text.js';
import { fromMetres, unit } from './units.js';

const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

/** Values of a part at a station, straight between its vertices. */
export function valuesAt(part, s) {
  const vs = part.vertices;
  let i = vs.findIndex(v => v.s >= s);
  if (i < 0) i = vs.length - 1;
  const b = vs[i], a = vs[Math.max(i - 1, 0)], k = b.s > a.s ? (s - a.s) / (b.s - a.s) : 0;
  const mix = f => f(a) === null || f(b) === null ? null : f(a) + k * (f(b) - f(a));
  return { at: [mix(v => v.at[0]), mix(v => v.at[1])], half: mix(v => v.half), depth: mix(v => v.depth), depth95: mix(v => v.depth95), current: mix(v => v.current), fix: b.fix, flags: b.flags };
}

/**
 * Draws a part into box; pick(station) is called when somebody points at it. While
 * choosing() holds, dragging calls span(from, to) instead of going nearer.
 */
export function drawProfile(box, part, readings, { pick, choosing, span }) {
  // All is drawn in the reader's unit; what is told outside is metres.
  const k = fromMetres(1), scaled = v => v === null || v === undefined ? v : v * k;
  const vertices = part.vertices.map(v => ({ ...v, s: v.s * k, depth: scaled(v.depth), depth95: scaled(v.depth95) }));
  const on = readings.filter(r => r.line && r.s !== null).map(r => ({ ...r, s: r.s * k, depth: scaled(r.depth), raw: r }));
  const xs = [...new Set([...vertices.map(v => v.s), ...on.map(r => r.s)])].sort((a, b) => a - b);
  const index = new Map(xs.map((x, i) => [x, i]));
  const column = (items, f) => { const c = xs.map(() => undefined); for (const i of items) { const v = f(i); c[index.get(i.s)] = v === undefined ? null : v; } return c; };
  const fitted = column(vertices, v => v.depth), read = column(on.filter(r => r.used), r => r.depth), aside = column(on.filter(r => !r.used), r => r.depth);
  const low = column(vertices, v => v.depth === null ? null : v.depth - v.depth95), high = column(vertices, v => v.depth === null ? null : v.depth + v.depth95);
  const current = column(vertices, v => v.current), currents = column(on, r => r.current);
  const ink = css('--ink'), rule = css('--rule'), band = css('--band'), font = '12px ' + css('--font');
  const dot = (label, stroke, fill, size) => ({ label, stroke, paths: () => null, points: { show: true, size, stroke, fill, width: 1.5 } });
  const axis = (label, more) => ({ label, labelSize: 16, labelGap: 0, font, labelFont: font, stroke: ink, grid: { stroke: rule, width: 0.5 }, ticks: { stroke: rule, width: 0.5 }, ...more });
  const sync = { key: 'station', setSeries: false };
  let silent = false;
  const setSelect = u => {
    if (!choosing() || u.select.width < 2) return;
    const from = u.posToVal(u.select.left, 'x'), to = u.posToVal(u.select.left + u.select.width, 'x');
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    span(from / k, to / k);
  };
  const hooks = { setSelect: [setSelect], setCursor: [u => { if (!silent && u.cursor.left >= 0 && u.cursor.event) pick(u.posToVal(u.cursor.left, 'x') / k); }] };
  const plain = { legend: { show: false }, cursor: { y: false, sync, drag: { x: true, y: false }, points: { show: false } }, scales: { x: { time: false } } };
  // The band goes under the line, from each vertex's lower bound to its upper.
  const fillBand = u => {
    const known = vertices.filter(v => v.depth !== null), x = v => u.valToPos(v.s, 'x', true), y = d => u.valToPos(d, 'y', true), g = u.ctx;
    g.save();
    g.beginPath();
    g.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    g.clip();
    g.beginPath();
    known.forEach(v => g.lineTo(x(v), y(v.depth - v.depth95)));
    known.reverse().forEach(v => g.lineTo(x(v), y(v.depth + v.depth95)));
    g.fillStyle = band + '30';
    g.fill();
    g.restore();
  };
  const half = () => Math.max(80, Math.floor(box.clientHeight / 2));
  const depthPlot = new uPlot({
    ...plain, width: box.clientWidth, height: half() + 6, hooks: { ...hooks, drawAxes: [fillBand] },
    scales: { x: { time: false }, y: { dir: -1, range: (u, a, b) => [Math.min(0, a ?? 0), Math.max(1, (b ?? 1) * 1.1)] } },
    axes: [axis(null, { size: 6, labelSize: 0, values: () => [] }), axis(t('depth_axis', { unit: unit() }), { size: 44 })],
    series: [{}, { label: t('fitted'), stroke: band, width: 2, spanGaps: true, points: { show: false } },
      { label: 'low', stroke: band, width: 0.7, dash: [4, 3], spanGaps: true, points: { show: false } }, { label: 'high', stroke: band, width: 0.7, dash: [4, 3], spanGaps: true, points: { show: false } },
      dot(t('read'), ink, css('--paper'), 6), dot(t('aside'), css('--mark'), 'transparent', 8), dot(t('chosen'), ink, css('--mark'), 10)],
  }, [xs, fitted, low, high, read, aside, column([], r => r.depth)], box);
  const currentPlot = new uPlot({
    ...plain, width: box.clientWidth, height: half() - 6, hooks,
    scales: { x: { time: false }, y: { range: (u, a, b) => [0, Math.max(1, (b ?? 1) * 1.1)] } },
    axes: [axis(t('station_axis', { unit: unit() }), { size: 30 }), axis(half() < 110 ? 'mA' : t('current_axis'), { size: 44 })],
    series: [{}, { label: t('current'), stroke: band, width: 2, spanGaps: true, points: { show: false } }, dot(t('read'), ink, css('--paper'), 5)],
  }, [xs, current, currents], box);
  const plots = [depthPlot, currentPlot];
  const dragging = () => plots.forEach(p => { p.cursor.drag.setScale = !choosing(); });
  box.addEventListener('pointerdown', dragging, true);
  const resize = new ResizeObserver(() => plots.forEach((p, i) => p.setSize({ width: box.clientWidth, height: half() + (i ? -6 : 6) })));
  resize.observe(box);
  return {
    mark(s) { silent = true; for (const p of plots) p.setCursor({ left: p.valToPos(s * k, 'x'), top: 5 }); silent = false; },
    chosen(set) {
      const { min, max } = depthPlot.scales.x, old = min !== null && min !== undefined;
      depthPlot.setData([xs, fitted, low, high, read, aside, column(on.filter(r => set.has(r.raw)), r => r.depth)]);
      if (old) depthPlot.setScale('x', { min, max });
    },
    close() { box.removeEventListener('pointerdown', dragging, true); resize.disconnect(); plots.forEach(p => p.destroy()); },
  };
}
