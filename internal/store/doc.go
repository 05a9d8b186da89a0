// Package store keeps what the page is given and what it made of it: original
// logs by the hash of their bytes, days, their revisions and what was done by
// whom, in a folder with an SQLite database.
//
// What Put, NewDay, NewRevision and the others have returned without an error is
// on the disk and survives a kill or a loss of power at any later moment. Nothing
// is ever overwritten: an original is never changed, and a change to a day is a
// new revision.
package store
