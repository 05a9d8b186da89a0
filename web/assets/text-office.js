// Words of coming in, of the reader's own choices and of the office; text.js takes
// them in.
export const officeWords = {
  login: 'Log in', login_lead: 'This page belongs to an office. Accounts are made by its administrator.', login_name: 'Name', login_password: 'Password', logout: 'Log out',
  login_again: 'Log in again', login_again_lead: 'Your session has ended. What you were doing is still here; log in, then do it once more.',
  mine: 'My choices', mine_lead: 'They hold for this browser and change nothing that is computed or handed over.',
  pref_units: 'Lengths', units_metric: 'metres', units_imperial: 'feet', pref_look: 'Look', look_system: 'as the system', look_light: 'light', look_dark: 'dark',
  pref_grid: 'Grid on the map', grid_metres: 'by lengths from the site’s origin', grid_degrees: 'by degrees', grid_none: 'none', pref_base: 'Base map, where the office has set one', base_on: 'shown', base_off: 'not shown',
  base_map: 'base map', base_from: 'Base map: {credit}', base_asks: 'The base map comes from {host}, which learns what part of the map you look at.',
  account_of: 'Account of {name}, {role}', role_label: 'Role', role: { locator: 'locator', technician: 'GIS technician', engineer: 'engineer', administrator: 'administrator' },
  password_old: 'Present password', password_new: 'New password', password_again: 'New password once more', password_first: 'First password', password_hint: '12 characters or more; several words are good.', password_change: 'Change password', password_changed: 'The password is changed. You are logged out everywhere else.', password_differs: 'The two new passwords differ.',
  office: 'Office', people: 'Accounts', people_lead: 'A change logs the person out everywhere. Accounts are closed, not deleted: days and the log below name them.', people_none: 'This page listens on this machine alone and has no accounts. The first one is made on the command line: tracemap account add.',
  account_state: 'State', account_do: 'Change', account_open: 'open', account_closed: 'closed', account_close: 'Close', account_reopen: 'Open again', account_new: 'New account', account_add: 'Make the account', account_made: '{name} may log in.',
  log: 'What was done', log_lead: 'This log only grows.', log_when: 'When', log_who: 'Who', log_what: 'What', log_about: 'About', log_from: 'From', log_more: 'Show earlier',
  north_up: 'north is up', east: 'E', west: 'W', south: 'S', see_only: 'Your role looks at days and does not make them.',
};
