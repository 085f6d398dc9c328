package recording

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"runtime/debug"

	"tossline/kernel/motion"
)

// Prepared is a recording that was read, understood and cut, and not yet stored.
type Prepared struct {
	Understanding Understanding
	Take          motion.Take
	Serves        []motion.Serve

	More []*Prepared // the other recordings of the file; they have none themselves
}

// All lists the recording and the others of its file.
func (p *Prepared) All() []*Prepared { return append([]*Prepared{p}, p.More...) }

// Prepare reads the file at path, finds out what it is, turns it into a take and cuts that into serves. It stops
// with ctx.Err() when ctx ends. Other errors are *Error, with text for the user. Nothing is written anywhere.
//
// The formats must have been registered: import package formats.
func Prepare(ctx context.Context, path string, o Options) (*Prepared, error) {
	in, closer, err := OpenFile(path)
	if err != nil {
		return nil, err
	}
	defer closer.Close()
	return PrepareInput(ctx, in, o)
}

// PrepareInput is Prepare on an open file.
func PrepareInput(ctx context.Context, in Input, o Options) (p *Prepared, err error) {
	defer fullDisk(in.Name, &err)()
	raw, err := read(ctx, in)
	if err != nil {
		return nil, err
	}
	all := append([]*Raw{raw}, raw.More...)
	for i, one := range all {
		if in.Progress != nil {
			one.tick = func(part float64) {
				in.Progress(in.Size+int64(float64(in.Size)*(float64(i)+part)/float64(len(all))), 2*in.Size)
			}
		}
	}
	return prepareAll(ctx, raw, o, in.FrameRoom)
}

// fullDisk makes an error of the fault by which a mapped file says that the disk is full. What it gives is to be
// deferred.
func fullDisk(name string, err *error) func() {
	before := debug.SetPanicOnFault(true)
	return func() {
		debug.SetPanicOnFault(before)
		switch fault := recover().(type) {
		case nil:
		case interface{ Addr() uintptr }:
			*err = named(Refuse("make room and try again", "there is no space left on the disk for the frames"), name)
		default:
			panic(fault)
		}
	}
}

// prepareAll understands every recording of a file. One that cannot be used is left out, with a note, where there are
// others.
func prepareAll(ctx context.Context, raw *Raw, o Options, room []float32) (*Prepared, error) {
	more := raw.More
	raw.More = nil
	var all []*Prepared
	var failed []Note
	var first error
	for i, one := range append([]*Raw{raw}, more...) {
		if i > 0 {
			one.File, one.SHA256 = raw.File, raw.SHA256
		}
		if one.Part != "" {
			one.SHA256 = partHash(one.SHA256, one.Part)
		}
		one.room = room
		u, take, err := Interpret(one, o)
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err != nil {
			failed = append(failed, Note{Warn, one.Part, "left out: " + err.Error()})
			if first == nil {
				first = err
			}
			continue
		}
		room = keepSignals(&u, take.Frames, room)
		p := &Prepared{Understanding: u, Take: take}
		if err := p.cut(ctx, one.tick); err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	if len(all) == 0 {
		return nil, named(first, raw.File)
	}
	p := all[0]
	p.More = all[1:]
	if len(more) > 0 {
		p.Understanding.Recordings = len(all)
		p.Understanding.Notes = append(p.Understanding.Notes, failed...)
	}
	return p, ctx.Err()
}

// keepSignals moves the signals of a recording behind its frames, where those lie in the room, and gives what is left
// of the room.
func keepSignals(u *Understanding, frames, room []float32) []float32 {
	if cap(room) < len(frames) || len(frames) == 0 || &frames[0] != &room[:1][0] {
		return room
	}
	room = room[len(frames):len(frames)]
	for i := range u.Signals {
		s := &u.Signals[i]
		n := len(s.Values)
		s.Values = append(room, s.Values...)
		if room = room[:0]; cap(room) < n {
			return nil
		}
		s.Values, room = s.Values[:n:n], room[n:n]
	}
	return room
}

// partHash names one of several recordings of a file as a file of its own would be: by the file's hash and what tells
// it from the others.
func partHash(sha256OfFile, part string) string {
	sum := sha256.Sum256([]byte(sha256OfFile + "\x00" + part))
	return hex.EncodeToString(sum[:])
}

// cut finds the serves and the hitting hand, and tells them.
func (p *Prepared) cut(ctx context.Context, tick func(part float64)) error {
	found, err := Cut(ctx, p.Take, func(part float64) {
		if tick != nil {
			tick(workBefore + (1-workBefore)*part)
		}
	})
	if err != nil {
		return err
	}
	u := &p.Understanding
	p.Serves = found.Serves
	u.Serves = make([]ServeFound, 0, len(found.Serves))
	for _, s := range found.Serves {
		line := ServeFound{FromS: float64(s.First) / p.Take.Rate, ToS: float64(s.Last) / p.Take.Rate, CutOff: s.CutOff,
			Why: s.CutOffWhy}
		if contact, ok := s.Events[motion.Contact]; ok {
			line.ContactS = &contact.TimeS
		}
		u.Serves = append(u.Serves, line)
	}
	if u.Hand.Source == Unknown && found.Hand != motion.HandUnknown {
		u.Hand = Fact[motion.Hand]{found.Hand, Guessed, found.HandWhy}
		if found.HandConfidence < 0.6 {
			u.Notes = append(u.Notes, Note{Warn, "", "the hitting hand is uncertain: say it"})
		}
	}
	p.Take.Hand = u.Hand.Value
	p.Take.Cutoffs = chooseCutoffs(p.Take, p.Serves)
	for _, text := range found.Notes {
		u.Notes = append(u.Notes, Note{Info, "", text})
	}
	return nil
}
