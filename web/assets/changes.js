// What a person means to change, until it is worked out: readings chosen, changes
// gathered, and a change that somebody else overtook. Nothing of it is lost by a
// reload or by another person's revision.
import { t } from './text.js';
import { fromMetres, unit } from './units.js';
import { get, post } from './api.js';

// Kept in the browser for the person who is logged in, so that neither a reload nor a
// closed tab loses it. A browser that keeps nothing has it until the page is left.
let person = '';
export const keepFor = name => { person = name; };
const unkept = new Map();
const read = key => { try { return JSON.parse(localStorage.getItem(`tracemap.${person}.${key}`)); } catch { return unkept.get(key) ?? null; } };
const write = (key, v) => {
  const full = `tracemap.${person}.${key}`;
  try { if (v === null) localStorage.removeItem(full); else localStorage.setItem(full, JSON.stringify(v)); } catch { unkept.set(key, v); }
  dispatchEvent(new Event('pending'));
};
addEventListener('storage', e => { if (e.key?.startsWith('tracemap.')) dispatchEvent(new Event('pending')); }); // another tab

/** Rows of the log for chosen readings: a span goes on as long as every reading in it is chosen. */
export function spansOf(chosen, all) {
  const files = new Map();
  for (const r of all) files.set(r.file, [...(files.get(r.file) || []), r]);
  const out = [];
  for (const [file, list] of files) {
    let open = null;
    for (const r of list.toSorted((a, b) => a.row - b.row)) {
      if (!chosen.has(r)) { open = null; continue; }
      if (open) open.to = r.row;
      else out.push(open = { file, from: r.row, to: r.row });
    }
  }
  return out;
}

/** The changes gathered for a day: corrections {kind, rows, value, n}, and a draft of settings, null for one taken out. */
export function basketOf(day) {
  const key = 'changes-' + day;
  const now = () => ({ items: [], draft: {}, ...read(key) });
  const put = b => write(key, b.items.length || Object.keys(b.draft).length ? b : null);
  return {
    get items() { return now().items; }, get draft() { return now().draft; },
    get count() { const b = now(); return b.items.length + Object.keys(b.draft).length; },
    add(...more) { const b = now(); put({ ...b, items: [...b.items, ...more] }); },
    drop(i) { const b = now(); put({ ...b, items: b.items.filter((_, k) => k !== i) }); },
    /** Keeps what a person has typed in settings and not yet saved. */
    drafted(before, after) { put({ ...now(), draft: Object.fromEntries(changedSettings(before, after).map(k => [k, after[k] ?? null])) }); },
    /** Settings with the draft in them. */
    settings(before) { return Object.fromEntries(Object.entries({ ...before, ...now().draft }).filter(([, v]) => v !== null)); },
    /** Everything gathered, as the body of a new revision. */
    body(before) {
      const b = now(), corrections = b.items.map(({ kind, rows, value }) => ({ kind, rows, ...(value ? { value } : {}) }));
      return { ...(corrections.length && { corrections }), ...(Object.keys(b.draft).length && { settings: this.settings(before) }) };
    },
    put,
    /** Forgets what a saved body holds, or everything; gives what was there. */
    clear(body) {
      const b = now(), saved = ([k, v]) => !body || body.settings && same(body.settings[k] ?? null, v);
      put({ items: !body || body.corrections ? [] : b.items, draft: Object.fromEntries(Object.entries(b.draft).filter(x => !saved(x))) });
      return b;
    },
  };
}

/** A change that was overtaken: {body, settings, newer}; null when none. */
export const overtaken = day => read('overtaken-' + day);
export const setOvertaken = (day, v) => write('overtaken-' + day, v);

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

/** What a person changed in settings: names whose value differs. */
export function changedSettings(before, after) {
  return [...new Set([...Object.keys(before), ...Object.keys(after)])].filter(k => k !== 'corrections' && !same(before[k], after[k]));
}

/** Asks for a new revision on top of base; body holds settings, corrections, undo or restore. */
export const revise = (day, base, body) => post(`/days/${day}/revisions`, { ...body, base });

/** Makes an overtaken change on top of the newest revision: their settings hold where mine did not differ. */
export async function reviseOnTop(day, mine) {
  const { latest } = await get('/days/' + day), body = { ...mine.body };
  if (body.settings) {
    const merged = { ...latest.settings };
    for (const k of changedSettings(mine.settings, body.settings)) merged[k] = body.settings[k];
    body.settings = merged;
  }
  if (body.undo) {
    const there = (latest.settings.corrections || []).map(c => c.id);
    body.undo = body.undo.filter(id => there.includes(id));
  }
  return revise(day, latest.number, body);
}

const settingNames = { antenna_height_m: 'antenna', antenna_forward_m: 'forward', antenna_right_m: 'right', max_gap_m: 'gap', clock_offset: 'clock', sync: 'sync_marks', zone: 'zone', frame: 'frame', scheme: 'scheme', crs: 'crs', units: 'units', job: 'job', operator: 'operator', instrument: 'instrument', note: 'note' };
const plain = v => v === undefined ? t('not_set') : Array.isArray(v) ? v.join(', ') : String(v);

// Lengths are told in the reader's unit, as their names say.
const shown = (name, v) => typeof v === 'number' && name.endsWith('_m') ? plain(+fromMetres(v).toFixed(3)) : plain(v);

export const settingName = k => t(settingNames[k] || 'settings', { unit: unit() });

/** A draft of settings, in words. */
export const draftWords = (before, draft) => Object.entries(draft).map(([name, v]) => t('set_from_to', { name: settingName(name), before: shown(name, before[name]), after: shown(name, v ?? undefined) }));

const rowsText = rows => rows.slice(0, 3).map(s => t(s.from === s.to ? 'row_one' : 'row_span', { file: s.file, from: s.from, to: s.to })).join(', ') + (rows.length > 3 ? ' …' : '');

/** What a correction does, in words. */
export function correctionWords(c) {
  const what = c.kind === 'line' && !c.value ? t('did_nameless') : t('did_' + c.kind, { value: c.value });
  return `${what}: ${rowsText(c.rows)}`;
}

/** One thing in which revisions differ, in words. */
export function changeWords(c) {
  if (c.added) return correctionWords(c.added);
  if (c.undone) return t('undone', { what: correctionWords(c.undone) });
  return t('set_from_to', { name: settingName(c.setting), before: shown(c.setting, c.before), after: shown(c.setting, c.after) });
}
