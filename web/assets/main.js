// Which screen is shown: #/ is home, #/day/3 a day, #/day/3/2 one revision of it.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { get } from './api.js';
import { home } from './home.js';
import { day } from './day.js';

let leave = () => {};
export let session = null;

async function show() {
  const main = document.getElementById('main');
  leave();
  leave = () => {};
  const [, place, id, revision] = location.hash.split('/');
  try {
    session ??= await get('/session');
    fill(document.getElementById('caution'), el('strong', {}, t('caution') + ': '), session.caution);
    fill(document.getElementById('top'), el('a', { href: '#/', class: 'name' }, el('img', { src: 'icon.svg', alt: '' }), 'tracemap'), el('div', { id: 'crumb' }));
    leave = place === 'day' ? await day(main, id, revision, session) : await home(main, session);
  } catch (e) {
    fill(main, el('div', { class: 'page' }, el('p', { class: 'notice error' }, e.status === 401 ? t('start_again') : e.message)));
    if (e.status !== 401) say(e.message, true);
  }
}
addEventListener('hashchange', show);
show();
