// Coming in: the form where people log in, as a screen, or over a page that is
// open when its session has ended, so that nothing typed there is lost.
import { el, fill } from './dom.js';
import { t } from './text.js';
import { post } from './api.js';

function form(done) {
  const told = el('p', { class: 'notice error', role: 'alert', hidden: true });
  const f = el('form', { class: 'slim', onsubmit: async e => {
    e.preventDefault();
    told.hidden = true;
    try {
      done(await post('/login', { name: f.elements.name.value, password: f.elements.password.value }));
    } catch (x) { fill(told, x.message); told.hidden = false; f.elements.password.select(); }
  } },
  el('label', {}, t('login_name'), el('input', { name: 'name', required: true, autocomplete: 'username', autocapitalize: 'none', spellcheck: 'false' })),
  el('label', {}, t('login_password'), el('input', { name: 'password', type: 'password', required: true, autocomplete: 'current-password' })),
  told, el('button', { class: 'main' }, t('login')));
  return f;
}

/** Shows the form as the whole screen; done(session) once somebody is in. */
export function door(main, done) {
  const f = form(done);
  fill(main, el('div', { class: 'page' }, el('h1', {}, t('login')), el('p', {}, t('login_lead')), f));
  f.elements.name.focus();
}

/** Asks again over the open page. */
export function doorAgain(user, done) {
  if (document.querySelector('dialog.door')) return;
  const box = el('dialog', { class: 'door', 'aria-labelledby': 'door-title' }, el('h2', { id: 'door-title' }, t('login_again')), el('p', {}, t('login_again_lead')), form(s => { box.close(); box.remove(); done(s); }));
  document.body.append(box);
  box.querySelector('input').value = user || '';
  box.showModal();
  if (user) box.querySelector('input[type=password]').focus();
}
