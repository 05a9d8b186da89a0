// Which screen is shown: #/ is home, #/day/3 a day, #/day/3/2 one revision of it,
// #/me the reader's own choices, #/office the administrator's.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { get, post } from './api.js';
import { home } from './home.js';
import { day } from './day.js';
import { me, applyLook } from './reader.js';
import { office } from './office.js';
import { door, doorAgain } from './door.js';
import { keepFor } from './changes.js';

let leave = () => {};
export let session = null;

async function show() {
  const main = document.getElementById('main');
  leave();
  leave = () => {};
  const [, place, id, revision] = location.hash.split('/');
  try {
    session ??= await enter(main);
    if (!session) return;
    keepFor(session.user);
    head();
    if (place === 'day') leave = await day(main, id, revision, session);
    else if (place === 'me') leave = me(main, session, out);
    else if (place === 'office' && session.rights.administer) leave = await office(main, session);
    else leave = await home(main, session);
  } catch (e) {
    fill(main, el('div', { class: 'page' }, el('p', { class: 'notice error' }, e.message)));
    if (e.status !== 401) say(e.message, true);
  }
}

// enter asks who one is; where people log in and nobody has, it shows the form.
async function enter(main) {
  const way = await get('/door');
  fill(document.getElementById('caution'), el('strong', {}, t('caution') + ': '), way.caution);
  try {
    return await get('/session');
  } catch (e) {
    if (e.status !== 401) throw e;
    if (way.login) {
      fill(document.getElementById('top'), name());
      door(main, s => { session = s; show(); });
    } else fill(main, el('div', { class: 'page' }, el('p', { class: 'notice error' }, t('start_again'))));
    return null;
  }
}

const name = () => el('a', { href: '#/', class: 'name' }, el('img', { src: 'icon.svg', alt: '' }), 'tracemap');

function head() {
  fill(document.getElementById('top'), name(), el('div', { id: 'crumb' }),
    el('nav', { id: 'mine' }, session.rights.administer && el('a', { href: '#/office' }, t('office')), el('a', { href: '#/me' }, session.login ? session.user : t('mine'))));
}

async function out() {
  try { await post('/logout'); } catch (e) { if (e.status !== 401) return say(e.message, true); }
  session = null;
  location.hash = '#/';
  show();
}

// A session that ends while a page is open: the page stays, and the form comes
// over it. Somebody else's coming in begins anew.
addEventListener('signedout', () => {
  if (!session?.login) return;
  doorAgain(session.user, s => { const other = s.user !== session.user; session = s; if (other) show(); else head(); });
});
addEventListener('hashchange', show);
applyLook();
show();
