// One revision of a day: map, profile and panels, tied together.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { get, post } from './api.js';
import { drawMap } from './map.js';
import { drawProfile, valuesAt } from './profile.js';
import * as panels from './panels.js';
import { stateWords } from './home.js';

const tabs = ['summary', 'revisit', 'clock', 'rows', 'files', 'history'];

export async function day(main, id, number, session) {
  const d = await get('/days/' + id);
  const revision = number ? await get(`/days/${id}/revisions/${number}`) : d.latest;
  const crumb = document.getElementById('crumb');
  fill(crumb, el('strong', {}, d.title), el('span', {}, t('revision_n', { n: revision.number })), revision.outcome && el('span', { class: 'verdict ' + revision.outcome.level }, t(revision.outcome.level)),
    revision.number < d.latest.number && el('a', { href: '#/day/' + id }, t('newer') + ' ' + t('see_newest')));
  if (revision.state !== 'done') return waiting(main, d, revision);
  return draw(main, d, revision, session, await get(`/days/${id}/revisions/${revision.number}/view`));
}

// waiting shows how far a revision has come, or why it has no map and what to
// change.
function waiting(main, d, revision) {
  let off = false, timer;
  const page = el('div', { class: 'page' });
  fill(main, page);
  const c = { day: d, revision, settings: revision.settings, mayChange: revision.number === d.latest.number, session: { schemes: ['none'] }, change: change(d, revision) };
  const look = async () => {
    try {
      const [r, { work }] = await Promise.all([get(`/days/${d.id}/revisions/${revision.number}`), get('/work')]);
      if (off) return;
      if (r.state === 'done') return dispatchEvent(new HashChangeEvent('hashchange'));
      const w = work.find(x => x.day === d.id && x.revision === r.number), open = r.state === 'waiting' || r.state === 'computing';
      const parts = [el('p', { class: 'notice' + (open ? '' : ' error'), role: 'status' }, stateWords(r, w)), open && el('progress', { max: w?.all || 1, value: w?.all ? w.done : undefined, 'aria-label': d.title })];
      if (open) { fill(page, parts); timer = setTimeout(look, 500); return; }
      const form = el('div');
      fill(page, parts, form);
      panels.history(form, c);
    } catch (e) { say(e.message, true); if (!off) timer = setTimeout(look, 3000); }
  };
  look();
  return () => { off = true; clearTimeout(timer); };
}

// change makes a new revision with other settings.
const change = (d, revision) => async (settings, why) => {
  try {
    await post(`/days/${d.id}/revisions`, { base: revision.number, settings, why });
    if (location.hash === '#/day/' + d.id) dispatchEvent(new HashChangeEvent('hashchange'));
    else location.hash = '#/day/' + d.id;
  } catch (e) { say(e.message, true); }
};

function draw(main, d, revision, session, view) {
  const mapBox = el('div', { id: 'map' }), plots = el('div', { class: 'plots', tabindex: 0, role: 'group', 'aria-label': `${t('profile')}. ${t('keys')}` }), reads = el('p', { class: 'reads', 'aria-live': 'polite' }, t('pick'));
  const parts = view.lines.flatMap(line => line.parts.map(part => ({ line, part }))).filter(p => p.part.vertices.length > 0);
  const which = el('select', { 'aria-label': t('line'), onchange: e => c.pick(parts[+e.target.value].part, 0, true) }, parts.map((p, i) => el('option', { value: i }, `${view.looks[p.line.utility].letters} ${p.part.name}`)));
  const key = el('div', { class: 'over key' }), bar = el('div', { class: 'scale' });
  const by = el('select', { onchange: () => colour() }, ['utility', 'fix', 'width', 'depth', 'flags'].map(k => el('option', { value: k }, t('by_' + k))));
  const toggle = name => el('label', {}, el('input', { type: 'checkbox', checked: true, onchange: e => c.map.show(name, e.target.checked) }), t(name));
  const north = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  for (const [k, v] of Object.entries({ width: 30, height: 40, viewBox: '0 0 30 40', role: 'img', 'aria-label': 'north is up' })) north.setAttribute(k, v);
  const arrow = document.createElementNS('http://www.w3.org/2000/svg', 'path');
  arrow.setAttribute('d', 'M15 2 L23 30 L15 24 L7 30 Z');
  arrow.setAttribute('fill', 'currentColor');
  north.append(arrow);
  const panel = el('div', { class: 'panel', role: 'tabpanel', tabindex: 0, id: 'panel' });
  const buttons = tabs.map(k => el('button', { role: 'tab', id: 'tab-' + k, 'aria-controls': 'panel', onclick: () => { open(k); panelled(); }, onkeydown: e => { const n = { ArrowRight: 1, ArrowLeft: -1 }[e.key]; if (n) { const to = (tabs.indexOf(k) + n + tabs.length) % tabs.length; open(tabs[to]); buttons[to].focus(); } } }, t(k)));
  const toMap = el('button', { class: 'phone', 'aria-pressed': 'true', onclick: () => { screen.classList.remove('panelled'); toMap.setAttribute('aria-pressed', 'true'); } }, t('plan'));
  const screen = el('div', { class: 'day' },
    el('section', { class: 'plan', 'aria-label': t('plan') }, mapBox,
      el('div', { class: 'over tools' }, el('label', {}, t('colour_by'), by), toggle('corridors'), toggle('dots'), el('button', { onclick: () => c.map.fit() }, t('fit'))), key, el('div', { class: 'over compass' }, el('span', { class: 'north' }, t('north')), north, bar)),
    el('section', { class: 'profile', 'aria-label': t('profile') }, el('div', { class: 'bar' }, which, reads), plots),
    el('section', { class: 'side' }, el('div', { class: 'tabs' }, toMap, el('div', { role: 'tablist', class: 'row' }, buttons)), panel));
  fill(main, screen);

  const c = { day: d, revision, view, session, settings: revision.settings, mayChange: revision.number === d.latest.number, change: change(d, revision) };
  let shown = null, at = 0, profile = null, tab = '';
  c.pick = (part, s, follow) => {
    if (part !== shown) {
      shown = part;
      profile?.close();
      which.value = parts.findIndex(p => p.part === part);
      const line = parts.find(p => p.part === part).line;
      profile = drawProfile(plots, part, view.readings.filter(r => r.line === line.id && r.part === part.number), s2 => c.pick(part, s2));
    }
    at = Math.max(0, Math.min(part.length, s));
    const v = valuesAt(part, at), two = x => x === null ? t('no_depth') : x.toFixed(2) + ' m';
    c.map.mark(v.at, follow);
    profile.mark(at);
    reads.textContent = t('here', { s: at.toFixed(1) + ' m', d: two(v.depth), dd: two(v.depth95), w: two(v.half), c: v.current === null ? t('no_depth') : v.current.toFixed(1) + ' mA' }) + ` · ${t('fix')[v.fix] || v.fix}`;
  };
  c.choose = r => {
    const p = parts.find(x => x.line.id === r.line && x.part.number === r.part);
    if (p && r.s !== null) c.pick(p.part, r.s, true);
    else if (r.at) c.map.mark(r.at, true);
    open('rows');
    panelled();
    c.markRow(r);
  };
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
    buttons.forEach((b, i) => { b.setAttribute('aria-selected', tabs[i] === k); b.tabIndex = tabs[i] === k ? 0 : -1; });
    panel.setAttribute('aria-labelledby', 'tab-' + k);
    c.goTo = c.markRow = null;
    panels[k](panel, c);
  }
  function colour() {
    fill(key, c.map.colour(by.value).map(k => { const i = el('i'); i.style.borderTopColor = k.colour; i.style.borderTopStyle = !k.dash ? 'solid' : k.dash[0] === '2' ? 'dotted' : 'dashed'; return el('span', {}, i, k.name); }));
  }
  c.map = drawMap(mapBox, view, { pick: c.pick, choose: c.choose, place: i => { open('revisit'); panelled(); c.goTo(i); } });
  colour();
  c.map.scale(bar);
  open('summary');
  if (parts.length) c.pick(parts[0].part, 0);
  document.documentElement.dataset.drawn = `${d.id}/${revision.number}`;
  return () => { delete document.documentElement.dataset.drawn; profile?.close(); c.map.close(); };
}
