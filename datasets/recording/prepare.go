package recording

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"

	"tossline/kernel/motion"
)

// Prepared is a recording that was read, understood and cut, and not yet stored.
type Prepared struct {
	Understanding Understanding
	Take          motion.Take
	Serves        []motion.Serve
}

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
func PrepareInput(ctx context.Context, in Input, o Options) (*Prepared, error) {
	sum := make(chan hashed, 1)
	go func() { sum <- hash(ctx, in) }()
	raw, err := read(ctx, in)
	h := <-sum
	if err != nil {
		return nil, err
	}
	if h.err != nil {
		return nil, named(h.err, in.Name)
	}
	raw.SHA256 = h.sha256
	u, take, err := Interpret(raw, o)
	if err != nil {
		return nil, named(err, in.Name)
	}
	p := &Prepared{Understanding: u, Take: take}
	p.cut()
	return p, ctx.Err()
}

// cut finds the serves and the hitting hand, and tells them.
func (p *Prepared) cut() {
	found := motion.Cut(p.Take)
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
	for _, text := range found.Notes {
		u.Notes = append(u.Notes, Note{Info, "", text})
	}
}

type hashed struct {
	sha256 string
	err    error
}

// hash computes the hash of the whole file, beside reading it: both run at the speed of the page cache.
func hash(ctx context.Context, in Input) hashed {
	in.Progress = nil
	sum := sha256.New()
	_, err := io.CopyBuffer(struct{ io.Writer }{sum}, io.NewSectionReader(&watched{ctx, in}, 0, in.Size),
		make([]byte, 1<<20))
	return hashed{hex.EncodeToString(sum.Sum(nil)), err}
}
