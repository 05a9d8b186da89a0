// What a person means to change, until it is worked out: readings chosen, changes
// gathered, and a change that somebody else overtook. Nothing of it is lost by a
// reload or by another person's revision.
import { t } from './text.js';
import { fromMetres, unit } from './units.js';
import { get, post } from './api.js';

const read = key => { try { return JSON.parse(sessionStorage.getItem(key)); } catch { return null; } };
const write = (key, v) => { if (v === null) sessionStorage.removeItem(key); else sessionStorage.setItem(key, JSON.stringify(v)); };

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

/** The changes gathered for a day: {kind, rows, value, n}. */
export function basketOf(day) {
  const key = 'changes-' + day;
  let items = read(key) || [];
  const set = list => { items = list; write(key, items.length ? items : null); };
  return { get items() { return items; }, add(...more) { set([...items, ...more]); }, drop(i) { set(items.filter((_, k) => k !== i)); }, clear() { set([]); } };
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
