// What stands beside the map: summary, readings, files, settings.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { fromMetres, lengthText, toMetres, unit } from './units.js';
import { get, post } from './api.js';
import { mayNot, whyFields } from './correct.js';

// What holds for the whole day is said once, in the summary.
const dayWide = ['antenna_assumed', 'frame_assumed', 'date_assumed', 'clock_uncertain'];
const remarks = r => (r.flags || []).filter(f => !dayWide.includes(f));

const m2 = v => v === null || v === undefined ? t('no_depth') : lengthText(v);

export function seconds(s) {
  const v = Math.abs(s), sign = s < 0 ? '−' : '';
  if (v < 90) return `${sign}${v.toFixed(v < 10 ? 2 : 1)} s`;
  if (v < 3600) return `${sign}${Math.floor(v / 60)} min ${(v % 60).toFixed(1)} s`;
  return `${sign}${Math.floor(v / 3600)} h ${Math.floor(v / 60) % 60} min ${Math.round(v % 60)} s`;
}

export function summary(box, c) {
  const { view } = c, o = view.outcome;
  fill(box, el('h2', {}, el('span', { class: 'verdict ' + o.level }, t(o.level))), el('p', {}, o.summary), o.level === 'good' && el('p', {}, t('good_note')),
    o.reasons.length > 0 && [el('h3', {}, t('why_not')), el('ul', { class: 'dots' }, o.reasons.map(r => el('li', {}, '• ' + r)))],
    (o.not_told || []).length > 0 && [el('h3', {}, t('not_told')), el('ul', { class: 'dots' }, o.not_told.map(r => el('li', {}, '• ' + r)))],
    el('h3', {}, t('legend')), el('div', { class: 'list' }, view.lines.flatMap(l => l.parts.map(p => el('button', { onclick: () => c.pick(p, p.length / 2, true) },
      el('b', {}, view.looks[l.utility].letters), p.name, el('small', {}, p.facts.filter(f => ['length', 'depth', 'width', 'class'].includes(f.Key)).map(f => f.Text).join(' · ')))))),
    view.warnings.length > 0 && [el('h3', {}, t('warnings')), el('ul', {}, view.warnings.map(w => el('li', {}, '• ' + w)))],
    view.aside.length > 0 && el('ul', {}, view.aside.slice(0, 50).map(w => el('li', {}, '• ' + w))),
    el('details', {}, el('summary', {}, t('rules')), view.rules.map(r => el('p', {}, r))));
}

export const file = (c, name, words) => el('a', { class: 'button', href: `api/v1/days/${c.day.id}/revisions/${c.revision.number}/files/${name}`, download: true }, words || name);

export function rows(box, c) {
  const all = c.view.readings, may = !mayNot(c);
  let odd = false, most = 200, chosen = null, near = null, last = null, made = [];
  const tick = (list, k, e) => {
    const r = list[k], on = e.target.checked, set = new Set(c.chosen);
    const from = e.shiftKey && last !== null ? Math.min(last, k) : k, to = e.shiftKey && last !== null ? Math.max(last, k) : k;
    for (const x of e.shiftKey ? list.slice(from, to + 1) : [r]) if (on) set.add(x); else set.delete(x);
    last = k;
    c.choose([...set]);
  };
  const state = r => [r.flags?.includes('set_aside_by_hand') ? t('by_hand') : !r.used && !r.feature && t('not_used'), ...remarks(r).filter(f => f !== 'set_aside_by_hand').map(f => f.replaceAll('_', ' '))].filter(Boolean).join(', ');
  const show = () => {
    const list = odd ? all.filter(r => remarks(r).length || !r.used) : all;
    made = list.slice(0, most).map((r, k) => ({ r, row: el('tr', { tabindex: 0, 'aria-current': r === chosen ? 'true' : null, onclick: () => c.look(r), onkeydown: e => { if (e.target.tagName === 'TR' && (e.key === 'Enter' || e.key === ' ')) { e.preventDefault(); c.look(r); } } },
      may && el('td', {}, el('input', { type: 'checkbox', checked: c.chosen.has(r), 'aria-label': `${t('choose_this')} ${t('row_where', { file: r.file, row: r.row })}`, onclick: e => { e.stopPropagation(); tick(list, k, e); } })),
      el('td', {}, r.file && t('row_where', { file: r.file, row: r.row }), el('small', {}, (r.time || '').slice(11, 19))), el('td', {}, r.feature || r.line || r.given || '–', el('small', {}, r.at ? (r.s === null ? '' : lengthText(r.s, 1)) : t('unplaced'))),
      el('td', { class: 'n' }, m2(r.depth)), el('td', {}, state(r), r.note && el('small', {}, r.note))) }));
    fill(box, el('div', { class: 'links' }, el('label', {}, t('show'), el('select', { onchange: e => { odd = e.target.value === 'odd'; show(); } }, el('option', { value: 'all', selected: !odd }, t('all_rows')), el('option', { value: 'odd', selected: odd }, t('odd_rows')))),
      may && el('button', { onclick: () => c.openTab('correct') }, `${t('correct')}: ${t('chosen_n', { n: c.chosen.size })}`)),
      el('table', {}, el('thead', {}, el('tr', {}, [may && '', t('rows'), t('line'), t('by_depth'), t('by_flags')].filter(h => h !== false).map(h => h === '' ? el('td') : el('th', { scope: 'col', class: h === t('by_depth') ? 'n' : null }, h)))), el('tbody', {}, made.map(m => m.row))),
      list.length > most && el('button', { onclick: () => { most += 500; show(); } }, t('more_rows', { n: Math.min(500, list.length - most) })));
  };
  c.markRow = r => { chosen = r; const i = all.indexOf(r); if (i >= most) most = i + 50; odd = false; show(); box.querySelector('[aria-current=true]')?.scrollIntoView({ block: 'nearest' }); };
  // The reading beside the mark, as somebody points along the line or the profile.
  c.markNear = r => {
    if (r === near) return;
    near = r;
    for (const m of made) m.row.classList.toggle('near', m.r === r);
    made.find(m => m.r === r)?.row.scrollIntoView({ block: 'nearest' });
  };
  c.onChosen = () => {
    for (const m of made) { const i = m.row.querySelector('input'); if (i) i.checked = c.chosen.has(m.r); }
    const b = box.querySelector('.links button');
    if (b) b.textContent = `${t('correct')}: ${t('chosen_n', { n: c.chosen.size })}`;
  };
  show();
}

export function files(box, c) {
  const base = `api/v1/days/${c.day.id}/revisions/${c.revision.number}`;
  const crs = el('input', { placeholder: 'EPSG:25832', maxlength: 12 }), units = el('select', {}, ['', 'metric', 'imperial'].map(u => el('option', { value: u }, t(u || 'as_set')))), scheme = el('select', {}, ['', ...c.session.schemes].map(u => el('option', { value: u }, u || t('as_set'))));
  const picks = c.session.formats.map(f => ({ f, box: el('input', { type: 'checkbox', checked: ['geojson', 'kml', 'csv', 'gpkg'].includes(f) }) }));
  const links = el('div', { class: 'links' });
  fill(box, el('h2', {}, t('files')), el('div', { class: 'links' }, el('a', { class: 'button main', href: base + '/files/report.html', target: '_blank', rel: 'noopener' }, t('open_report')), el('a', { class: 'button', href: base + '/export', download: true }, t('files_lead'))), links,
    el('h3', {}, t('with')), el('div', { class: 'links' }, picks.map(p => el('label', { class: 'check' }, p.box, ' ' + p.f))), el('div', { class: 'fields' }, el('label', {}, t('crs'), crs), el('label', {}, t('units'), units), el('label', {}, t('scheme_files'), scheme)),
    el('button', { onclick: () => { const list = picks.filter(p => p.box.checked).map(p => p.f).join(','); if (list) fetchFile(`${base}/export?format=${list}&crs=${encodeURIComponent(crs.value.trim())}&units=${units.value}&scheme=${scheme.value}`, `day-${c.day.id}-r${c.revision.number}.zip`); } }, t('get_selected')),
    el('h3', {}, t('originals')), el('ul', {}, c.day.files.map(f => el('li', {}, el('a', { href: 'api/v1/originals/' + f.sha256, download: true }, f.name), el('small', {}, `${(f.size / 1e6).toFixed(2)} MB · SHA-256 ${f.sha256.slice(0, 16)}…`)))));
  // A Shapefile is many files that are of use together only.
  get(`/days/${c.day.id}/revisions/${c.revision.number}/files`).then(r => fill(links, r.files.filter(f => f.format !== 'shp' && f.name !== 'report.html').map(f => file(c, f.name)),
    r.files.some(f => f.format === 'shp') && el('a', { class: 'button', href: base + '/export?format=shp', download: true }, 'Shapefile (zip)')), e => say(e.message, true));
}

// A refusal must be read on the page, not saved as a file.
export async function fetchFile(url, name) {
  const res = await fetch(url).catch(() => null);
  if (!res?.ok) { const p = await res?.json().catch(() => null); return say(p ? `${p.title}. ${p.detail}` : t('gone'), true); }
  const a = el('a', { href: URL.createObjectURL(await res.blob()), download: name });
  a.click();
  setTimeout(() => URL.revokeObjectURL(a.href), 10000);
}

export function history(box, c) {
  const s = c.basket.settings(c.settings), keep = () => c.basket.drafted(c.settings, s);
  const input = (key, name) => el('label', {}, t(key), el('input', { value: s[name] ?? '', oninput: e => { s[name] = e.target.value.trim() || undefined; } }));
  // Lengths are typed in the reader's unit; what is not touched stays to the last digit.
  const lengthInput = (key, name, least) => el('label', {}, t(key, { unit: unit() }), el('input', { type: 'number', step: '0.01', inputmode: 'decimal', min: least, value: s[name] === undefined ? '' : +fromMetres(s[name]).toFixed(3), oninput: e => { s[name] = e.target.value === '' ? undefined : +toMetres(+e.target.value).toFixed(4); } }));
  const scheme = el('label', {}, t('scheme'), el('select', { onchange: e => { s.scheme = e.target.value; } }, c.session.schemes.map(x => el('option', { value: x, selected: x === (s.scheme || 'none') }, x))));
  const why = whyFields(c);
  fill(box, el('h2', {}, t('settings')), mayNot(c) ? el('p', { class: 'notice' }, mayNot(c)) : el('form', { oninput: keep, onchange: keep, onsubmit: e => { e.preventDefault(); c.change({ settings: s }, why.value); } },
    el('div', { class: 'fields' }, lengthInput('antenna', 'antenna_height_m', 0), lengthInput('forward', 'antenna_forward_m'), lengthInput('right', 'antenna_right_m'), input('frame', 'frame'), lengthInput('gap', 'max_gap_m', 0), scheme, input('zone', 'zone'), input('crs', 'crs', { placeholder: 'EPSG:25832' }),
      input('job', 'job'), input('operator', 'operator'), input('instrument', 'instrument'), input('note', 'note'), why.fields), el('button', { class: 'main' }, t('recompute'))));
}
