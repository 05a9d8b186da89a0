// One revision of a day: map, profile and panels, tied together.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { get } from './api.js';
import { drawMap } from './map.js';
import { imperial, lengthText } from './units.js';
import { drawProfile, valuesAt } from './profile.js';
import * as panels from './panels.js';
import { times } from './widths.js';
import { onLine, revisit } from './revisit.js';
import { clock } from './clock.js';
import { correct, mayNot } from './correct.js';
import { revisions } from './revisions.js';
import { handover } from './handover.js';
import { compare } from './compare.js';
import { basketOf, changeWords, changedSettings, overtaken, revise, reviseOnTop, setOvertaken, settingName } from './changes.js';
import { stateWords } from './home.js';
import { pendingBar } from './pending.js';

const screens = { ...panels, revisit, clock, correct, revisions, handover, compare };
const tabs = ['summary', 'revisit', 'clock', 'rows', 'correct', 'history', 'revisions', 'compare', 'handover', 'files'];
const tabWords = { revisions: 'revisions_tab' };

export async function day(main, id, number, session) {
  const d = await get('/days/' + id);
  const revision = number ? await get(`/days/${id}/revisions/${number}`) : d.latest;
  const crumb = document.getElementById('crumb');
  fill(crumb, el('strong', {}, d.title), el('span', {}, t('revision_n', { n: revision.number })), revision.outcome && el('span', { class: 'verdict ' + revision.outcome.level }, t(revision.outcome.level)), revision.locked && el('span', { class: 'locked' }, t('handed_over')),
    revision.number < d.latest.number && el('a', { href: '#/day/' + id }, t('newer') + ' ' + t('see_newest')));
  if (revision.state !== 'done') return waiting(main, d, revision, session);
  return draw(main, d, revision, session, await get(`/days/${id}/revisions/${revision.number}/view${imperial() ? '?units=imperial' : ''}`));
}

// waiting shows how far a revision has come, or why it has no map and what to
// change.
function waiting(main, d, revision, session) {
  let off = false, timer;
  const page = el('div', { class: 'page' });
  fill(main, page);
  const c = { day: d, revision, settings: revision.settings, session, basket: basketOf(d.id), ...changer(d, revision) }, pending = pendingBar(c, () => look());
  const showPending = () => pending.show();
  addEventListener('pending', showPending);
  const look = async () => {
    try {
      const [r, { work }] = await Promise.all([get(`/days/${d.id}/revisions/${revision.number}`), get('/work')]);
      if (off) return;
      if (r.state === 'done') return dispatchEvent(new HashChangeEvent('hashchange'));
      const w = work.find(x => x.day === d.id && x.revision === r.number), open = r.state === 'waiting' || r.state === 'computing';
      const parts = [el('p', { class: 'notice' + (open ? '' : ' error'), role: 'status' }, stateWords(r, w)), open && el('progress', { max: w?.all || 1, value: w?.all ? w.done : undefined, 'aria-label': d.title })];
      if (open) { fill(page, parts); timer = setTimeout(look, 500); return; }
      const form = el('div');
      fill(page, parts, c.conflictBox, pending.box, form);
      c.showConflict();
      pending.show();
      panels.history(form, c);
      const back = el('div');
      page.append(back);
      revisions(back, c);
    } catch (e) { say(e.message, true); if (!off) timer = setTimeout(look, 3000); }
  };
  look();
  return () => { off = true; clearTimeout(timer); removeEventListener('pending', showPending); };
}

// changer makes new revisions, and keeps a change that somebody else overtook until
// its owner makes it on top of theirs or drops it.
function changer(d, revision) {
  const conflictBox = el('section', { class: 'conflict', 'aria-live': 'assertive', hidden: true });
  const go = tab => {
    if (tab) sessionStorage.setItem('tab-' + d.id, tab);
    if (location.hash === '#/day/' + d.id) dispatchEvent(new HashChangeEvent('hashchange'));
    else location.hash = '#/day/' + d.id;
  };
  const made = body => { setOvertaken(d.id, null); basketOf(d.id).clear(body); go(); };
  const failed = (e, body, settings) => {
    if (e.status !== 409 || !e.more?.newer) return say(e.message, true);
    setOvertaken(d.id, { body, settings, newer: e.more.newer });
    showConflict();
  };
  const change = async (body, why) => {
    const all = { ...body, ...why };
    try { await revise(d.id, revision.number, all); made(all); } catch (e) { failed(e, all, revision.settings); }
  };
  function showConflict() {
    const mine = overtaken(d.id);
    conflictBox.hidden = !mine;
    if (!mine) return fill(conflictBox);
    const theirs = new Set(mine.newer.flatMap(r => r.changes.map(x => x.setting).filter(Boolean))), both = mine.body.settings ? changedSettings(mine.settings, mine.body.settings).filter(k => theirs.has(k)) : [];
    fill(conflictBox, el('h2', {}, t('first_title')), el('ul', {}, mine.newer.map(r => el('li', {}, el('strong', {}, `${t('revision_n', { n: r.number })}, ${r.created_by}: `), r.why, el('small', {}, r.changes.slice(0, 8).map(changeWords).join('; '))))),
      el('p', {}, t('first_lead'), el('small', {}, `${t('yours')}: ${mine.body.why}`)), both.length > 0 && el('p', { class: 'notice' }, t('both_changed', { names: both.map(settingName).join(', ') })),
      el('div', { class: 'links' }, el('button', { class: 'main', onclick: async () => { try { await reviseOnTop(d.id, mine); made(mine.body); } catch (e) { failed(e, mine.body, mine.settings); } } }, t('on_top')),
        el('button', { onclick: () => go() }, t('see_theirs')), el('button', { onclick: () => { setOvertaken(d.id, null); showConflict(); } }, t('drop_mine'))));
  }
  return { change, reload: go, conflictBox, showConflict };
}

function draw(main, d, revision, session, view) {
  const changes = changer(d, revision), { conflictBox } = changes;
  const mapBox = el('div', { id: 'map' }), plots = el('div', { class: 'plots', tabindex: 0, role: 'group', 'aria-label': `${t('profile')}. ${t('keys')}` }), reads = el('p', { class: 'reads', 'aria-live': 'polite' }, t('pick'));
  const parts = view.lines.flatMap(line => line.parts.map(part => ({ line, part }))).filter(p => p.part.vertices.length > 0);
  const which = el('select', { 'aria-label': t('line'), onchange: e => c.pick(parts[+e.target.value].part, 0, true) }, parts.map((p, i) => el('option', { value: i }, `${view.looks[p.line.utility].letters} ${p.part.name}`)));
  const key = el('div', { class: 'over key' }), bar = el('div', { class: 'scale' });
  const by = el('select', { onchange: () => { colours[tab === 'revisit' ? 'revisit' : 'else'] = by.value; colour(); } }, ['utility', 'fix', 'width', 'depth', 'flags'].map(k => el('option', { value: k }, t('by_' + k))));
  const layer = name => el('label', {}, el('input', { type: 'checkbox', checked: true, onchange: e => c.map.show(name, e.target.checked) }), t(name));
  const wide = el('label', {}, el('input', { type: 'checkbox', id: 'wide', onchange: e => { c.map.show('wide', e.target.checked); colour(); } }), t('enlarge', { n: times }));
  const underlay = el('label', { hidden: true }, el('input', { type: 'checkbox', id: 'underlay' }), t('base_map'));
  const north = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  for (const [k, v] of Object.entries({ width: 30, height: 40, viewBox: '0 0 30 40', role: 'img', 'aria-label': t('north_up') })) north.setAttribute(k, v);
  const arrow = document.createElementNS('http://www.w3.org/2000/svg', 'path');
  arrow.setAttribute('d', 'M15 2 L23 30 L15 24 L7 30 Z');
  arrow.setAttribute('fill', 'currentColor');
  north.append(arrow);
  // To go back is a matter of widths; everywhere else what lies there comes first.
  const colours = { revisit: 'width', else: 'utility' };
  let choosing = false;
  const chooseButton = !mayNot({ day: d, revision, session }) && el('button', { id: 'choosing', 'aria-pressed': 'false', onclick: () => { c.setChoosing(!choosing); if (choosing) c.openTab('correct'); } }, t('choosing'));
  const panel = el('div', { class: 'panel', role: 'tabpanel', tabindex: 0, id: 'panel' });
  const buttons = tabs.map(k => el('button', { role: 'tab', id: 'tab-' + k, 'aria-controls': 'panel', onclick: () => { open(k); panelled(); }, onkeydown: e => { const n = { ArrowRight: 1, ArrowLeft: -1 }[e.key]; if (n) { const to = (tabs.indexOf(k) + n + tabs.length) % tabs.length; open(tabs[to]); buttons[to].focus(); } } }, t(tabWords[k] || k)));
  const toMap = el('button', { class: 'phone', 'aria-pressed': 'true', onclick: () => { screen.classList.remove('panelled'); toMap.setAttribute('aria-pressed', 'true'); } }, t('plan'));
  const screen = el('div', { class: 'day' },
    el('section', { class: 'plan', 'aria-label': t('plan') }, mapBox,
      el('div', { class: 'over tools' }, el('label', {}, t('colour_by'), by), layer('corridors'), wide, layer('dots'), underlay, chooseButton, el('button', { onclick: () => c.map.fit() }, t('fit'))), key, el('div', { class: 'over compass' }, el('span', { class: 'north' }, t('north')), north, bar)),
    el('section', { class: 'profile', 'aria-label': t('profile') }, el('div', { class: 'bar' }, which, reads), plots),
    el('section', { class: 'side' }, el('div', { class: 'tabs' }, toMap, el('div', { role: 'tablist', class: 'row' }, buttons)), conflictBox, panel));
  fill(main, screen);

  const c = { day: d, revision, view, session, settings: revision.settings, basket: basketOf(d.id), chosen: new Set(), shown: {}, place: null, ...changes };
  const pending = pendingBar(c, () => { if (tab === 'history') panels.history(panel, c); }), showPending = () => { pending.show(); c.onPending?.(); };
  conflictBox.after(pending.box);
  addEventListener('pending', showPending);
  let shown = null, at = 0, profile = null, tab = '', on = [], last = null;
  c.pick = (part, s, follow) => {
    if (part !== shown) {
      shown = part;
      profile?.close();
      which.value = parts.findIndex(p => p.part === part);
      const line = parts.find(p => p.part === part).line;
      on = view.readings.filter(r => r.line === line.id && r.part === part.number && r.s !== null);
      profile = drawProfile(plots, part, on, { pick: s2 => { if (!choosing) c.pick(part, s2); }, choosing: () => choosing, span: (from, to) => c.choose([...c.chosen, ...on.filter(r => r.s >= from && r.s <= to)]) });
      if (c.chosen.size) profile.chosen(c.chosen);
      c.shown = { line, part };
    }
    const other = c.shown.told !== part;
    at = Math.max(0, Math.min(part.length, s));
    Object.assign(c.shown, { at, told: part });
    const v = valuesAt(part, at), two = x => x === null ? t('no_depth') : lengthText(x);
    c.map.mark(v.at, follow);
    profile.mark(at);
    reads.textContent = t('here', { s: lengthText(at, 1), d: two(v.depth), dd: two(v.depth95), w: two(v.half), c: v.current === null ? t('no_depth') : v.current.toFixed(1) + ' mA' }) + ` · ${t('fix')[v.fix] || v.fix}`;
    const near = on.reduce((best, r) => !best || Math.abs(r.s - at) < Math.abs(best.s - at) ? r : best, null);
    if (near && Math.abs(near.s - at) <= 1.5) { reads.textContent += ` · ${t('row_where', { file: near.file, row: near.row })}`; c.markNear?.(near); }
    c.onShown?.(other ? part : null);
  };
  /** Whether tapping and dragging chooses readings instead of looking at them. */
  c.setChoosing = yes => { choosing = yes; chooseButton.setAttribute('aria-pressed', yes); c.onChoosing?.(yes); };
  c.choosing = () => choosing;
  /** Chooses readings, in place of those chosen before. */
  c.choose = list => {
    c.chosen = new Set(list);
    c.map.chosen(c.chosen);
    profile?.chosen(c.chosen);
    c.onChosen?.();
  };
  function toggle(r, between) {
    const set = new Set(c.chosen), list = view.readings;
    if (between && last) {
      // Along a line the readings between are those between by station, else by row.
      const along = last.line && last.line === r.line && last.part === r.part && last.s !== null && r.s !== null, key = along ? x => x.s : x => list.indexOf(x);
      const [a, b] = [key(last), key(r)].sort((x, y) => x - y);
      for (const x of list) if ((!along || x.line === r.line && x.part === r.part && x.s !== null) && key(x) >= a && key(x) <= b) set.add(x);
    } else if (set.has(r)) set.delete(r);
    else set.add(r);
    last = r;
    c.choose([...set]);
  }
  /** Shows a place to revisit on the map, in the profile and in the list alike. */
  c.goPlace = i => {
    const on = onLine(view, view.revisit[i]);
    c.place = i;
    c.map.go(i, on?.at);
    if (on) c.pick(on.part, on.s);
    else c.map.mark(view.revisit[i].at);
    reads.textContent = `${t('place_n', { n: i + 1 })}: ${on ? reads.textContent : view.revisit[i].reason}`;
    c.openTab('revisit');
    c.markPlace?.(i);
  };
  // Pointing at another line leaves a chosen place alone; a tap on a line leaves it.
  const pointed = (part, s, hover) => {
    if (c.place !== null && hover && part !== shown) return;
    if (c.place !== null && !hover) { c.place = null; c.map.go(null); c.markPlace?.(-1); }
    c.pick(part, s);
  };
  c.look = r => {
    const p = parts.find(x => x.line.id === r.line && x.part.number === r.part);
    if (p && r.s !== null) c.pick(p.part, r.s, true);
    else if (r.at) c.map.mark(r.at, true);
    open('rows');
    panelled();
    c.markRow(r);
  };
  c.openTab = k => { open(k); panelled(); };
  plots.addEventListener('keydown', e => {
    const n = { ArrowRight: 1, ArrowLeft: -1 }[e.key];
    if (!n || !shown) return;
    e.preventDefault();
    c.pick(shown, at + n * (e.shiftKey ? 5 : 0.5), true);
  });
  // On a phone the panel takes the profile's place; Map gives it back.
  function panelled() { screen.classList.add('panelled'); toMap.setAttribute('aria-pressed', 'false'); }
  function open(k) {
    if (k === tab) return;
    tab = k;
    sessionStorage.setItem('tab-' + d.id, k);
    buttons.forEach((b, i) => { b.setAttribute('aria-selected', tabs[i] === k); b.tabIndex = tabs[i] === k ? 0 : -1; });
    panel.setAttribute('aria-labelledby', 'tab-' + k);
    buttons[tabs.indexOf(k)].scrollIntoView({ block: 'nearest', inline: 'nearest' });
    c.markPlace = c.markRow = c.markNear = c.onChosen = c.onShown = c.onChoosing = c.onPending = null;
    c.map?.under(null);
    c.map?.record(null);
    const colourBy = colours[k === 'revisit' ? 'revisit' : 'else'];
    if (by.value !== colourBy) { by.value = colourBy; colour(); }
    screens[k](panel, c);
  }
  function colour() {
    const enlarged = wide.querySelector('input').checked;
    key.classList.toggle('usual', by.value === 'utility' && !enlarged);
    fill(key, enlarged && el('strong', {}, t('wide_key', { n: times })), c.map.colour(by.value).map(k => { const i = el('i'); i.style.borderTopColor = k.colour; i.style.borderTopStyle = !k.dash ? 'solid' : k.dash[0] === '2' ? 'dotted' : 'dashed'; return el('span', {}, i, k.name); }));
  }
  c.map = drawMap(mapBox, view, { pick: pointed, look: c.look, choosing: () => choosing, toggle, place: c.goPlace });
  colour();
  c.map.scale(bar);
  c.map.base().then(b => {
    if (!b) return;
    const box = underlay.querySelector('input');
    box.checked = b.on;
    box.addEventListener('change', () => b.show(box.checked));
    underlay.hidden = false;
  }, e => say(e.message, true));
  c.showConflict();
  pending.show();
  if (parts.length) c.pick(parts[0].part, 0);
  const before = sessionStorage.getItem('tab-' + d.id);
  open(tabs.includes(before) ? before : 'summary');
  document.documentElement.dataset.drawn = `${d.id}/${revision.number}`;
  return () => { delete document.documentElement.dataset.drawn; removeEventListener('pending', showPending); profile?.close(); c.map.close(); };
}
