// Package catalogue is a season at one moment: an immutable list of its serves, with their frames mapped and the
// measures that were computed before.
//
// A catalogue is what recipes run over: it implements motion.Source. The season folder makes one for each revision
// (season.Snapshot); Encode and Open carry it into another process, which gets the bytes of the list and opens the
// files that they name, and needs nothing else of the folder.
//
// Serves stand in the season's order: session date, recording (by file name), contact time. Those that are cut off,
// discarded, or whose recording can't be read are not counted by Len and have no position, but are still listed, with
// the reason.
//
// # Memory
//
// The list is kept in columns: about 250 bytes a serve. Frames are views of mapped files, valid until the season
// (or, in a process that called Open, the catalogue) is closed.
package catalogue

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sync"

	"tossline/datasets/frames"
	"tossline/datasets/tablefile"
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// Recording is what a catalogue knows of one recording, with the particulars of its player.
type Recording struct {
	ID, File, Format string
	FramesSHA256     string
	Frames           int
	RateHz           float64
	CutoffsHz        []float64 // as motion.Take.Cutoffs; nil where none were chosen

	Player, Session string // Session is an ISO date, or ""
	Hand            motion.Hand
	HeightM         float64 // the player's standing height; 0 where unknown
	Level           string
	BirthYear       int // 0 where unknown
}

// Serve is one serve of a season with everything that stands beside its frames.
type Serve struct {
	ID          motion.ServeID
	Recording   int // index into Recordings
	First, Last int // frames of the recording, inclusive
	Events      motion.Events

	Type, Stance, CourtSide, Outcome string  // "" where unknown
	BallSpeedMS                      float64 // m/s; 0 where unknown

	LeftOut  string // why it is not measured; "" for the serves that are
	Position int    // place among the serves that are measured; -1 for those left out. Set by the catalogue.
}

// ContactS is the time of contact in seconds from the start of the recording, NaN where it is not known.
func (s Serve) ContactS() float64 {
	if contact, ok := s.Events[motion.Contact]; ok {
		return contact.TimeS
	}
	return math.NaN()
}

// whenS is the time by which serves of one recording are ordered: contact, or the middle of those that have none.
func (s Serve) whenS(rateHz float64) float64 {
	if contact, ok := s.Events[motion.Contact]; ok {
		return contact.TimeS
	}
	return float64(s.First+s.Last) / 2 / rateHz
}

// Table is a table that a season keeps under a name.
type Table struct {
	Name   string
	SHA256 string
	File   string // base name of the file that it was read from
	Rows   int
}

// Content is what a catalogue is made of.
type Content struct {
	Season     string // identifies the season folder
	Revision   int64
	Stamp      string // identifies the content of this revision: no other content has it
	Recordings []Recording
	Serves     []Serve
	Tables     []Table // by name
}

// Access is how a catalogue gets at the files of its season.
type Access struct {
	// Frames gives the mapped frames file of a recording, and says why it can't. Called from several goroutines.
	Frames func(Recording) (*frames.File, error)
	// Table gives the mapped file of a table, and says why it can't.
	Table func(Table) (*tablefile.File, error)
	// Measured gives the bytes of a file of measured values, or nil. Called when a measure is first asked for.
	Measured func(name string) []byte
	// MeasuredFiles names the files of measured values that there are, relative to the season folder.
	MeasuredFiles []string
}

// Catalogue is a season at one revision. It is immutable and safe for use by several goroutines.
type Catalogue struct {
	list    list
	files   []*frames.File // by recording; nil where it can't be read
	damaged []string       // by recording: why it can't be read, or ""
	tables  []keptTable    // in the order of the list
	order   []int32        // position -> row of list
	place   []int32        // row of list -> position or -1

	particulars func() table.Table
	rows        func() map[motion.ServeID]int
	measured    measured
	mappings    [][]byte // of files of measured values
	owned       bool     // files are this catalogue's to close
}

// New makes a catalogue of content, whose serves may be in any order.
func New(content Content, access Access) *Catalogue {
	slices.SortStableFunc(content.Serves, func(a, b Serve) int {
		ra, rb := &content.Recordings[a.Recording], &content.Recordings[b.Recording]
		return cmp.Or(cmp.Compare(ra.Session, rb.Session), cmp.Compare(ra.File, rb.File), cmp.Compare(ra.ID, rb.ID),
			cmp.Compare(a.whenS(ra.RateHz), b.whenS(rb.RateHz)), cmp.Compare(a.ID, b.ID))
	})
	return assemble(newList(content), access)
}

// assemble opens the files of a list and works out who is left out.
func assemble(l list, access Access) *Catalogue {
	l.Measured = access.MeasuredFiles
	c := &Catalogue{
		list:    l,
		files:   make([]*frames.File, len(l.Recordings)),
		damaged: make([]string, len(l.Recordings)),
		place:   make([]int32, l.len()),
	}
	c.openFiles(access.Frames)
	c.openTables(access.Table)
	for row := range c.place {
		c.place[row] = -1
		if c.leftOut(row) == "" {
			c.place[row] = int32(len(c.order))
			c.order = append(c.order, int32(row))
		}
	}
	c.particulars = sync.OnceValue(c.makeParticulars)
	c.rows = sync.OnceValue(func() map[motion.ServeID]int {
		rows := make(map[motion.ServeID]int, l.len())
		for row, id := range l.ID {
			rows[motion.ServeID(id)] = row
		}
		return rows
	})
	c.measured.start(c, access.Measured)
	return c
}

// openFiles opens every frames file, a few at a time: on a cold disk the waiting overlaps.
func (c *Catalogue) openFiles(open func(Recording) (*frames.File, error)) {
	var group sync.WaitGroup
	const openers = 8
	for k := range openers {
		group.Go(func() {
			for i := k; i < len(c.files); i += openers {
				c.files[i], c.damaged[i] = attach(c.list.Recordings[i], open)
			}
		})
	}
	group.Wait()
}

// attach opens a frames file and compares it with what the list says of it.
func attach(r Recording, open func(Recording) (*frames.File, error)) (*frames.File, string) {
	file, err := open(r)
	if err != nil {
		return nil, fmt.Sprintf("the frames of %s can't be read: %v", r.File, err)
	}
	if file.Len() != r.Frames || file.Facts().RateHz != r.RateHz {
		return nil, fmt.Sprintf("the frames file of %s holds %d frames at %g Hz, expected %d at %g Hz",
			r.File, file.Len(), file.Facts().RateHz, r.Frames, r.RateHz)
	}
	return file, ""
}

// leftOut is the reason why the serve of a row is not measured, or "".
func (c *Catalogue) leftOut(row int) string {
	if why := c.list.word(c.list.LeftOut[row]); why != "" {
		return why
	}
	return c.damaged[c.list.Recording[row]]
}

// Season identifies the season folder, whatever its path.
func (c *Catalogue) Season() string { return c.list.Season }

// Revision is the season's revision that this catalogue shows; it rises with every change.
func (c *Catalogue) Revision() int64 { return c.list.Revision }

// Stamp identifies the content: two catalogues with one stamp show the same.
func (c *Catalogue) Stamp() string { return c.list.Stamp }

// Len is the number of serves that are measured: not cut off, not discarded, frames readable.
func (c *Catalogue) Len() int { return len(c.order) }

// Serve gives the serve at a position from 0 to Len()-1.
func (c *Catalogue) Serve(i int) Serve { return c.Row(int(c.order[i])) }

// Rows is the number of all serves, those left out too.
func (c *Catalogue) Rows() int { return c.list.len() }

// Row gives one of all serves, in the season's order, r from 0 to Rows()-1.
func (c *Catalogue) Row(r int) Serve {
	s := c.list.serve(r)
	s.LeftOut, s.Position = c.leftOut(r), int(c.place[r])
	return s
}

// Find gives the serve of an id, left out or not.
func (c *Catalogue) Find(id motion.ServeID) (Serve, bool) {
	row, ok := c.rows()[id]
	if !ok {
		return Serve{}, false
	}
	return c.Row(row), true
}

// Recordings lists the recordings, in the order of their ids. The slice must not be changed.
func (c *Catalogue) Recordings() []Recording { return c.list.Recordings }

// Damaged says why the frames of a recording can't be read, "" where they can.
func (c *Catalogue) Damaged(recording int) string { return c.damaged[recording] }

// Frames is the mapped frames file of a recording, nil where it can't be read.
func (c *Catalogue) Frames(recording int) *frames.File { return c.files[recording] }

// Key identifies everything that the measures of serve i depend on: frames, stretch, events, hand and height.
func (c *Catalogue) Key(i int) Key { return c.list.key(int(c.order[i])) }

// Clip gives the frames and events of serve i, sharing the mapped file.
func (c *Catalogue) Clip(i int) (motion.Clip, error) {
	if i < 0 || i >= len(c.order) {
		return motion.Clip{}, fmt.Errorf("no serve at position %d: the season has %d", i, len(c.order))
	}
	clip := c.clip(int(c.order[i]))
	clip.Position = i
	return clip, nil
}

// ClipOf gives the frames and events of any serve whose frames can be read, left out or not; Position is -1 for those
// left out.
func (c *Catalogue) ClipOf(id motion.ServeID) (motion.Clip, error) {
	row, ok := c.rows()[id]
	if !ok {
		return motion.Clip{}, fmt.Errorf("no serve %s in this season", id)
	}
	if why := c.damaged[c.list.Recording[row]]; why != "" {
		return motion.Clip{}, fmt.Errorf("serve %s: %s", id, why)
	}
	clip := c.clip(row)
	clip.Position = int(c.place[row])
	return clip, nil
}

func (c *Catalogue) clip(row int) motion.Clip {
	l := &c.list
	recording := l.Recording[row]
	file, r := c.files[recording], &l.Recordings[recording]
	width := 3 * file.Layout().Len()
	first, last := int(l.First[row]), int(l.Last[row])
	return motion.Clip{
		Take: motion.Take{
			Rate:   r.RateHz,
			Layout: file.Layout(),
			Frames: file.XYZ()[first*width : (last+1)*width : (last+1)*width],
			Hand:   r.Hand, Cutoffs: r.CutoffsHz,
		},
		First:   first,
		Events:  l.events(row),
		Serve:   motion.ServeID(l.ID[row]),
		HeightM: r.HeightM,
	}
}

// Take gives a whole recording, sharing the mapped file.
func (c *Catalogue) Take(recording int) (motion.Take, error) {
	if why := c.damaged[recording]; why != "" {
		return motion.Take{}, fmt.Errorf("%s", why)
	}
	file, r := c.files[recording], c.list.Recordings[recording]
	return motion.Take{
		Rate: r.RateHz, Layout: file.Layout(), Frames: file.XYZ(), Hand: r.Hand, Cutoffs: r.CutoffsHz,
	}, nil
}

// Close unmaps the files of a catalogue that was made by Open. None of its clips may be read afterwards. A catalogue
// that a season gave shares the season's files and closes nothing.
func (c *Catalogue) Close() error {
	if !c.owned {
		return nil
	}
	for i, file := range c.files {
		if file != nil {
			file.Close()
			c.files[i] = nil
		}
	}
	c.closeTables()
	for _, mapping := range c.mappings {
		frames.Unmap(mapping)
	}
	c.mappings = nil
	c.measured.load = func(string) []byte { return nil }
	return nil
}
