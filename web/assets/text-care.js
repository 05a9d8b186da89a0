// Words of what must not be lost: pending changes, a day's files, the list of days;
// text.js takes them in.
export const careWords = {
  pending_one: '1 change has not been saved.', pending_n: '{n} changes have not been saved.', pending_lead: 'The map does not show them yet. Apply or discard them before the day is handed over.', pending_which: 'Which changes',
  apply_changes: 'Apply', discard: 'Discard', discarded_n: 'Changes discarded: {n}.', unsaved_n: 'unsaved changes: {n}',
  handover_held: 'This day has changes that have not been saved. Apply or discard them above; then it can be handed over.',
};
