// Words of the day's screens for correcting, revisions, hand-over and comparing;
// text.js takes them in.
export const dayWords = {
  correct: 'Correct', revisions_tab: 'Revisions', handover: 'Hand over', compare: 'Compare',
  correct_lead: 'What you gather here is worked out together as a new revision. The logs stay as they came, and every change can be taken back.',
  only_newest: 'This is an older revision. Only the newest can be changed.', no_right: 'Your role does not allow changing this day.', own_locked: 'This day was handed over. Ask a GIS technician to open it again.',
  choose_on: 'Choose readings on {part}', choose_how: 'Or tap readings on the map and drag along the profile with “Choose” switched on, or tick them in the list of readings; Shift takes all between.',
  from_station: 'From station, {unit}', to_station: 'To station, {unit}', choose_between: 'Choose between these', choose_line: 'Choose the whole line', chosen_n: '{n} chosen', choose_none: 'Choose none', chosen: 'chosen', choosing: 'Choose', choose_on_map: 'Choose by tapping the map', choose_this: 'choose',
  set_aside: 'Set aside', bring_back: 'Bring back', line_name: 'Name of the line', give_to_line: 'Give to this line', utility: 'Utility', give_utility: 'Set utility',
  line_is: 'Line {line}', new_name: 'New name', rename: 'Rename', join_with: 'Line to join', join_into: 'Join into {line}', name_beyond: 'Name of the line beyond the mark', cut_at: 'Cut at the mark, {s}', part_only: 'only part {n}, as a line of its own',
  gathered: 'To be worked out', gathered_none: 'Nothing yet.', readings_n: '{n} readings', drop_this: 'Drop this change', reopen: 'This day was handed over. Open it again with this change; what was handed over stays.',
  row_one: '{file} row {from}', row_span: '{file} rows {from}–{to}', did_aside: 'set aside', did_back: 'brought back', did_line: 'line {value}', did_nameless: 'no line name', did_utility: 'utility {value}', undone: 'taken back: {what}',
  set_from_to: '{name}: {before} → {after}', not_set: 'not set', sync_marks: 'Sync marks',
  older: 'Older revision', newer_one: 'Newer revision', handed_over: 'handed over', what_moved: 'What moved', compare_two: 'Compare', same_revision: 'Choose two different revisions.',
  largest_shift: 'Largest shift', half_from_to: 'Widest half-width', class_from_to: 'Class', gone_line: '{line} is gone', new_line: 'new', was: 'was {lines}', unmoved: 'Unchanged: {lines}.', old_under_new: 'On the map, the older revision lies grey under the newer one. Choose a row to see where the shift is largest.', show_to_see: 'Show that revision to see it on the map.',
  level_changed: 'Verdict: {before} → {after}', clock_changed: 'Clock: {before} s → {after} s', length_changed: 'Length: {before} → {after}',
  became_aside: '{n} readings set aside by hand', became_back: '{n} brought back', became_utility: '{n} given another utility', became_line: '{n} given to another line', became_left_out: '{n} no longer used by the fit', became_taken_in: '{n} used by the fit again',
  take_back: 'Take back', mark_some: 'Tick what is to be taken back.', undo_marked: 'Take back what is ticked', go_back_to: 'Revision to start from', start_from: 'Start again from it',
  first_title: 'Somebody was first', first_lead: 'Your change has not been made, and it is not lost.', both_changed: 'Both of you changed: {names}. Yours would hold.', on_top: 'Make mine on top', see_theirs: 'Look at theirs first', drop_mine: 'Drop mine', yours: 'Yours',
  handover_lead: 'Answer every check; where the answer is not yes, say why. Then this revision is locked. It can be opened again only as a new revision.', handed_by: 'Handed over by', notes_to: 'Notes for who receives it', hand_over_now: 'Hand over revision {n}', why_not_yes: 'why not',
  answer_yes: 'yes', answer_no: 'no', answer_not_applicable: 'does not apply', was_handed_over: 'Handed over by {name}, {at}.', open_sheet: 'Sheet to print', reopen_how: 'To change the day, correct it or its settings: that opens it again as a new revision. This one stays as it is.',
  one_gpkg: '{n} days as one GeoPackage', tick_week: 'Tick a week', week_of: 'week of {day}', all_days: 'all days', tick_day: 'take {title}', crs_any: 'EPSG:… or as kept',
  by_hand: 'set aside by hand', scheme_files: 'Accuracy classes', as_set: 'as worked out',
};
