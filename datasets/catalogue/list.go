package catalogue

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"

	"tossline/kernel/motion"
)

// A Key identifies the content of one serve: equal keys, equal measures.
type Key [16]byte

// A list is the serves of a season in columns: the form in memory and, encoded by gob, between processes and in the
// season's cache. Fields are exported for gob alone.
type list struct {
	Season     string
	Revision   int64
	Stamp      string
	Kinds      []motion.EventKind // the kinds that Times has a column for
	Recordings []Recording
	Tables     []Table
	Measured   []string
	Words      []string // every text that repeats; Words[0] is ""

	ID                                        []string
	Recording, First, Last                    []int32
	Type, Stance, CourtSide, Outcome, LeftOut []uint32 // indices into Words
	BallSpeedMS                               []float64
	Keys                                      []byte // a Key for each serve

	// Events, len(Kinds) for each serve.
	Times, Confidences []float64 // Times is NaN where there is no such event
	Methods            []uint32
	Flags              []byte // flagStandIn, flagByHand
}

const (
	flagStandIn = 1 << iota
	flagByHand
)

func (l *list) len() int             { return len(l.ID) }
func (l *list) word(i uint32) string { return l.Words[i] }
func (l *list) key(row int) Key      { return Key(l.Keys[16*row:]) }

// newList puts serves, which are in order, into columns.
func newList(c Content) list {
	l := list{Season: c.Season, Revision: c.Revision, Stamp: c.Stamp, Kinds: motion.EventKinds,
		Recordings: c.Recordings, Tables: c.Tables}
	n := len(c.Serves)
	l.ID, l.BallSpeedMS = make([]string, n), make([]float64, n)
	l.Recording, l.First, l.Last = make([]int32, n), make([]int32, n), make([]int32, n)
	l.Type, l.Stance, l.CourtSide = make([]uint32, n), make([]uint32, n), make([]uint32, n)
	l.Outcome, l.LeftOut = make([]uint32, n), make([]uint32, n)
	l.Keys = make([]byte, 0, 16*n)
	m := n * len(l.Kinds)
	l.Times, l.Confidences = make([]float64, m), make([]float64, m)
	l.Methods, l.Flags = make([]uint32, m), make([]byte, m)

	words := wordList{index: map[string]uint32{}}
	words.add("")
	for row, s := range c.Serves {
		l.ID[row], l.BallSpeedMS[row] = string(s.ID), s.BallSpeedMS
		l.Recording[row], l.First[row], l.Last[row] = int32(s.Recording), int32(s.First), int32(s.Last)
		l.Type[row], l.Stance[row], l.CourtSide[row] = words.add(s.Type), words.add(s.Stance), words.add(s.CourtSide)
		l.Outcome[row], l.LeftOut[row] = words.add(s.Outcome), words.add(s.LeftOut)
		l.setEvents(row, s.Events, &words)
		key := l.contentKey(row)
		l.Keys = append(l.Keys, key[:]...)
	}
	l.Words = words.words
	return l
}

// A wordList numbers texts in the order in which they first come.
type wordList struct {
	words []string
	index map[string]uint32
}

func (w *wordList) add(s string) uint32 {
	i, ok := w.index[s]
	if !ok {
		i = uint32(len(w.words))
		w.index[s] = i
		w.words = append(w.words, s)
	}
	return i
}

func (l *list) setEvents(row int, events motion.Events, words *wordList) {
	at := row * len(l.Kinds)
	for k, kind := range l.Kinds {
		e, ok := events[kind]
		if !ok {
			l.Times[at+k] = math.NaN()
			continue
		}
		l.Times[at+k], l.Confidences[at+k], l.Methods[at+k] = e.TimeS, e.Confidence, words.add(e.Method)
		if e.StandIn {
			l.Flags[at+k] |= flagStandIn
		}
		if e.ByHand {
			l.Flags[at+k] |= flagByHand
		}
	}
}

func (l *list) events(row int) motion.Events {
	events := make(motion.Events, len(l.Kinds))
	at := row * len(l.Kinds)
	for k, kind := range l.Kinds {
		if time := l.Times[at+k]; time == time {
			events[kind] = motion.Event{
				TimeS:      time,
				Method:     l.word(l.Methods[at+k]),
				Confidence: l.Confidences[at+k],
				StandIn:    l.Flags[at+k]&flagStandIn != 0,
				ByHand:     l.Flags[at+k]&flagByHand != 0,
			}
		}
	}
	return events
}

func (l *list) serve(row int) Serve {
	return Serve{
		ID:          motion.ServeID(l.ID[row]),
		Recording:   int(l.Recording[row]),
		First:       int(l.First[row]),
		Last:        int(l.Last[row]),
		Events:      l.events(row),
		Type:        l.word(l.Type[row]),
		Stance:      l.word(l.Stance[row]),
		CourtSide:   l.word(l.CourtSide[row]),
		Outcome:     l.word(l.Outcome[row]),
		BallSpeedMS: l.BallSpeedMS[row],
	}
}

// contentKey hashes what the measures of a serve depend on. The method of an event and its confidence are no part of
// it: measures see times and whether they are stand-ins.
func (l *list) contentKey(row int) Key {
	r := &l.Recordings[l.Recording[row]]
	buf := make([]byte, 0, 256)
	buf = append(buf, "serve 1\x00"...)
	buf = append(append(buf, r.FramesSHA256...), 0)
	buf = append(append(buf, r.Hand...), 0)
	buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(r.HeightM))
	for _, hz := range r.CutoffsHz {
		buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(hz))
	}
	buf = binary.LittleEndian.AppendUint64(buf, uint64(l.First[row]))
	buf = binary.LittleEndian.AppendUint64(buf, uint64(l.Last[row]))
	at := row * len(l.Kinds)
	for k, kind := range l.Kinds {
		buf = append(append(buf, kind...), 0)
		buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(l.Times[at+k]))
		buf = append(buf, l.Flags[at+k])
	}
	sum := sha256.Sum256(buf)
	return Key(sum[:16])
}

// check says what is wrong with a list that came from elsewhere: every index must lie inside what it points into, so
// that reading it later cannot fail.
func (l *list) check() error {
	n := len(l.ID)
	m := n * len(motion.EventKinds)
	if !slices.Equal(l.Kinds, motion.EventKinds) {
		return errors.New("it has other events than this program")
	}
	if len(l.Recording) != n || len(l.First) != n || len(l.Last) != n || len(l.BallSpeedMS) != n || len(l.Keys) != 16*n ||
		len(l.Times) != m || len(l.Confidences) != m || len(l.Flags) != m {
		return errors.New("its columns have different lengths")
	}
	if len(l.Words) == 0 || l.Words[0] != "" {
		return errors.New("its list of words is damaged")
	}
	for _, column := range [][]uint32{l.Type, l.Stance, l.CourtSide, l.Outcome, l.LeftOut} {
		if err := l.checkWords(column, n); err != nil {
			return err
		}
	}
	if err := l.checkWords(l.Methods, m); err != nil {
		return err
	}
	for row, r := range l.Recording {
		if r < 0 || int(r) >= len(l.Recordings) {
			return fmt.Errorf("serve %q belongs to no recording", l.ID[row])
		}
		frames := l.Recordings[r].Frames
		if first, last := l.First[row], l.Last[row]; first < 0 || last < first || int(last) >= frames {
			return fmt.Errorf("serve %q spans frames %d to %d of %d", l.ID[row], first, last, frames)
		}
	}
	return nil
}

func (l *list) checkWords(column []uint32, n int) error {
	if len(column) != n {
		return errors.New("its columns have different lengths")
	}
	for _, w := range column {
		if int(w) >= len(l.Words) {
			return errors.New("its list of words is damaged")
		}
	}
	return nil
}

// contactS is the time of contact of a row's serve, NaN where it is not known.
func (l *list) contactS(row int) float64 {
	for k, kind := range l.Kinds {
		if kind == motion.Contact {
			return l.Times[row*len(l.Kinds)+k]
		}
	}
	return math.NaN()
}
