// Package season keeps everything about one programme's serves in a folder.
//
//	season.db      SQLite: recordings, serves, events, players, corrections, recipes; everything that changes
//	frames/        the frames of each recording, one Arrow file each, named by the hash of its bytes, never changed
//	tables/        tables that came from elsewhere, in the same way
//	cache/         what can be computed again; may be deleted at any time
//	season.lock    held by the process that writes
//
// Any of it opens with general tools. A backup is a copy of the folder.
//
// # Reading and writing
//
// Open gives a [Season], for reading, to as many processes as want it. OpenForWriting gives the one [Writer]; a second
// one is refused and told who holds the season. [Season.Snapshot] gives the serves at one moment, as package catalogue
// shows them; everything that changes the season makes a new snapshot and leaves old ones as they were.
//
// # What is kept
//
// What an import found and what people said are kept apart. A person's word is an [Edit]: it is recorded with its time,
// wins over what was found, survives another import of the same file, and can be undone on any later day, because
// undoing it only marks it as undone.
//
// # Crashes
//
// An import first writes the frames, or the table, under another name, syncs them, renames them to their hash and syncs
// the folder; then one SQLite transaction makes them part of the season. Killed at any moment, the season holds the whole
// of it or nothing, and what was acknowledged stays. Files that no transaction came to mention are swept when the
// season is next opened for writing.
package season
