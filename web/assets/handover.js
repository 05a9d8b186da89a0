// Handing a day over: the checks of the trade, notes, and the sheet that goes with
// it on paper. What was handed over never changes again.
import { el, fill, say } from './dom.js';
import { t } from './text.js';
import { get, post } from './api.js';
import { imperial } from './units.js';
import { overtaken } from './changes.js';

const sheet = c => el('a', { class: 'button', href: `api/v1/days/${c.day.id}/revisions/${c.revision.number}/sheet${imperial() ? '?units=imperial' : ''}`, target: '_blank', rel: 'noopener' }, t('open_sheet'));

export async function handover(box, c) {
  fill(box, el('h2', {}, t('handover')), el('p', { class: 'state' }, '…'));
  let checks;
  try { ({ checks } = await get('/checks')); } catch (e) { return say(e.message, true); }
  const locked = c.revision.locked, words = key => checks.find(k => k.key === key)?.words || key;
  if (locked) {
    return fill(box, el('h2', {}, t('handover')), el('p', { class: 'notice' }, t('was_handed_over', { name: locked.name, at: locked.at.slice(0, 16).replace('T', ' ') + ' UTC' })), el('div', { class: 'links' }, sheet(c)),
      el('ul', { class: 'checks' }, locked.checks.map(k => el('li', {}, el('strong', {}, t('answer_' + k.answer)), ' ' + words(k.check), k.note && el('small', {}, k.note)))), locked.notes && el('p', { class: 'notes' }, locked.notes), el('p', {}, t('reopen_how')));
  }
  const far = c.session.rights?.['hand over'], may = c.revision.number === c.day.latest.number && (far === 'all' || far === 'own' && c.day.created_by === c.session.user);
  if (!may) return fill(box, el('h2', {}, t('handover')), el('p', { class: 'notice' }, t(c.revision.number < c.day.latest.number ? 'only_newest' : 'no_right')), el('div', { class: 'links' }, sheet(c)));

  const asks = checks.map(k => {
    const note = el('input', { maxlength: 500, 'aria-label': `${k.words}: ${t('why_not_yes')}`, placeholder: t('why_not_yes') });
    const ask = el('fieldset', {}, el('legend', {}, k.words), ['yes', 'no', 'not_applicable'].map(a => el('label', { class: 'check' }, el('input', { type: 'radio', name: 'check-' + k.key, value: a, required: true, onchange: () => { note.required = a !== 'yes'; note.hidden = a === 'yes'; } }), ' ' + t('answer_' + a))), note);
    note.hidden = true;
    return { k, ask, get reply() { return { check: k.key, answer: ask.querySelector(':checked').value, note: note.value }; } };
  });
  const name = el('input', { required: true, maxlength: 100, value: c.settings.operator || '' }), notes = el('textarea', { rows: 4, maxlength: 4000 });
  const wrong = el('p', { class: 'notice error', role: 'alert', hidden: true }), now = el('button', { class: 'main' }, t('hand_over_now', { n: c.revision.number }));
  // What is gathered and not saved is not in the map that would be handed over.
  const held = el('p', { class: 'notice error', role: 'status' }, t('handover_held')), hold = () => { now.disabled = c.basket.count > 0 || !!overtaken(c.day.id); held.hidden = !now.disabled; };
  c.onPending = hold;
  fill(box, el('h2', {}, t('handover')), el('p', {}, t('handover_lead')), held, el('div', { class: 'links' }, sheet(c)), el('form', { class: 'checks', onsubmit: async e => {
    e.preventDefault();
    hold();
    if (now.disabled) return;
    try {
      await post(`/days/${c.day.id}/revisions/${c.revision.number}/handover`, { name: name.value, checks: asks.map(a => a.reply), notes: notes.value });
      c.reload('handover');
    } catch (err) { wrong.hidden = false; wrong.textContent = err.message; }
  } }, asks.map(a => a.ask), el('label', {}, t('handed_by'), name), el('label', {}, t('notes_to'), notes), wrong, now));
  hold();
}
