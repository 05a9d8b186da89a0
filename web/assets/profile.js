// Plan-and-profile's lower half: the line laid straight with its width enlarged,
// depth with its band, and current, against the station of one part of a line.
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
  const vertices = part.vertices.map(v => ({ ...v, s: v.s * k, half: scaled(v.half), depth: scaled(v.depth), depth95: scaled(v.depth95) }));
  const on = readings.filter(r => r.line && r.s !== null).map(r => ({ ...r, s: r.s * k, offset: scaled(r.offset), depth: scaled(r.depth), raw: r }));
  const xs = [...new Set([...vertices.map(v => v.s), ...on.map(r => r.s)])].sort((a, b) => a - b);
  const index = new Map(xs.map((x, i) => [x, i]));
  const column = (items, f) => { const c = xs.map(() => undefined); for (const i of items) { const v = f(i); c[index.get(i.s)] = v === undefined ? null : v; } return c; };
  const threeOf = (mid, far) => [column(vertices, mid), column(vertices, v => mid(v) === null ? null : mid(v) - far(v)), column(vertices, v => mid(v) === null ? null : mid(v) + far(v))];
  const dotsOf = (f, chosen) => [on.filter(r => r.used), on.filter(r => !r.used), chosen].map(list => column(list, f));
  const across = chosen => [xs, ...threeOf(v => v.half === null ? null : 0, v => v.half), ...dotsOf(beside, chosen)], depths = chosen => [xs, ...threeOf(v => v.depth, v => v.depth95), ...dotsOf(r => r.depth, chosen)];
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
  const fillBand = (low, high) => u => {
    const known = vertices.filter(v => low(v) !== null && high(v) !== null), x = v => u.valToPos(v.s, 'x', true), y = d => u.valToPos(d, 'y', true), g = u.ctx;
    g.save();
    g.beginPath();
    g.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    g.clip();
    g.beginPath();
    known.forEach(v => g.lineTo(x(v), y(low(v))));
    known.reverse().forEach(v => g.lineTo(x(v), y(high(v))));
    g.fillStyle = band + '30';
    g.fill();
    g.restore();
  };
  // Heights of the three, of what room there is.
  const shares = [0.33, 0.35, 0.32], high = i => Math.max(66, Math.floor(box.clientHeight * shares[i]));
  const none = axis(null, { size: 6, labelSize: 0, values: () => [] }), edge = { stroke: band, width: 0.7, dash: [4, 3], spanGaps: true, points: { show: false } }, upright = { size: 44, space: 15 };
  const reach = 1.25 * Math.max(0.02 * k, ...vertices.map(v => v.half ?? 0), ...on.filter(r => r.used && r.offset !== null).map(r => 0.9 * Math.abs(r.offset)));
  const beside = r => r.offset === null ? null : Math.max(-reach, Math.min(reach, r.offset)); // what lies beyond stands at the edge
  const sides = u => {
    const g = u.ctx, ratio = devicePixelRatio, write = (words, align, x, y) => { g.textAlign = align; g.strokeText(words, x, y); g.fillText(words, x, y); };
    g.save();
    g.font = `${11 * ratio}px ${css('--font')}`;
    Object.assign(g, { fillStyle: ink, strokeStyle: css('--paper'), lineWidth: 3 * ratio });
    const { left, top, width, height } = u.bbox, right = left + width - 4 * ratio;
    write(t('across_title'), 'left', left + 4 * ratio, top + 11 * ratio);
    write(t('side_of').left, 'right', right, top + 11 * ratio);
    write(t('side_of').right, 'right', right, top + height - 4 * ratio);
    g.restore();
  };
  const acrossPlot = new uPlot({
    ...plain, width: box.clientWidth, height: high(0), hooks: { ...hooks, drawAxes: [fillBand(v => v.half === null ? null : -v.half, v => v.half)], draw: [sides] },
    scales: { x: { time: false }, y: { range: () => [-reach, reach] } },
    axes: [none, axis(t('across_axis', { unit: unit() }), { ...upright, values: (u, list) => list.map(v => String(Math.abs(+v.toPrecision(6)))) })],
    series: [{}, { stroke: band, width: 2, spanGaps: true, points: { show: false } }, { ...edge }, { ...edge }, dot(t('read'), ink, css('--paper'), 6), dot(t('aside'), css('--mark'), 'transparent', 8), dot(t('chosen'), ink, css('--mark'), 10)],
  }, across([]), box);
  const depthPlot = new uPlot({
    ...plain, width: box.clientWidth, height: high(1), hooks: { ...hooks, drawAxes: [fillBand(v => v.depth === null ? null : v.depth - v.depth95, v => v.depth === null ? null : v.depth + v.depth95)] },
    scales: { x: { time: false }, y: { dir: -1, range: (u, a, b) => [Math.min(0, a ?? 0), Math.max(1, (b ?? 1) * 1.1)] } },
    axes: [none, axis(t('depth_axis', { unit: unit() }), upright)],
    series: [{}, { label: t('fitted'), stroke: band, width: 2, spanGaps: true, points: { show: false } }, { ...edge }, { ...edge },
      dot(t('read'), ink, css('--paper'), 6), dot(t('aside'), css('--mark'), 'transparent', 8), dot(t('chosen'), ink, css('--mark'), 10)],
  }, depths([]), box);
  const currentPlot = new uPlot({
    ...plain, width: box.clientWidth, height: high(2), hooks,
    scales: { x: { time: false }, y: { range: (u, a, b) => [0, Math.max(1, (b ?? 1) * 1.1)] } },
    axes: [axis(null, { size: 26, labelSize: 0, values: (u, list) => list.map(v => `${v} ${unit()}`) }), axis(high(2) < 110 ? 'mA' : t('current_axis'), upright)],
    series: [{}, { label: t('current'), stroke: band, width: 2, spanGaps: true, points: { show: false } }, dot(t('read'), ink, css('--paper'), 5)],
  }, [xs, current, currents], box);
  const plots = [acrossPlot, depthPlot, currentPlot];
  const dragging = () => plots.forEach(p => { p.cursor.drag.setScale = !choosing(); });
  box.addEventListener('pointerdown', dragging, true);
  const resize = new ResizeObserver(() => plots.forEach((p, i) => p.setSize({ width: box.clientWidth, height: high(i) })));
  resize.observe(box);
  return {
    mark(s) { silent = true; for (const p of plots) p.setCursor({ left: p.valToPos(s * k, 'x'), top: 5 }); silent = false; },
    chosen(set) {
      const { min, max } = depthPlot.scales.x, old = min !== null && min !== undefined;
      acrossPlot.setData(across(on.filter(r => set.has(r.raw))));
      depthPlot.setData(depths(on.filter(r => set.has(r.raw))));
      if (old) depthPlot.setScale('x', { min, max });
    },
    close() { box.removeEventListener('pointerdown', dragging, true); resize.disconnect(); plots.forEach(p => p.destroy()); },
  };
}
