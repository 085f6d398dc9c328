package catalogue

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"iter"
	"maps"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"tossline/datasets/frames"
	"tossline/kernel/motion"
)

// Measured is values of one version of one measure, by the content of the serves that they were computed from. It is
// what is kept in the cache of a season, and what a process that computed values hands to the one that keeps them.
type Measured struct {
	Measure string
	Version int
	Keys    []Key // ascending, none twice
	Values  []motion.Value
}

// FileName is the name, relative to the season folder, of the file in which values of a measure's version are kept.
func (m Measured) FileName() string {
	return fmt.Sprintf("cache/%s.%d%s", m.Measure, m.Version, MeasuredExtension)
}

// MeasuredExtension ends the names of files of measured values.
const MeasuredExtension = ".measured"

// A packed is Measured as gob sees it: numbers in one column, what is said of them in another.
type packed struct {
	Measure string
	Version int
	Keys    []byte
	Numbers []float64
	Said    []uint32 // index into Words
	Words   []string // basis, "stand-in" or nothing, missing; joined by newlines
}

// Encode gives the bytes of a file of measured values.
func (m Measured) Encode() ([]byte, error) {
	p := packed{Measure: m.Measure, Version: m.Version, Keys: make([]byte, 0, 16*len(m.Keys)),
		Numbers: make([]float64, len(m.Keys)), Said: make([]uint32, len(m.Keys))}
	words := wordList{index: map[string]uint32{}}
	for i, key := range m.Keys {
		p.Keys = append(p.Keys, key[:]...)
		p.Numbers[i], p.Said[i] = m.Values[i].Number, words.add(said(m.Values[i]))
	}
	p.Words = words.words
	return encode("measured values", &p)
}

func said(v motion.Value) string {
	standIn := ""
	if v.StandIn {
		standIn = "stand-in"
	}
	return v.Basis + "\n" + standIn + "\n" + v.Missing
}

// DecodeMeasured reads the bytes of Measured.Encode.
func DecodeMeasured(data []byte) (Measured, error) {
	p, err := unpack(data)
	if err != nil {
		return Measured{}, err
	}
	n := len(p.Numbers)
	m := Measured{Measure: p.Measure, Version: p.Version, Keys: make([]Key, n), Values: make([]motion.Value, n)}
	for i := range n {
		m.Keys[i], m.Values[i] = p.key(i), p.value(i)
	}
	return m, nil
}

// unpacked is Measured as it was packed, found to be sound.
type unpacked struct {
	packed
	words []motion.Value // Words, read
}

func unpack(data []byte) (u unpacked, err error) {
	if err := decode("measured values", data, &u.packed); err != nil {
		return u, err
	}
	n := len(u.Numbers)
	if len(u.Said) != n || len(u.Keys) != 16*n {
		return u, errors.New("the measured values are damaged: columns have different lengths")
	}
	for _, word := range u.Words {
		parts := strings.Split(word, "\n")
		if len(parts) != 3 {
			return u, errors.New("the measured values are damaged: their words can't be read")
		}
		u.words = append(u.words, motion.Value{Basis: parts[0], StandIn: parts[1] != "", Missing: parts[2]})
	}
	for i := range n {
		if int(u.Said[i]) >= len(u.words) || i > 0 && compareKeys(u.key(i-1), u.key(i)) >= 0 {
			return u, errors.New("the measured values are damaged: they are out of order")
		}
	}
	return u, nil
}

func (u *unpacked) key(i int) Key { return Key(u.Keys[16*i:]) }

func (u *unpacked) value(i int) motion.Value {
	v := u.words[u.Said[i]]
	v.Number = u.Numbers[i]
	return v
}

func compareKeys(a, b Key) int { return bytes.Compare(a[:], b[:]) }

// Merge gives the values of both, newer's where both have one. They must be of the same measure and version.
func (m Measured) Merge(newer Measured) Measured {
	out := Measured{Measure: m.Measure, Version: m.Version}
	i, j := 0, 0
	for i < len(m.Keys) || j < len(newer.Keys) {
		order := -1
		switch {
		case i == len(m.Keys):
			order = 1
		case j < len(newer.Keys):
			order = compareKeys(m.Keys[i], newer.Keys[j])
		}
		from, at := &m, i
		if order >= 0 {
			from, at = &newer, j
			j++
		}
		if order <= 0 {
			i++
		}
		out.Keys, out.Values = append(out.Keys, from.Keys[at]), append(out.Values, from.Values[at])
	}
	return out
}

// Only gives the values of serves that c has, left out or not.
func (m Measured) Only(c *Catalogue) Measured {
	out := Measured{Measure: m.Measure, Version: m.Version}
	known := make(map[Key]bool, c.Rows())
	for row := range c.Rows() {
		known[c.list.key(row)] = true
	}
	for i, key := range m.Keys {
		if known[key] {
			out.Keys, out.Values = append(out.Keys, key), append(out.Values, m.Values[i])
		}
	}
	return out
}

// measured is the values of a catalogue's serves: those that were kept before, read when a measure is first asked for,
// and those computed since. Every core asks for every measure of every serve, so nothing is locked to find one.
type measured struct {
	catalogue *Catalogue
	load      func(name string) []byte
	byKey     func() []int32 // positions in the order of their keys

	mu      sync.Mutex // held by who makes a column
	columns atomic.Pointer[map[measureVersion]*valueColumn]
}

type measureVersion struct {
	id      string
	version int
}

// valueColumn is one measure over the serves of a catalogue, by position. What is said of a value is a place in words,
// of which there are few.
type valueColumn struct {
	state   []atomic.Uint32 // unknown, busy, or what said makes of a word
	numbers []float64       // read and written only under state

	mu    sync.Mutex // held by who adds a word
	words atomic.Pointer[[]motion.Value]
}

// States of a value.
const (
	unknown = iota
	busy        // being written
	kept        // known; the states from here on hold a word as well
	fresh       // known, and not yet taken
	wordOne = 2 // what a state counts up by from word to word
)

// get gives a value where it is known.
func (c *valueColumn) get(i int) (motion.Value, bool) {
	state := c.state[i].Load()
	for state == busy {
		runtime.Gosched()
		state = c.state[i].Load()
	}
	if state < kept {
		return motion.Value{}, false
	}
	v := (*c.words.Load())[(state-kept)/wordOne]
	v.Number = c.numbers[i]
	return v, true
}

// set makes a value known, unless it is.
func (c *valueColumn) set(i int, v motion.Value, state uint32) {
	if !c.state[i].CompareAndSwap(unknown, busy) {
		return
	}
	c.numbers[i] = v.Number
	c.state[i].Store(state + wordOne*c.word(v))
}

// word is the place in words of what is said of a value.
func (c *valueColumn) word(v motion.Value) uint32 {
	v.Number = 0
	find := func() int {
		if words := c.words.Load(); words != nil {
			return slices.Index(*words, v)
		}
		return -1
	}
	at := find()
	if at < 0 {
		c.mu.Lock()
		defer c.mu.Unlock()
		if at = find(); at < 0 {
			var words []motion.Value
			if before := c.words.Load(); before != nil {
				words = slices.Clone(*before)
			}
			at, words = len(words), append(words, v)
			c.words.Store(&words)
		}
	}
	return uint32(at)
}

func (m *measured) start(c *Catalogue, load func(name string) []byte) {
	m.catalogue, m.load = c, load
	m.columns.Store(&map[measureVersion]*valueColumn{})
	m.byKey = sync.OnceValue(func() []int32 {
		positions := make([]int32, c.Len())
		for i := range positions {
			positions[i] = int32(i)
		}
		slices.SortFunc(positions, func(a, b int32) int { return compareKeys(c.Key(int(a)), c.Key(int(b))) })
		return positions
	})
}

func (m *measured) column(of motion.Measure) *valueColumn {
	key := measureVersion{of.ID, of.Version}
	if column := (*m.columns.Load())[key]; column != nil {
		return column
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	columns := *m.columns.Load()
	column := columns[key]
	if column == nil {
		column = m.read(key)
		columns = maps.Clone(columns)
		columns[key] = column
		m.columns.Store(&columns)
	}
	return column
}

// read makes the column of a measure from its file, whose keys and those of the serves are both in order. Two serves
// may have one key: the same stretch of the same frames.
func (m *measured) read(of measureVersion) *valueColumn {
	n := m.catalogue.Len()
	column := &valueColumn{state: make([]atomic.Uint32, n), numbers: make([]float64, n)}
	data := m.load(Measured{Measure: of.id, Version: of.version}.FileName())
	var stored unpacked
	err := frames.Guard(func() (err error) {
		stored, err = unpack(data)
		return err
	})
	if err != nil || stored.Measure != of.id || stored.Version != of.version {
		return column
	}
	j := 0
	for _, i := range m.byKey() {
		key := m.catalogue.Key(int(i))
		for j < len(stored.Numbers) && compareKeys(stored.key(j), key) < 0 {
			j++
		}
		if j < len(stored.Numbers) && stored.key(j) == key {
			column.set(int(i), stored.value(j), kept)
		}
	}
	return column
}

// Cached gives a measure of serve i that was computed before from the same content by the same version.
func (c *Catalogue) Cached(i int, m motion.Measure) (motion.Value, bool) {
	return c.measured.column(m).get(i)
}

// Keep remembers a measure of serve i, for this catalogue and for TakeKept.
func (c *Catalogue) Keep(i int, m motion.Measure, v motion.Value) {
	if v.Missing != "" {
		v.Number = math.NaN()
	}
	c.measured.column(m).set(i, v, fresh)
}

// TakeKept gives the values that were kept and not yet taken, one Measured for each measure that has any, by id: of a
// large season they are too many to be held together.
func (c *Catalogue) TakeKept() iter.Seq[Measured] {
	return func(yield func(Measured) bool) {
		columns := *c.measured.columns.Load()
		byID := func(a, b measureVersion) int { return cmp.Compare(a.id, b.id) }
		for _, of := range slices.SortedFunc(maps.Keys(columns), byID) {
			if taken := c.take(of, columns[of]); len(taken.Keys) > 0 && !yield(taken) {
				return
			}
		}
	}
}

func (c *Catalogue) take(of measureVersion, column *valueColumn) Measured {
	var taken []int32
	for i := range column.state {
		if state := column.state[i].Load(); state >= kept && (state-kept)%wordOne == fresh-kept &&
			column.state[i].CompareAndSwap(state, state-(fresh-kept)) {
			taken = append(taken, int32(i))
		}
	}
	slices.SortFunc(taken, func(a, b int32) int { return compareKeys(c.Key(int(a)), c.Key(int(b))) })
	m := Measured{Measure: of.id, Version: of.version}
	for _, i := range taken {
		key := c.Key(int(i))
		if n := len(m.Keys); n > 0 && m.Keys[n-1] == key {
			continue
		}
		v, _ := column.get(int(i))
		m.Keys, m.Values = append(m.Keys, key), append(m.Values, v)
	}
	return m
}
