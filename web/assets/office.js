// The administrator's screen: accounts, and what was done by whom.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { get, post, patch } from './api.js';

const roles = ['locator', 'technician', 'engineer', 'administrator'];

export async function office(main, session) {
  const people = el('section', { 'aria-labelledby': 'people' }), log = el('section', { 'aria-labelledby': 'log' });
  fill(main, el('div', { class: 'page wide' }, el('h1', {}, t('office')), people, log));
  await Promise.all([showPeople(people, session), showLog(log)]);
  return () => {};
}

const roleChoice = (name, chosen, more = {}) => el('select', { name: 'role', 'aria-label': `${name} – ${t('role_label')}`, ...more }, roles.map(r => el('option', { value: r, selected: r === chosen }, t('role')[r])));

async function showPeople(box, session) {
  const { accounts } = await get('/accounts');
  const again = f => async () => { try { await f(); } catch (x) { say(x.message, true); } showPeople(box, session); };
  const row = a => el('tr', {}, el('th', { scope: 'row' }, a.name),
    el('td', {}, roleChoice(a.name, a.role, { onchange: e => again(() => patch(`/accounts/${encodeURIComponent(a.name)}`, { role: e.target.value }))() })),
    el('td', {}, t(a.closed ? 'account_closed' : 'account_open')),
    el('td', {}, el('button', { 'aria-label': `${t(a.closed ? 'account_reopen' : 'account_close')}: ${a.name}`, onclick: again(() => patch(`/accounts/${encodeURIComponent(a.name)}`, { closed: !a.closed })) }, t(a.closed ? 'account_reopen' : 'account_close'))));
  const form = el('form', { class: 'fields', onsubmit: async e => {
    e.preventDefault();
    const f = form.elements;
    try {
      await post('/accounts', { name: f.name.value.trim(), role: f.role.value, password: f.password.value });
      say(t('account_made', { name: f.name.value }));
      showPeople(box, session);
    } catch (x) { say(x.message, true); }
  } }, el('label', {}, t('login_name'), el('input', { name: 'name', required: true, maxlength: 60, autocomplete: 'off' })), el('label', {}, t('role_label'), roleChoice(t('account_new'), 'locator')),
  el('label', {}, t('password_first'), el('input', { name: 'password', type: 'password', required: true, autocomplete: 'new-password' }), el('small', {}, t('password_hint'))), el('button', {}, t('account_add')));
  fill(box, el('h2', { id: 'people' }, t('people')), el('p', {}, t('people_lead')),
    session.login ? [el('div', { class: 'scroll', tabindex: 0, role: 'region', 'aria-labelledby': 'people' }, el('table', {}, el('thead', {}, el('tr', {}, ['login_name', 'role_label', 'account_state', 'account_do'].map(k => el('th', { scope: 'col' }, t(k))))), el('tbody', {}, accounts.map(row)))), el('h3', {}, t('account_new')), form] : el('p', {}, t('people_none')));
}

async function showLog(box) {
  const body = el('tbody'), more = el('button', { onclick: () => add() }, t('log_more'));
  let before = '';
  async function add() {
    try {
      const { entries } = await get('/audit' + before);
      body.append(...entries.map(e => el('tr', {}, el('td', {}, e.at.slice(0, 19).replace('T', ' ') + ' UTC'), el('td', {}, e.who), el('td', {}, e.did), el('td', {}, [e.about.length === 64 ? e.about.slice(0, 12) + '…' : e.about, e.detail].filter(Boolean).join(' – ')), el('td', {}, e.from || ''))));
      more.hidden = entries.length < 500;
      if (entries.length) before = '?before=' + entries.at(-1).id;
    } catch (x) { say(x.message, true); }
  }
  fill(box, el('h2', { id: 'log' }, t('log')), el('p', {}, t('log_lead')), el('div', { class: 'scroll', tabindex: 0, role: 'region', 'aria-labelledby': 'log' }, el('table', {}, el('thead', {}, el('tr', {}, ['log_when', 'log_who', 'log_what', 'log_about', 'log_from'].map(k => el('th', { scope: 'col' }, t(k))))), body)), more);
  await add();
}
