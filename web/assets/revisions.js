// The revisions of a day: who changed what, when and why; undoing, going back, and
// what moved between two of them.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { lengthText } from './units.js';
import { get } from './api.js';
import { changeWords, correctionWords } from './changes.js';
import { mayNot, whyFields } from './correct.js';

const when = text => text.slice(0, 16).replace('T', ' ') + ' UTC';
const metre = v => v === null ? '–' : lengthText(v);
const signed = v => v === null ? '–' : (v > 0 ? '+' : v < 0 ? '−' : '') + lengthText(Math.abs(v));

export function revisions(box, c) {
  const list = el('ol', { class: 'revisions' }), result = el('section', { 'aria-live': 'polite' }), undo = el('section');
  const not = mayNot(c);
  fill(box, el('h2', {}, t('revisions')), list, result, undo);

  get(`/days/${c.day.id}/revisions`).then(({ revisions: all }) => {
    const pick = (value, label) => el('select', { 'aria-label': t(label) }, all.filter(r => r.state === 'done').map(r => el('option', { value: r.number, selected: r.number === value }, t('revision_n', { n: r.number }))));
    const base = all.find(r => r.number === c.revision.base && r.state === 'done') || all.find(r => r.state === 'done' && r.number < c.revision.number);
    fill(list, all.map(r => el('li', { 'aria-current': r.number === c.revision.number ? 'true' : null },
      el('a', { href: `#/day/${r.day}/${r.number}` }, t('revision_n', { n: r.number })), r.number === c.revision.number && el('strong', {}, ' ' + t('shown')), r.locked && el('strong', {}, ' ' + t('handed_over')), r.state !== 'done' && el('em', {}, ' ' + t(r.state, { stage: '' })),
      el('p', {}, r.why, el('small', {}, `${r.created_by}, ${when(r.created)}`)),
      r.changes.length > 0 && el('ul', {}, r.changes.slice(0, 12).map(x => el('li', {}, changeWords(x))), r.changes.length > 12 && el('li', {}, '…')))));
    if (base) {
      const from = pick(base.number, 'older'), to = pick(c.revision.number, 'newer_one');
      fill(result, el('h3', {}, t('what_moved')), el('div', { class: 'ask' }, from, to, el('button', { onclick: () => difference(out, c, +from.value, +to.value) }, t('compare_two'))));
      const out = el('div');
      result.append(out);
    }
    if (!not) showUndo(all);
  }, e => say(e.message, true));

  // Each correction can be taken out alone, and the day can start again from any
  // revision; both are new revisions.
  function showUndo(all) {
    const made = c.settings.corrections || [], why = whyFields(c), marked = new Set();
    const back = el('select', { 'aria-label': t('go_back_to') }, all.filter(r => r.number !== c.revision.number).map(r => el('option', { value: r.number }, `${t('revision_n', { n: r.number })}: ${r.why.slice(0, 40)}`)));
    fill(undo, (made.length > 0 || all.length > 1) && [el('h3', {}, t('take_back')), el('form', { onsubmit: e => {
      e.preventDefault();
      const restore = e.submitter?.value === 'restore';
      if (!restore && !marked.size) return say(t('mark_some'), true);
      c.change(restore ? { restore: +back.value } : { undo: [...marked] }, why.value);
    } },
    made.length > 0 && el('ul', { class: 'made' }, made.map(m => el('li', {}, el('label', { class: 'check' }, el('input', { type: 'checkbox', value: m.id, onchange: e => { if (e.target.checked) marked.add(m.id); else marked.delete(m.id); } }), el('span', {}, correctionWords(m), el('small', {}, `${m.why} – ${m.who}, ${when(m.at)}`)))))),
    el('div', { class: 'fields' }, why.fields),
    made.length > 0 && el('div', { class: 'links' }, el('button', { value: 'undo' }, t('undo_marked'))),
    all.length > 1 && el('div', { class: 'ask' }, back, el('button', { value: 'restore' }, t('start_from'))))]);
  }
}

/** Shows what moved from one revision to another, in a table and old under new on the map. */
async function difference(box, c, from, to) {
  if (from === to) return say(t('same_revision'), true);
  try {
    const [d, old] = await Promise.all([get(`/days/${c.day.id}/revisions/${to}/difference?since=${from}`), get(`/days/${c.day.id}/revisions/${from}/view`)]);
    const shown = to === c.revision.number;
    c.map?.under(shown ? old : null);
    const became = Object.entries(d.counts).map(([k, n]) => t('became_' + k, { n }));
    const quiet = d.lines.filter(l => l.line && l.was.length === 1 && l.was[0] === l.line && !(l.shift_m >= 0.005) && !(Math.abs(l.half_change_m) >= 0.005) && l.class[0].join() === l.class[1].join() && l.utility[0] === l.utility[1]);
    const rows = d.lines.filter(l => !quiet.includes(l)).sort((a, b) => (b.shift_m ?? 1e9) - (a.shift_m ?? 1e9));
    const told = [d.level[0] !== d.level[1] && t('level_changed', { before: t(d.level[0]), after: t(d.level[1]) }), !(Math.abs(d.clock_s[0] - d.clock_s[1]) < 0.005) && t('clock_changed', { before: d.clock_s[0]?.toFixed(2) ?? '–', after: d.clock_s[1]?.toFixed(2) ?? '–' }), d.length_m[0].toFixed(1) !== d.length_m[1].toFixed(1) && t('length_changed', { before: lengthText(d.length_m[0], 1), after: lengthText(d.length_m[1], 1) })].filter(Boolean);
    fill(box, told.length > 0 && el('p', {}, told.join('. ') + '.'),
      became.length > 0 && el('p', {}, became.join('; ') + '.'),
      shown ? el('p', {}, el('small', {}, t('old_under_new'))) : el('p', {}, el('a', { href: `#/day/${c.day.id}/${to}` }, t('show_to_see'))),
      rows.length > 0 && el('table', { class: 'difference' }, el('thead', {}, el('tr', {}, ['line', 'largest_shift', 'half_from_to', 'class_from_to'].map((k, i) => el('th', { scope: 'col', class: i === 1 || i === 2 ? 'n' : null }, t(k))))),
        el('tbody', {}, rows.map(l => el('tr', l.shift_at ? { tabindex: 0, onclick: () => c.map?.mark(l.shift_at, true), onkeydown: e => { if (e.key === 'Enter') c.map?.mark(l.shift_at, true); } } : {},
          el('td', {}, l.line || t('gone_line', { line: l.was[0] }), el('small', {}, became1(l))), el('td', { class: 'n' }, metre(l.shift_m)),
          el('td', { class: 'n' }, `${metre(l.half_m[0])} → ${metre(l.half_m[1])}`, el('small', {}, signed(l.half_change_m))), el('td', {}, l.class[0].join(' ') === l.class[1].join(' ') ? l.class[1].join(' ') || '–' : `${l.class[0].join(' ') || '–'} → ${l.class[1].join(' ') || '–'}`))))),
      quiet.length > 0 && el('p', {}, t('unmoved', { lines: quiet.map(l => l.line).join(', ') })));
  } catch (e) { say(e.message, true); }
}

// became1 says where a line came from, when not from itself.
function became1(l) {
  if (!l.line) return '';
  const parts = [];
  if (!l.was.length) parts.push(t('new_line'));
  else if (l.was.join() !== l.line) parts.push(t('was', { lines: l.was.join(', ') }));
  if (l.utility[0] && l.utility[0] !== l.utility[1]) parts.push(`${l.utility[0]} → ${l.utility[1]}`);
  return parts.join('; ');
}
