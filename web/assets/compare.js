// Holding a day's lines against an owner's record: give the record, see pairs,
// deviations along one of them, verdicts, and whether everything is displaced alike.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { get, post, send } from './api.js';
import { fromMetres, lengthText, toMetres, unit } from './units.js';
import uPlot from './vendor/uplot.js';

const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const length = v => v === null || v === undefined ? '–' : lengthText(v);
const kinds = { agrees: 'good', differs: 'no', inconclusive: 'care' };
const badge = v => el('span', { class: 'verdict ' + (kinds[v] || 'care') }, t('verdict_' + (kinds[v] ? v : 'none')));

export async function compare(box, c) {
  const form = el('section'), list = el('section'), result = el('section', { 'aria-live': 'polite' });
  fill(box, el('h2', {}, t('compare')), form, list, result);
  if (c.session.rights?.compare) ask(); else fill(form, el('p', { class: 'notice' }, t('no_compare')));
  await earlier();

  async function earlier() {
    try {
      const { comparisons } = await get(`/days/${c.day.id}/comparisons`);
      fill(list, comparisons.length > 0 && [el('h3', {}, t('earlier')), el('ul', { class: 'earlier' }, comparisons.map(k => el('li', {}, el('button', { onclick: () => show(k.id) }, k.name), badge(k.outcome.verdict),
        el('small', {}, `${t('revision_n', { n: k.revision })} · ${k.created_by}, ${k.created.slice(0, 16).replace('T', ' ')} UTC`))))]);
    } catch (e) { say(e.message, true); }
  }

  function ask() {
    const file = el('input', { type: 'file', id: 'record', required: true }), bar = el('progress', { max: 1, value: 0, hidden: true, 'aria-label': t('record') }), wrong = el('p', { class: 'notice error', role: 'alert', hidden: true });
    const metres = (key, name, value) => el('label', {}, `${t(key)}, ${unit()}`, el('input', { type: 'number', name, step: 'any', min: 0, inputmode: 'decimal', placeholder: fromMetres(value).toFixed(2) }));
    const text = (key, name, hint) => el('label', {}, t(key), el('input', { name, maxlength: 80, placeholder: hint || null }));
    const to = el('label', {}, t('depth_to'), el('select', { name: 'depth_to' }, ['auto', 'top', 'centre', 'invert'].map(v => el('option', { value: v }, t('to_' + v)))));
    const go = el('button', { class: 'main' }, t('compare_now', { n: c.revision.number }));
    fill(form, el('p', {}, t('compare_lead')), el('form', { onsubmit: async e => {
      e.preventDefault();
      wrong.hidden = true;
      const settings = {};
      for (const [k, v] of new FormData(e.target)) if (typeof v === 'string' && v.trim() !== '') settings[k] = k.endsWith('_m') ? toMetres(+v) : v.trim();
      if (unit() === 'ft') settings.units = 'imperial';
      go.disabled = true;
      bar.hidden = false;
      try {
        const { original } = await send(file.files[0], share => { bar.value = share; }, '/records');
        const made = await post(`/days/${c.day.id}/revisions/${c.revision.number}/comparisons`, { record: original.sha256, name: file.files[0].name, settings });
        await Promise.all([earlier(), show(made.id)]);
      } catch (err) { wrong.hidden = false; wrong.textContent = err.message; }
      go.disabled = false;
      bar.hidden = true;
    } }, el('label', {}, t('record'), file, el('small', {}, t('record_hint'))), bar,
    el('div', { class: 'fields' }, metres('tolerance', 'tolerance_m', 0.5), metres('search', 'search_m', 3), text('record_crs', 'as_built_crs', 'EPSG:25832'), to),
    el('details', {}, el('summary', {}, t('more_settings')), el('div', { class: 'fields' }, metres('depth_tolerance', 'depth_tolerance_m', 0.5), metres('every', 'every_m', 1), metres('record_accuracy', 'as_built_accuracy_m', 0.3), metres('record_depth_accuracy', 'as_built_depth_accuracy_m', 0.2),
      text('id_field', 'id_field'), text('utility_field', 'utility_field'), text('depth_field', 'depth_field'), text('diameter_field', 'diameter_field'),
      el('label', {}, t('axes'), el('select', { name: 'axes' }, ['auto', 'xy', 'yx'].map(v => el('option', { value: v }, t('axes_' + v))))))), wrong, go));
  }

  async function show(id) {
    try {
      const url = `/comparisons/${id}`, [{ comparison: k, result: r }, places] = await Promise.all([get(url), get(`${url}/files/deviations.geojson`)]);
      const stations = places.features.filter(f => f.properties.kind === 'station');
      c.map.record(c.revision.number === k.revision ? places.features : null);
      draw(result, c, k, r, stations);
      result.scrollIntoView({ block: 'start' });
    } catch (e) { say(e.message, true); }
  }
}

/** An offset from the record in words: a length and the side it is on. */
const sideways = v => v === null ? '–' : Math.abs(v) < 0.005 ? length(0) : `${length(Math.abs(v))} ${t(v < 0 ? 'side_right' : 'side_left')}`;

function draw(box, c, k, r, stations) {
  const strip = el('div', { class: 'strip' }), about = el('div'), base = `api/v1/comparisons/${k.id}/files/`, save = name => el('a', { class: 'button', href: base + name, download: true }, name);
  const pick = p => {
    for (const row of rows.children) row.setAttribute('aria-current', row.dataset.id === p.as_built_id);
    drawStrip(strip, c, p, stations.filter(f => f.properties.as_built_id === p.as_built_id), k.settings.tolerance_m ?? 0.5);
    fill(about, el('p', {}, [t('covered', { pct: p.coverage_pct === null ? '–' : p.coverage_pct.toFixed(0) }), p.depth.n > 0 && t('depth_off', { mean: length(p.depth.mean_m), max: length(p.depth.max_m) }), p.drawn_the_other_way && t('other_way'), p.ambiguous_with && t('ambiguous', { what: p.ambiguous_with })].filter(Boolean).join('. ') + '.'),
      p.not_located.map(g => el('p', {}, el('small', {}, `${length(g.from_m)} – ${length(g.to_m)}: ${g.text}`))));
  };
  const order = ['differs', 'inconclusive', 'agrees'], pairs = r.pairs.toSorted((a, b) => (order.indexOf(a.verdict) + 4) % 4 - (order.indexOf(b.verdict) + 4) % 4);
  const rows = el('tbody', {}, pairs.map(p => el('tr', { tabindex: 0, 'data-id': p.as_built_id, onclick: () => pick(p), onkeydown: e => { if (e.key === 'Enter' || e.key === ' ') { e.preventDefault(); pick(p); } } },
    el('td', {}, p.as_built_id || '–', el('small', {}, p.line_ids.join(', '))), el('td', {}, badge(p.verdict)), el('td', { class: 'n' }, sideways(p.lateral.mean_m), el('small', {}, `± ${length(p.lateral.mean_95_m)}`)), el('td', { class: 'n' }, sideways(p.lateral.max_signed_m)))));
  const all = r.as_built_not_located, near = all.filter(m => m.near_the_day);
  fill(box, el('h3', {}, k.name), el('p', {}, badge(r.verdict), ' ', r.verdict_text), el('div', { class: 'links' }, el('a', { class: 'button main', href: base + 'comparison.html', target: '_blank', rel: 'noopener' }, t('open_comparison')), ['comparison.json', 'deviations.csv', 'deviations.geojson', 'comparison.kml'].map(save)),
    shiftWords(r.shift),
    c.revision.number !== k.revision && el('p', { class: 'notice' }, t('of_other_revision', { n: k.revision })),
    r.pairs.length > 0 && [el('table', { class: 'pairs' }, el('thead', {}, el('tr', {}, ['record_line', 'verdict', 'beside', 'at_most'].map((h, i) => el('th', { scope: 'col', class: i > 1 ? 'n' : null }, t(h))))), rows), strip, about],
    missing('not_located', near, m => m.as_built_id || m.utility, all.length - near.length),
    missing('not_in_record', r.located_not_in_record, m => m.line_id, 0),
    r.warnings.length > 0 && [el('h3', {}, t('warnings')), el('ul', {}, r.warnings.map(w => el('li', {}, '• ' + w)))],
    el('p', {}, el('small', {}, r.caution)));
  if (pairs.length) pick(pairs[0]);
}

// missing lists what stands on one side alone; of a whole town's record only what the day came near.
function missing(heading, list, name, far) {
  const most = 60, rest = list.length - most;
  if (!list.length && !far) return null;
  return [el('h3', {}, t(heading)), el('ul', {}, list.slice(0, most).map(m => el('li', {}, `• ${name(m)}, ${length(m.length_m)}: ${m.text}`))),
    rest > 0 && el('p', {}, t('rest_in_file', { n: rest })), far > 0 && el('p', {}, el('small', {}, t('far_from_day', { n: far })))];
}

// shiftWords tell of one displacement that all lines share.
function shiftWords(s) {
  if (s.east_m === null || !s.pairs) return null;
  return el('div', { class: s.significant ? 'notice' : '' }, el('p', {}, s.text || t(s.significant ? 'shift_found' : 'shift_none', { east: length(s.east_m), north: length(s.north_m), e95: length(1.96 * s.sigma_east_m), n95: length(1.96 * s.sigma_north_m), k: s.pairs_explained, n: s.pairs })), s.significant && s.causes.map(w => el('p', {}, el('small', {}, '• ' + w))));
}

/** Draws the lateral difference of a pair along the record, with its 95 % band and the tolerance. */
function drawStrip(box, c, p, stations, tolerance) {
  fill(box);
  const seen = stations.filter(f => f.properties.lateral_m !== null).sort((a, b) => a.properties.station_m - b.properties.station_m);
  if (!seen.length) return;
  const q = f => fromMetres(f), xs = seen.map(f => q(f.properties.station_m)), mid = seen.map(f => q(f.properties.lateral_m)), half = seen.map(f => q(f.properties.lateral_95_m ?? 0)), tol = q(tolerance);
  const ink = css('--ink'), rule = css('--rule'), band = css('--band'), mark = css('--mark'), font = '12px sans-serif', axis = (label, size) => ({ label, labelSize: 18, font, labelFont: font, stroke: ink, size, grid: { stroke: rule, width: 0.5 }, ticks: { stroke: rule, width: 0.5 } });
  const plot = new uPlot({
    width: Math.max(260, box.clientWidth), height: 190, legend: { show: false }, cursor: { y: false, drag: { x: false, y: false }, points: { show: false } }, scales: { x: { time: false }, y: { range: (u, a, b) => { const m = Math.max(1.15 * tol, Math.abs(a ?? 0), Math.abs(b ?? 0)); return [-1.1 * m, 1.1 * m]; } } },
    axes: [axis(`${t('along_record')}, ${unit()}`, 34), axis(`${t('left_of_record')}, ${unit()}`, 46)], bands: [{ series: [3, 2], fill: band + '30' }],
    series: [{}, { stroke: band, width: 2, points: { show: false } }, { stroke: band, width: 0.6, points: { show: false } }, { stroke: band, width: 0.6, points: { show: false } }],
    hooks: {
      drawAxes: [u => { const g = u.ctx; g.save(); g.strokeStyle = mark; g.setLineDash([7, 5]); for (const v of [tol, -tol]) { const y = u.valToPos(v, 'y', true); g.beginPath(); g.moveTo(u.bbox.left, y); g.lineTo(u.bbox.left + u.bbox.width, y); g.stroke(); } g.restore(); }],
      setCursor: [u => { const i = u.cursor.idx; if (i === null || i === undefined || !u.cursor.event) return; const at = seen[i].geometry.coordinates, v = seen[i].properties; c.map.mark([at[1], at[0]], true); told.textContent = t('strip_here', { s: length(v.station_m), d: length(Math.abs(v.lateral_m)), side: t(v.lateral_m < 0 ? 'side_right' : 'side_left'), w: length(v.lateral_95_m), v: t('verdict_' + (kinds[v.verdict] ? v.verdict : 'none')) }); }],
    },
  }, [xs, mid, mid.map((v, i) => v - half[i]), mid.map((v, i) => v + half[i])], box);
  const told = el('p', { class: 'reads', 'aria-live': 'polite' }, t('strip_lead', { name: p.as_built_id || '–' }));
  box.append(told);
  box.dataset.plot = plot.series.length;
}
