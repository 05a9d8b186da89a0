import { dayWords } from './text-day.js';
import { officeWords } from './text-office.js';
import { careWords } from './text-care.js';

// All words of the page, in one place, ready for translation. A value in braces
// is put in by t(key, {name: value}).
const words = {
  ...dayWords, ...officeWords, ...careWords,
  days: 'Days', caution: 'Caution', home_title: 'Add a day’s logs',
  home_lead: 'Drop the GNSS receiver’s log and the locator’s readings here. You can add several days and crews at once; file names do not matter.',
  choose: 'Choose files', drop_here: 'Drop the files to add them',
  sending: 'sending, {pct} %', queued: 'waiting to be sent', looking: 'checking', kept: 'saved', known: 'already uploaded',
  receiver: 'GNSS receiver’s log', readings: 'Readings', unknown: 'Not usable', unknown_is: 'not a log: {what}',
  cutoff: 'upload interrupted', again: 'Send again',
  proposals: 'Days found in the files', proposals_lead: 'Check that the right files are together, then process the days.',
  lacks_receiver: 'The receiver’s log of this day is missing.', lacks_readings: 'The readings of this day are missing.',
  unsure: 'Two GNSS receivers were running at this time. Check that these readings belong to this one.', confirm: 'These files belong together',
  move_to: 'belongs to', new_day: 'separate day', leave_out: 'ignore this file', title: 'Name of the day',
  antenna: 'Antenna above ground, {unit}', antenna_hint: 'Measured from the ground to the antenna’s phase centre. If blank, {length} is assumed and the map says so.',
  zone: 'Time zone of the readings', zone_hint: 'Only needed if the readings’ times have no time zone. Blank means UTC.',
  compute: 'Process this day', compute_all: 'Process all {n} days',
  no_days: 'No days yet.', kept_days: 'Days', lines_n: '{n} lines', places_n: '{n} to revisit', revision_n: 'revision {n}',
  waiting: 'Queued', computing: 'Processing: {stage}', refused: 'No map', failed: 'Failed', stopped: 'Stopped', stop: 'Stop',
  good: 'Good', care: 'Usable with care', no: 'Not usable',
  good_note: 'The map is reliable within the widths it shows. It is not permission to dig.',
  summary: 'Summary', revisit: 'Revisit', clock: 'Clock', rows: 'Readings', files: 'Files', history: 'Settings',
  why_not: 'Why', not_told: 'Not stated by the crew', warnings: 'Notes', rules: 'How this is judged', legend: 'Lines',
  revisit_lead: 'Most important first. Choose one to see it on the map.', revisit_none: 'No place needs to be revisited.',
  pin_beside: 'The readings were taken {d} from {line}; the dashed line leads there.', place_n: 'Place {n}',
  for_phone: 'For the phone:', at_station: '{line} at {s}',
  clock_ahead: 'The locator’s clock was {d} ahead of UTC', clock_behind: 'The locator’s clock was {d} behind UTC', clock_same: 'The locator’s clock agreed with UTC',
  clock_half: ', 95 % within ± {d}', clock_open: 'More than one offset fits this day. The widths include that.',
  clock_runner: 'Second best: {d}', clock_chosen: 'chosen', clock_runner_short: 'second best',
  clock_how: { given: 'You gave this offset.', none: 'The clock was trusted as it is.', positions: 'From positions in the readings.', marks: 'From sync marks.' },
  clock_found: 'Found from: {how}.', clock_picture: 'How well each clock offset fits the day (0 is best)',
  clock_coarse: 'The curve is from the first, coarse search. The chosen offset is from the fine search after it, which also weighs drift, stops and lines walked twice; it can lie beside the curve’s peak.',
  clock_axis: 'locator’s clock minus UTC, s', clock_set: 'Set by hand', clock_auto: 'Estimate it', clock_trust: 'Trust the clock', clock_given: 'Offset in seconds',
  why: 'Why', why_hint: 'A few words; they are kept with the new revision.', recompute: 'Save as a new revision',
  files_lead: 'Download everything as one archive', with: 'In another coordinate system or units', crs: 'Coordinate system (EPSG:…)', units: 'Units in the report', metric: 'metric', imperial: 'imperial',
  download: 'Download', originals: 'Original logs, unchanged', open_report: 'Open the report', get_selected: 'Download archive',
  settings: 'How this day is processed', frame: 'Reference frame of the corrections', scheme: 'Accuracy classes', gap: 'Largest gap joined, {unit}', forward: 'Antenna forward, {unit}', right: 'Antenna right, {unit}',
  job: 'Job', operator: 'Located by', instrument: 'Instrument', note: 'Note', revisions: 'Revisions', shown: 'shown',
  colour_by: 'Colour by', by_utility: 'utility', by_fix: 'fix', by_width: 'width', by_depth: 'depth', by_flags: 'remarks',
  show: 'Show', corridors: 'corridor', dots: 'readings', fit: 'Whole site', plan: 'Map', profile: 'Profile', line: 'Line',
  depth_axis: 'depth, {unit}', current_axis: 'current, mA', band: '95 % band', fitted: 'fitted depth', read: 'read', aside: 'set aside', current: 'current',
  here: 'station {s}: depth {d} ± {dd}, half-width ± {w}, current {c}', no_depth: 'not read', pick: 'Point at a line or at the profile.',
  keys: 'Arrow keys move the mark along the line; Shift for longer steps.',
  row_where: '{file} row {row}', unplaced: 'no position', not_used: 'not used for a line', all_rows: 'all', odd_rows: 'with remarks',
  fix: { rtk_fixed: 'RTK fixed', rtk_float: 'RTK float', differential: 'differential', autonomous: 'autonomous', estimated: 'estimated', pps: 'PPS', none: 'no fix', manual: 'manual', simulator: 'simulator', unknown: 'unknown' },
  enlarge: 'widths × {n}', wide_key: 'Widths are drawn {n} times as wide.', across_title: 'across the line, enlarged', across_axis: 'across, {unit}', side_of: { left: 'left', right: 'right' },
  narrow: 'to {b}', middle: 'to {b}', wide: 'to {b}', useless: 'over {b}',
  shallow: 'under {b}', usual: '{a} to {b}', deep: '{a} to {b}', deepest: 'over {b}', clear: 'none', remarked: 'remarks',
  start_again: 'Open the full address that tracemap serve printed.', gone: 'The server cannot be reached. Saved files are safe; this page keeps trying.',
  more_rows: 'Show {n} more', newer: 'There is a newer revision.', see_newest: 'See it', metres_grid: 'grid {d}', north: 'N',
};

/** The words for a key. */
export function t(key, values = {}) {
  const w = words[key];
  if (w === undefined) throw new Error('no words for ' + key);
  return typeof w === 'string' ? w.replace(/\{(\w+)\}/g, (_, k) => values[k] ?? '') : w;
}
