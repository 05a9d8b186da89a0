// What a reader chooses for this browser: units, look, grid. Kept here alone, and
// nothing of it changes what is computed.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { put } from './api.js';

const choices = { units: ['metric', 'imperial'], look: ['system', 'light', 'dark'], grid: ['metres', 'degrees', 'none'], base: ['on', 'off'] };

/** The choices; what was never chosen is the first of each. */
export function prefs() {
  const out = {};
  for (const [k, list] of Object.entries(choices)) {
    let kept = null;
    try { kept = localStorage.getItem('tracemap.' + k); } catch { /* a browser that keeps nothing */ }
    out[k] = list.includes(kept) ? kept : list[0];
  }
  return out;
}

export function setPref(key, value) {
  try { localStorage.setItem('tracemap.' + key, value); } catch { /* it holds until the page is left */ }
  applyLook();
}

/** Has the page look as chosen. */
export function applyLook() { document.documentElement.dataset.look = prefs().look; }

/** The screen of what is one's own: choices and, where people log in, the account. */
export function me(main, session, leave) {
  const pick = key => el('fieldset', {}, el('legend', {}, t('pref_' + key)), choices[key].map(v => el('label', { class: 'check' },
    el('input', { type: 'radio', name: key, value: v, checked: prefs()[key] === v, onchange: () => setPref(key, v) }), t(`${key}_${v}`))));
  fill(main, el('div', { class: 'page' }, el('h1', {}, t('mine')), el('p', {}, t('mine_lead')), ['units', 'look', 'grid', 'base'].map(pick), session.login && account(session, leave)));
  return () => {};
}

function account(session, leave) {
  const word = (key, kind) => el('label', {}, t(key), el('input', { type: 'password', name: key, required: true, autocomplete: kind }), kind === 'new-password' && el('small', {}, t('password_hint')));
  const form = el('form', { class: 'slim', onsubmit: async e => {
    e.preventDefault();
    const [old, fresh, again] = ['password_old', 'password_new', 'password_again'].map(k => form.elements[k].value);
    if (fresh !== again) return say(t('password_differs'), true);
    try {
      await put('/session/password', { old, new: fresh });
      form.reset();
      say(t('password_changed'));
    } catch (x) { say(x.message, true); }
  } }, word('password_old', 'current-password'), word('password_new', 'new-password'), word('password_again', 'new-password'), el('button', {}, t('password_change')));
  return [el('h2', {}, t('account_of', { name: session.user, role: t('role')[session.role] })), el('p', {}, el('button', { onclick: leave }, t('logout'))), el('h3', {}, t('password_change')), form];
}
