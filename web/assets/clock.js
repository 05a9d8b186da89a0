// How the locator's clock was tied to UTC, with the evidence, and setting it by hand.
import { el, fill } from './dom.js';
import { t } from './text.js';
import uPlot from './vendor/uplot.js';
import { mayNot, whyFields } from './correct.js';
import { seconds } from './panels.js';

const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

const least = -20; // below this, log-likelihood says no more than no

/** The value of the evidence at an offset, straight between its points; null beyond them. */
export function evidenceAt(evidence, offset) {
  const i = evidence.findIndex(e => e[0] >= offset);
  if (i < 0 || offset < evidence[0]?.[0]) return null;
  const b = evidence[i], a = evidence[Math.max(0, i - 1)];
  return b[0] > a[0] ? a[1] + (b[1] - a[1]) * (offset - a[0]) / (b[0] - a[0]) : b[1];
}

/** What the picture spans: the chosen offset in its middle, its width, and the second best where that is near. */
export function evidenceRange(k) {
  const far = k.runner_up === null ? 0 : Math.abs(k.runner_up - k.offset), about = Math.max(20, 6 * (k.half ?? 0), far < 600 ? 1.3 * far : 0);
  if (k.offset === null) return [k.evidence[0][0], k.evidence.at(-1)[0]];
  return [k.offset - about, k.offset + about];
}

export function clock(box, c) {
  const k = c.view.clock, said = [];
  if (k.offset !== null) said.push((Math.abs(k.offset) < 0.0005 ? t('clock_same') : t(k.offset > 0 ? 'clock_ahead' : 'clock_behind', { d: seconds(Math.abs(k.offset)) })) + (k.half === null ? '' : t('clock_half', { d: seconds(k.half) })) + '.');
  said.push(t('clock_how')[k.method] || t('clock_found', { how: k.method.replaceAll('+', ', ') }));
  if (k.state === 'unknown') said.push(t('clock_open'));
  if (k.runner_up !== null) said.push(t('clock_runner', { d: seconds(k.runner_up) }) + '.');
  if (k.advice) said.push(k.advice[0].toUpperCase() + k.advice.slice(1) + '.');
  const plot = el('div', { class: 'evidence' });
  const mode = el('select', {}, ['auto', 'given', 'marks', 'none'].map(v => el('option', { value: v }, t(v === 'auto' ? 'clock_auto' : v === 'none' ? 'clock_trust' : v === 'marks' ? 'clock_marks' : 'clock_given'))));
  const value = el('input', { type: 'number', step: '0.01', inputmode: 'decimal', 'aria-label': t('clock_given'), value: k.offset === null ? '' : k.offset.toFixed(2) });
  const marks = el('textarea', { rows: 3, placeholder: '2026-05-12T08:00:07Z=2026-05-12T07:58:32Z' }), marksBox = el('label', {}, t('sync_marks'), marks, el('small', {}, t('sync_hint')));
  const set = c.settings.clock_offset || 'auto';
  mode.value = c.settings.sync?.length ? 'marks' : set === 'auto' || set === 'none' ? set : 'given';
  marks.value = (c.settings.sync || []).join('\n');
  const shown = () => { marksBox.hidden = mode.value !== 'marks'; };
  mode.addEventListener('change', shown);
  shown();
  const chosen = () => ({ ...c.settings, clock_offset: mode.value === 'given' ? value.value + 's' : mode.value === 'none' ? 'none' : 'auto', sync: mode.value === 'marks' ? marks.value.split('\n').map(x => x.trim()).filter(Boolean) : undefined });
  const why = whyFields(c);
  fill(box, el('h2', {}, t('clock')), said.map(s => el('p', {}, s)), k.evidence.length > 1 && el('p', {}, el('small', {}, t('clock_picture'))), plot,
    !mayNot(c) && el('form', { onsubmit: e => { e.preventDefault(); c.change({ settings: chosen() }, why.value); } },
      el('h3', {}, t('clock_set')), el('div', { class: 'fields' }, el('label', {}, t('clock'), mode), el('label', {}, t('clock_given'), value), marksBox, why.fields), el('button', { class: 'main' }, t('recompute'))));
  if (k.evidence.length > 1) picture(plot, k, box.clientWidth - 30);
}

// picture draws the evidence around the chosen offset, which is marked on the curve.
function picture(box, k, width) {
  const evidence = k.evidence.toSorted((a, b) => a[0] - b[0]), [from, to] = evidenceRange(k), ink = css('--ink'), mark = css('--mark'), font = '12px ' + css('--font');
  const value = k.offset === null ? null : evidenceAt(evidence, k.offset);
  // One point beyond each side, so that the curve goes on to the edge.
  const near = evidence.filter((e, i) => (evidence[i + 1]?.[0] ?? e[0]) >= from && (evidence[i - 1]?.[0] ?? e[0]) <= to);
  const xs = [...new Set([...near.map(e => e[0]), ...(value === null ? [] : [k.offset])])].sort((a, b) => a - b), ys = xs.map(x => Math.max(least, evidenceAt(evidence, x)));
  const upright = (u, at, words, row) => {
    if (at === null || at < from || at > to) return;
    const x = u.valToPos(at, 'x', true), g = u.ctx, ratio = devicePixelRatio, left = x > u.bbox.left + 0.7 * u.bbox.width;
    g.save();
    g.strokeStyle = g.fillStyle = mark;
    g.setLineDash(row ? [6, 4] : []);
    g.beginPath();
    g.moveTo(x, u.bbox.top);
    g.lineTo(x, u.bbox.top + u.bbox.height);
    g.stroke();
    g.textAlign = left ? 'right' : 'left';
    g.font = `${12 * ratio}px ${css('--font')}`;
    g.fillText(words, x + (left ? -4 : 4) * ratio, u.bbox.top + 13 * ratio * (row + 1));
    g.restore();
  };
  // Where the chosen offset is in the picture, as shares of its width and height.
  const told = u => { box.dataset.chosen = value === null ? '' : [u.valToPos(k.offset, 'x') * devicePixelRatio / u.bbox.width, u.valToPos(Math.max(least, value), 'y') * devicePixelRatio / u.bbox.height].join(' '); };
  new uPlot({ width: Math.max(260, width), height: 190, legend: { show: false }, scales: { x: { time: false, range: () => [from, to] }, y: { range: () => [least, 1] } },
    axes: [{ stroke: ink, font, label: t('clock_axis'), labelFont: font, labelSize: 18, size: 26 }, { stroke: ink, font, size: 34 }],
    series: [{}, { stroke: ink, width: 1.5, points: { show: false } }, { stroke: mark, paths: () => null, points: { show: true, size: 11, width: 2, stroke: mark, fill: css('--paper') } }],
    hooks: { draw: [u => { upright(u, k.offset, t('clock_chosen'), 0); upright(u, k.runner_up, t('clock_runner_short'), 1); told(u); }] } }, [xs, ys, xs.map((x, i) => value !== null && x === k.offset ? ys[i] : null)], box);
  if (value !== null && value < -2) box.append(el('p', {}, el('small', {}, t('clock_coarse'))));
}
