// Changes that are gathered and not yet saved, above every tab of a day: they are
// applied as a new revision or discarded, and until then the day is not handed over.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { correctionWords, draftWords, overtaken } from './changes.js';
import { mayNot, whyFields } from './correct.js';

/** Makes the bar for a day; refill draws the shown tab anew after a discard. */
export function pendingBar(c, refill) {
  const box = el('section', { class: 'pending', 'aria-label': t('gathered'), hidden: true });
  let asking = false, open = false, was = '';
  function show() {
    const { items, draft, count } = c.basket, not = mayNot(c), now = JSON.stringify([items, draft]);
    box.hidden = !count || !!overtaken(c.day.id);
    if (now === was && !box.hidden) return;
    was = now;
    if (box.hidden) { asking = false; return fill(box); }
    const why = whyFields(c);
    const discard = el('button', { onclick: () => {
      const old = c.basket.clear();
      refill();
      say(t('discarded_n', { n: count }), false, { words: t('take_back'), act: () => { c.basket.put(old); refill(); } });
    } }, t('discard'));
    const apply = el('button', { class: 'main', onclick: () => { asking = true; was = ''; show(); box.querySelector('form input').focus(); } }, t('apply_changes'));
    fill(box, el('p', {}, el('strong', {}, t(count === 1 ? 'pending_one' : 'pending_n', { n: count })), ' ' + (not || t('pending_lead'))),
      el('details', { open, ontoggle: e => { open = e.target.open; } }, el('summary', {}, t('pending_which')), el('ul', { class: 'dots' }, items.map(x => el('li', {}, '• ' + correctionWords(x))), draftWords(c.settings, draft).map(w => el('li', {}, '• ' + w)))),
      asking && !not ? el('form', { onsubmit: e => { e.preventDefault(); c.change(c.basket.body(c.settings), why.value); } }, why.fields, el('div', { class: 'links' }, el('button', { class: 'main' }, t('recompute')), discard))
        : el('div', { class: 'links' }, !not && apply, discard));
  }
  return { box, show };
}
