package catalogue

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

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
	var p packed
	if err := decode("measured values", data, &p); err != nil {
		return Measured{}, err
	}
	n := len(p.Numbers)
	if len(p.Said) != n || len(p.Keys) != 16*n {
		return Measured{}, errors.New("the measured values are damaged: columns have different lengths")
	}
	m := Measured{Measure: p.Measure, Version: p.Version, Keys: make([]Key, n), Values: make([]motion.Value, n)}
	words := make([]motion.Value, len(p.Words))
	for i, word := range p.Words {
		parts := strings.Split(word, "\n")
		if len(parts) != 3 {
			return Measured{}, errors.New("the measured values are damaged: their words can't be read")
		}
		words[i] = motion.Value{Basis: parts[0], StandIn: parts[1] != "", Missing: parts[2]}
	}
	for i := range n {
		m.Keys[i] = Key(p.Keys[16*i:])
		if int(p.Said[i]) >= len(words) || i > 0 && compareKeys(m.Keys[i-1], m.Keys[i]) >= 0 {
			return Measured{}, errors.New("the measured values are damaged: they are out of order")
		}
		m.Values[i] = words[p.Said[i]]
		m.Values[i].Number = p.Numbers[i]
	}
	return m, nil
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
// and those computed since.
type measured struct {
	catalogue *Catalogue
	load      func(name string) []byte
	byKey     func() []int32 // positions in the order of their keys

	mu      sync.RWMutex // protects columns
	columns map[measureVersion]*valueColumn
}

type measureVersion struct {
	id      string
	version int
}

// valueColumn is one measure over the serves of a catalogue, by position.
type valueColumn struct {
	mu     sync.RWMutex
	values []motion.Value
	known  []bool
	fresh  []int32 // positions that were kept and not yet taken
}

func (m *measured) start(c *Catalogue, load func(name string) []byte) {
	m.catalogue, m.load, m.columns = c, load, map[measureVersion]*valueColumn{}
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
	m.mu.RLock()
	column := m.columns[key]
	m.mu.RUnlock()
	if column != nil {
		return column
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if column = m.columns[key]; column == nil {
		column = m.read(key)
		m.columns[key] = column
	}
	return column
}

// read makes the column of a measure from its file, whose keys and those of the serves are both in order. Two serves
// may have one key: the same stretch of the same frames.
func (m *measured) read(of measureVersion) *valueColumn {
	n := m.catalogue.Len()
	column := &valueColumn{values: make([]motion.Value, n), known: make([]bool, n)}
	kept, err := DecodeMeasured(m.load(Measured{Measure: of.id, Version: of.version}.FileName()))
	if err != nil || kept.Measure != of.id || kept.Version != of.version {
		return column
	}
	j := 0
	for _, i := range m.byKey() {
		key := m.catalogue.Key(int(i))
		for j < len(kept.Keys) && compareKeys(kept.Keys[j], key) < 0 {
			j++
		}
		if j < len(kept.Keys) && kept.Keys[j] == key {
			column.values[i], column.known[i] = kept.Values[j], true
		}
	}
	return column
}

// Cached gives a measure of serve i that was computed before from the same content by the same version.
func (c *Catalogue) Cached(i int, m motion.Measure) (motion.Value, bool) {
	column := c.measured.column(m)
	column.mu.RLock()
	defer column.mu.RUnlock()
	return column.values[i], column.known[i]
}

// Keep remembers a measure of serve i, for this catalogue and for TakeKept.
func (c *Catalogue) Keep(i int, m motion.Measure, v motion.Value) {
	column := c.measured.column(m)
	column.mu.Lock()
	defer column.mu.Unlock()
	if !column.known[i] {
		column.fresh = append(column.fresh, int32(i))
	}
	if v.Missing != "" {
		v.Number = math.NaN()
	}
	column.values[i], column.known[i] = v, true
}

// TakeKept gives the values that were kept since the last call, one Measured for each measure that has any.
func (c *Catalogue) TakeKept() []Measured {
	c.measured.mu.RLock()
	defer c.measured.mu.RUnlock()
	var all []Measured
	for of, column := range c.measured.columns {
		if taken := c.take(of, column); len(taken.Keys) > 0 {
			all = append(all, taken)
		}
	}
	slices.SortFunc(all, func(a, b Measured) int { return cmp.Compare(a.Measure, b.Measure) })
	return all
}

func (c *Catalogue) take(of measureVersion, column *valueColumn) Measured {
	column.mu.Lock()
	defer column.mu.Unlock()
	slices.SortFunc(column.fresh, func(a, b int32) int { return compareKeys(c.Key(int(a)), c.Key(int(b))) })
	taken := Measured{Measure: of.id, Version: of.version}
	for _, i := range column.fresh {
		key := c.Key(int(i))
		if n := len(taken.Keys); n > 0 && taken.Keys[n-1] == key {
			continue
		}
		taken.Keys, taken.Values = append(taken.Keys, key), append(taken.Values, column.values[i])
	}
	column.fresh = nil
	return taken
}
