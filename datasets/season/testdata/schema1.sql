-- Schema 1 of a season's season.db. Times are UTC in RFC 3339; dates are ISO dates; null stands for unknown.
--
-- What an import found stands in recordings, serves and events, and what people said stands in edits: the value in
-- force is the newest edit of a field that was not undone, or else what was found. Nothing is ever deleted from edits.

create table season (
	one        integer primary key check (one = 1),
	id         text not null,    -- random, identifies this season wherever its folder lies
	created_at text not null,
	revision   integer not null, -- rises with every change to recordings, serves, events, players or edits
	stamp      text not null     -- random, new with every revision: no two contents share one
) strict;

create table players (
	name       text primary key,
	height_m   real,
	level      text,
	birth_year integer
) strict;

create table recordings (
	id             text primary key, -- first 12 hex digits of source_sha256
	source_sha256  text not null unique,
	file           text not null,    -- base name of the imported file
	format         text not null,
	frames_sha256  text not null,    -- frames/<this>.arrow
	frames         integer not null,
	rate_hz        real not null,
	player         text,
	session        text,             -- ISO date
	hand           text,             -- left, right
	signals_sha256 text,             -- frames/<this>.arrow: what was recorded beside the points
	cutoffs_hz     text,             -- JSON: low-pass cutoff of each landmark, 0 for the program's choice
	understanding  text,             -- JSON: how the file was understood when it was imported
	interpretation text not null,    -- hash of everything that a repeated import must repeat to change nothing
	added_at       text not null
) strict;

create table serves (
	id          text primary key,    -- recording, hyphen, hundredths of a second of contact when first cut
	recording   text not null references recordings on delete cascade,
	first_frame integer not null,
	last_frame  integer not null,    -- inclusive
	anchor_s    real not null,       -- contact as found, or the time that stands for it: what a repeated import matches
	cut_off_why text,                -- null unless contact or release lies outside the take
	found       integer not null     -- 0: an earlier import found it, the last one did not
) strict;

create index serves_by_recording on serves (recording);

create table events (
	serve      text not null references serves on delete cascade,
	kind       text not null,
	time_s     real not null,        -- from the start of the recording
	method     text not null,
	confidence real not null,
	stand_in   integer not null,
	primary key (serve, kind)
) strict, without rowid;

create table edits (
	id        integer primary key,
	batch     integer not null,      -- edits made together are undone together
	made_at   text not null,
	target    text not null,         -- serve, recording or player
	subject   text not null,         -- its id or name
	field     text not null,
	before    text,                  -- what was in force when the edit was made; null for unknown
	value     text,                  -- null: unknown, or no such event
	rate_hz   real,                  -- of the recording when a time was set: frames count, should the rate change
	undone_at text
) strict;

create index edits_by_subject on edits (subject, field);
create index edits_in_force on edits (id) where undone_at is null;

create table groups (
	name     text primary key,
	saved_at text not null
) strict;

create table group_serves (
	name  text not null references groups on delete cascade,
	place integer not null,
	serve text not null,
	primary key (name, place)
) strict, without rowid;

create table recipe_texts (
	sha256 text primary key,
	text   text not null
) strict;

create table recipe_revisions (
	id       integer primary key,
	name     text not null,
	sha256   text not null references recipe_texts,
	saved_at text not null
) strict;

create index recipe_revisions_by_name on recipe_revisions (name, id);

create table allowed_recipes (
	sha256     text primary key,     -- of the exact text that a person allowed to run
	allowed_at text not null
) strict;

create table settings (
	key   text primary key,
	value text not null
) strict;
