// Home: files come in, days are proposed and started, days that are there are listed.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { fromMetres, lengthText, toMetres, unit } from './units.js';
import { get, post, del, send } from './api.js';
import { fetchFile } from './panels.js';
import { basketOf } from './changes.js';

// ofReceiver tells logs that say where the receiver was.
const ofReceiver = kind => kind === 'nmea' || kind === 'track';

export async function home(main, session) {
  const files = new Map(); // key → {file, state, original}
  let days = [], lost = [];
  const list = el('ul', { class: 'files', 'aria-label': t('files') });
  const found = el('section', { class: 'proposals' });
  const kept = el('section', { 'aria-labelledby': 'kept' });
  const input = el('input', { type: 'file', multiple: true, id: 'choose', class: 'away', onchange: () => { add(input.files); input.value = ''; } });
  const drop = el('section', { class: 'drop', 'aria-labelledby': 'bring' },
    el('h1', { id: 'bring' }, t('home_title')), el('p', {}, t('home_lead')), input, el('label', { for: 'choose', class: 'button main' }, t('choose')));
  if (!session.rights.upload) fill(drop, el('h1', { id: 'bring' }, t('kept_days')), el('p', {}, t('see_only')));
  fill(main, el('div', { class: 'page' }, drop, list, found, kept));

  const over = e => { e.preventDefault(); drop.classList.toggle('aim', e.type === 'dragover'); if (e.type === 'drop') add(e.dataTransfer.files); };
  if (session.rights.upload) for (const kind of ['dragover', 'dragleave', 'drop']) main.addEventListener(kind, over);

  function add(chosen) {
    for (const file of chosen) files.set(`${file.name}/${file.size}/${file.lastModified}`, { file, state: t('queued'), share: 0 });
    show();
    pump();
  }

  let busy = 0;
  function pump() {
    for (const f of files.values()) {
      if (busy >= 2) return;
      if (f.started) continue;
      f.started = true;
      busy++;
      send(f.file, share => { f.share = share; f.state = share < 1 ? t('sending', { pct: Math.floor(share * 100) }) : t('looking'); show(); })
        .then(r => { f.original = r.original; f.share = 1; f.state = r.known ? t('known') : t('kept'); }, e => { f.error = e.message; })
        .finally(() => { busy--; show(); pump(); if (!busy) sort(); });
    }
  }

  function show() {
    fill(list, [...files.values()].map(f => {
      const o = f.original;
      return el('li', { class: f.error || o?.kind === 'unknown' ? 'bad' : '' },
        el('span', { class: 'kind' }, o ? t(ofReceiver(o.kind) ? 'receiver' : o.kind) : '…'), el('span', { class: 'fname' }, f.file.name),
        el('span', { class: 'state' }, f.error || (o?.kind === 'unknown' ? t('unknown_is', { what: o.what }) : f.state)),
        f.error && el('button', { onclick: () => { f.error = null; f.started = false; f.state = t('queued'); show(); pump(); } }, t('again')),
        !o && !f.error && el('progress', { max: 1, value: f.share, 'aria-label': f.file.name }));
    }));
  }

  async function sort() {
    const originals = [...files.values()].filter(f => f.original).map(f => ({ sha256: f.original.sha256, name: f.file.name }));
    if (!originals.length) return;
    try {
      const answer = await post('/proposals', { originals });
      days = answer.days.map(d => ({ ...d, settings: {} }));
      lost = [];
      propose();
    } catch (e) { say(e.message, true); }
  }

  function propose() {
    days = days.filter(d => d.originals.length);
    for (const d of days) {
      const kinds = new Set(d.originals.map(o => o.kind));
      d.lacks = ![...kinds].some(ofReceiver) ? 'receiver' : !kinds.has('readings') ? 'readings' : '';
    }
    if (!days.length) return fill(found);
    const ready = days.filter(isReady);
    fill(found, el('h2', {}, t('proposals')), el('p', {}, t('proposals_lead')), days.map(card),
      ready.length > 1 && el('button', { class: 'main', onclick: () => start(ready) }, t('compute_all', { n: ready.length })));
  }

  /** A day may be processed: its files are complete, and where it is not sure that they belong together, somebody has said so. */
  const isReady = d => !d.lacks && (!d.unsure || d.confirmed);

  function card(d, i) {
    const move = o => el('select', { 'aria-label': `${o.name} ${t('move_to')}`, onchange: e => {
      const to = e.target.value;
      d.originals = d.originals.filter(x => x !== o);
      if (to === 'new') days.push({ title: o.name, originals: [o], settings: {} });
      else if (to === 'out') lost.push(o);
      else days[+to].originals.push(o);
      propose();
    } }, days.map((x, k) => el('option', { value: k, selected: k === i }, x.title)), el('option', { value: 'new' }, t('new_day')), el('option', { value: 'out' }, t('leave_out')));
    const field = (key, props) => el('label', {}, t(key, { unit: unit() }), el('input', props), props['data-hint'] && el('small', {}, props['data-hint']));
    return el('article', { class: 'card' },
      field('title', { value: d.title, maxlength: 200, oninput: e => { d.title = e.target.value; } }),
      el('ul', { class: 'inside' }, d.originals.map(o => el('li', {}, el('span', { class: 'kind' }, t(ofReceiver(o.kind) ? 'receiver' : 'readings')), el('span', { class: 'fname' }, o.name),
        el('span', { class: 'state' }, (o.from || '').replace('T', ' ').replace('Z', '')), move(o)))),
      d.lacks && el('p', { class: 'notice' }, t('lacks_' + d.lacks)), d.unsure && el('div', { class: 'notice' }, t('unsure'), el('label', { class: 'check' }, el('input', { type: 'checkbox', checked: !!d.confirmed, onchange: e => { d.confirmed = e.target.checked; propose(); } }), ' ' + t('confirm'))),
      el('div', { class: 'fields' },
        field('antenna', { type: 'number', step: '0.01', min: 0, max: 100, inputmode: 'decimal', value: d.settings.antenna_height_m === undefined ? '' : +fromMetres(d.settings.antenna_height_m).toFixed(3), 'data-hint': t('antenna_hint', { length: lengthText(2) }), oninput: e => { d.settings.antenna_height_m = e.target.value === '' ? undefined : +toMetres(+e.target.value).toFixed(4); } }),
        field('zone', { value: d.settings.zone ?? '', placeholder: 'Europe/Oslo', 'data-hint': t('zone_hint'), oninput: e => { d.settings.zone = e.target.value.trim() || undefined; } })),
      el('button', { class: 'main', disabled: !isReady(d), onclick: () => start([d]) }, t('compute')));
  }

  async function start(list) {
    for (const d of list) {
      try {
        await post('/days', { title: d.title, originals: d.originals.map(o => ({ sha256: o.sha256, name: o.name })), settings: d.settings });
        days.splice(days.indexOf(d), 1);
        for (const [k, f] of files) if (d.originals.some(o => o.sha256 === f.original?.sha256)) files.delete(k);
      } catch (e) { say(e.message, true); }
    }
    show();
    propose();
    refresh();
  }

  let timer, off = false;
  async function refresh() {
    clearTimeout(timer);
    let wait = 0;
    try {
      const [{ days: all }, { work }] = await Promise.all([get('/days'), get('/work')]);
      if (off) return;
      wait = work.length ? 700 : 0;
      const shown = document.activeElement?.getAttribute?.('href');
      fill(kept, el('h2', { id: 'kept' }, t('kept_days')), all.length ? [together(all), el('ul', { class: 'days' }, all.map(d => row(d, work.find(w => w.day === d.id && w.revision === d.latest.number))))] : el('p', {}, t('no_days')));
      if (shown?.startsWith('#/day')) kept.querySelector(`a[href="${shown}"]`)?.focus();
    } catch (e) { say(e.message, true); wait = 3000; }
    if (wait && !off) timer = setTimeout(refresh, wait);
  }

  // Several days as one GeoPackage: ticked one by one, or a whole week.
  const ticked = new Set();
  const monday = d => { const at = new Date(d.latest.outcome.from); at.setUTCDate(at.getUTCDate() - (at.getUTCDay() + 6) % 7); return at.toISOString().slice(0, 10); };
  function together(all) {
    const done = all.filter(d => d.latest.state === 'done'), weeks = [...new Set(done.filter(d => d.latest.outcome.from).map(monday))].sort().reverse();
    if (done.length < 2) return null;
    const link = el('button', { onclick: () => { if (ticked.size) fetchFile(`api/v1/geopackage?days=${[...ticked].join(',')}&crs=${encodeURIComponent(crs.value.trim())}`, `tracemap-${ticked.size}-days.gpkg`); } }), crs = el('input', { 'aria-label': t('crs'), placeholder: t('crs_any'), maxlength: 12, value: together.crs || '', oninput: e => { together.crs = e.target.value; } });
    together.show = () => { link.textContent = t('one_gpkg', { n: ticked.size }); link.disabled = !ticked.size; };
    together.show();
    return el('div', { class: 'together' }, el('select', { 'aria-label': t('tick_week'), onchange: e => { ticked.clear(); for (const d of done) if (e.target.value === 'all' || d.latest.outcome.from && monday(d) === e.target.value) ticked.add(d.id); refresh(); } },
      el('option', { value: '' }, t('tick_week')), weeks.map(w => el('option', { value: w }, t('week_of', { day: w }))), el('option', { value: 'all' }, t('all_days'))), crs, link);
  }

  function row(d, work) {
    const r = d.latest, o = r.outcome;
    return el('li', {}, r.state === 'done' && el('input', { type: 'checkbox', 'aria-label': t('tick_day', { title: d.title }), checked: ticked.has(d.id), onchange: e => { if (e.target.checked) ticked.add(d.id); else ticked.delete(d.id); together.show?.(); } }), el('a', { href: `#/day/${d.id}` }, d.title),
      r.state === 'done' && el('span', { class: 'verdict ' + o.level }, t(o.level)),
      r.state === 'done' && el('span', { class: 'state' }, [t('lines_n', { n: o.lines }), t('places_n', { n: o.places }), t('revision_n', { n: r.number })].join(' · ')),
      r.locked && el('span', { class: 'locked' }, t('handed_over')), basketOf(d.id).count > 0 && el('span', { class: 'unsaved' }, t('unsaved_n', { n: basketOf(d.id).count })),
      r.state !== 'done' && el('span', { class: 'state' }, stateWords(r, work)),
      work && el('progress', { max: work.all || 1, value: work.all ? work.done : undefined, 'aria-label': d.title }),
      work && el('button', { onclick: () => del(`/days/${d.id}/revisions/${r.number}/work`).catch(e => say(e.message, true)).then(refresh) }, t('stop')));
  }

  refresh();
  return () => { off = true; clearTimeout(timer); for (const kind of ['dragover', 'dragleave', 'drop']) main.removeEventListener(kind, over); };
}

/** What a revision without a map is doing, or why it has none. */
export function stateWords(r, work) {
  if (r.state === 'computing') return t('computing', { stage: work?.stage || '…' });
  if (r.state === 'waiting') return t('waiting');
  return `${t(r.state)}: ${r.message}`;
}
