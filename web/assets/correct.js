// Correcting a day: choose readings, set them aside or back, give them to other
// lines, name, join and cut lines, set utilities. What is gathered here is worked
// out together as one revision, with a reason.
import { el, fill } from './dom.js';
import { t } from './text.js';
import { fromMetres, lengthText, toMetres, unit } from './units.js';
import { spansOf, correctionWords } from './changes.js';

const folded = name => name.toLowerCase().replaceAll(/[\s\-_./]/g, '');

/** Fields that every change asks for: why, and leave to open what was handed over. */
export function whyFields(c) {
  const why = el('input', { required: true, maxlength: 500 });
  const locked = c.day.latest.locked, reopen = el('input', { type: 'checkbox', required: true });
  return {
    fields: [el('label', {}, t('why'), why, el('small', {}, t('why_hint'))), locked && el('label', { class: 'check' }, reopen, ' ' + t('reopen'))],
    get value() { return { why: why.value, ...(locked ? { reopen: reopen.checked } : {}) }; },
  };
}

/** Why a person may not change what is shown; '' where they may. */
export function mayNot(c) {
  if (c.revision.number < c.day.latest.number) return t('only_newest');
  const far = c.session.rights?.correct;
  if (far === 'all') return '';
  if (far === 'own' && c.day.created_by === c.session.user) return c.day.latest.locked ? t('own_locked') : '';
  return t('no_right');
}

export function correct(box, c) {
  const not = mayNot(c);
  if (not) return fill(box, el('h2', {}, t('correct')), el('p', { class: 'notice' }, not));
  const all = c.view.readings, readings = el('section'), line = el('section'), basket = el('section'), names = el('datalist', { id: 'names' }, c.view.lines.map(l => el('option', { value: l.id })));
  const utilities = current => el('select', { 'aria-label': t('utility') }, Object.entries(c.view.looks).map(([k, l]) => el('option', { value: k, selected: k === current }, `${l.letters} ${l.name}`)));
  const add = (list, ...items) => {
    const set = new Set(list);
    if (!set.size) return;
    c.basket.add(...items.map(i => ({ ...i, rows: spansOf(set, all), n: set.size })));
    c.choose([]);
    show();
  };
  const number = (label, value) => el('label', {}, t(label, { unit: unit() }), el('input', { type: 'number', step: '0.1', inputmode: 'decimal', value: fromMetres(value).toFixed(1) }));

  function showReadings() {
    const { line: l, part } = c.shown, chosen = [...c.chosen];
    const from = number('from_station', 0), to = number('to_station', part ? part.length : 0), name = el('input', { list: 'names', maxlength: 80, 'aria-label': t('line_name') }), kind = utilities(chosen[0]?.utility);
    const on = part ? all.filter(r => r.line === l.id && r.part === part.number && r.s !== null) : [];
    const none = chosen.length === 0;
    fill(readings, el('h3', {}, t('readings')),
      part && el('details', { open: none }, el('summary', {}, t('choose_on', { part: part.name })), el('p', {}, el('small', {}, t('choose_how'))),
        el('div', { class: 'fields narrow' }, from, to), el('div', { class: 'links' },
          el('button', { onclick: () => { const a = toMetres(+from.querySelector('input').value), b = toMetres(+to.querySelector('input').value), half = toMetres(0.051); c.choose(on.filter(r => r.s >= a - half && r.s <= b + half)); } }, t('choose_between')),
          el('button', { onclick: () => c.choose(all.filter(r => r.line === l.id)) }, t('choose_line')))),
      el('p', { role: 'status', class: 'count' }, el('strong', {}, t('chosen_n', { n: chosen.length })), !none && el('small', {}, chosen.slice(0, 6).map(r => t('row_where', { file: r.file, row: r.row })).join(', ') + (chosen.length > 6 ? ' …' : ''))),
      el('div', { class: 'links' }, el('button', { disabled: none, onclick: () => add(chosen, { kind: 'aside' }) }, t('set_aside')), el('button', { disabled: none, onclick: () => add(chosen, { kind: 'back' }) }, t('bring_back')), el('button', { disabled: none, onclick: () => c.choose([]) }, t('choose_none'))),
      !none && el('div', { class: 'ask' }, name, el('button', { onclick: () => add(chosen, { kind: 'line', value: name.value.trim() }) }, t('give_to_line'))),
      !none && el('div', { class: 'ask' }, kind, el('button', { onclick: () => add(chosen, { kind: 'utility', value: kind.value }) }, t('give_utility'))));
  }

  // Readings of a line: those on it, and those that the log gives to it though they
  // are not: points, readings without a place, readings set aside.
  const ofLine = l => all.filter(r => r.line === l.id || !r.line && r.given && folded(r.given) === folded(l.id));
  const free = base => { for (let k = 2; ; k++) { const name = `${base}-${k}`; if (!c.view.lines.some(l => folded(l.id) === folded(name))) return name; } };

  function showLine() {
    const { line: l, part, at } = c.shown;
    if (!part) return fill(line);
    const rename = el('input', { value: l.id, maxlength: 80, 'aria-label': t('new_name') }), others = c.view.lines.filter(x => x !== l);
    const join = el('select', { 'aria-label': t('join_with') }, others.map(x => el('option', { value: x.id }, `${c.view.looks[x.utility].letters} ${x.id}`)));
    const cut = el('input', { value: free(l.id), maxlength: 80, 'aria-label': t('name_beyond') }), kind = utilities(l.utility);
    const only = el('input', { type: 'checkbox' });
    fill(line, el('h3', {}, t('line_is', { line: l.id })),
      el('div', { class: 'ask' }, rename, el('button', { onclick: () => { const v = rename.value.trim(); if (v && v !== l.id) add(ofLine(l), { kind: 'line', value: v }); } }, t('rename'))),
      others.length > 0 && el('div', { class: 'ask' }, join, el('button', { onclick: () => add(ofLine(others.find(x => x.id === join.value)), { kind: 'line', value: l.id }) }, t('join_into', { line: l.id }))),
      el('div', { class: 'ask' }, cut, el('button', { id: 'cut', onclick: () => { const v = cut.value.trim(); if (v) add(all.filter(r => r.line === l.id && r.s !== null && (r.part > part.number || r.part === part.number && r.s > c.shown.at)), { kind: 'line', value: v }); } }, t('cut_at', { s: lengthText(at, 1) }))),
      el('div', { class: 'ask' }, kind, el('button', { onclick: () => {
        if (!only.checked) return add(ofLine(l), { kind: 'utility', value: kind.value });
        add(all.filter(r => r.line === l.id && r.part === part.number), { kind: 'line', value: free(l.id) }, { kind: 'utility', value: kind.value });
      } }, t('give_utility'))),
      l.parts.length > 1 && el('label', { class: 'check' }, only, ' ' + t('part_only', { n: part.number })));
  }

  function showBasket() {
    const items = c.basket.items, why = whyFields(c);
    fill(basket, el('h3', {}, t('gathered')), items.length === 0 ? el('p', {}, t('gathered_none')) : el('ol', { class: 'gathered' }, items.map((x, i) => el('li', {}, el('span', {}, correctionWords(x), el('small', {}, t('readings_n', { n: x.n }))), el('button', { class: 'plain', 'aria-label': t('drop_this'), onclick: () => { c.basket.drop(i); } }, '✕')))),
      items.length > 0 && el('form', { onsubmit: e => { e.preventDefault(); c.change({ corrections: c.basket.body(c.settings).corrections }, why.value); } },
        el('div', { class: 'fields' }, why.fields), el('button', { class: 'main' }, t('recompute'))));
  }

  function show() { showReadings(); showLine(); showBasket(); }
  c.onChoosing = yes => box.querySelector('#choosing-here').setAttribute('aria-pressed', yes);
  c.onChosen = showReadings;
  c.onPending = showBasket;
  c.onShown = part => { if (part) { showReadings(); showLine(); } else { const b = line.querySelector('#cut'); if (b) b.textContent = t('cut_at', { s: lengthText(c.shown.at, 1) }); } };
  fill(box, el('h2', {}, t('correct')), el('p', {}, t('correct_lead')), el('button', { id: 'choosing-here', 'aria-pressed': c.choosing(), onclick: () => c.setChoosing(!c.choosing()) }, t('choose_on_map')), names, readings, line, basket);
  show();
}
