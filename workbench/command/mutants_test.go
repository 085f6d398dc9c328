package command

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tossline/datasets/recording"
	"tossline/workbench/supervisor"
)

// machinery is what no reader should see: panics, addresses, types and names of Go and of libraries.
var machinery = regexp.MustCompile(`panic|goroutine|runtime error|nil pointer|out of range|0x[0-9a-f]{4}|\.go:|` +
	`\*?\b(array|arrow|parquet|flatbuffers|json|strconv|reflect|ipc|thrift|bufio|io|errors)\.[A-Za-z]|` +
	`interface conversion|unmarshal|%!|<nil>|\bEOF\b|float64|int64|struct \{`)

// TestMutants damages fixtures and imports what comes of them, each in a fenced process: by bytes that are changed, by
// pieces that are lost, repeated or of another file, and by ends that are cut off. Whatever comes of it is told in
// words, in time and in bounded memory, and where an end is missing, that is told too. TOSSLINE_TEST_MUTANTS says how
// many are made, TOSSLINE_TEST_SEED which.
func TestMutants(t *testing.T) {
	most, seed := 150, uint64(1)
	if n, err := strconv.Atoi(os.Getenv("TOSSLINE_TEST_MUTANTS")); err == nil {
		most = n
	}
	if n, err := strconv.ParseUint(os.Getenv("TOSSLINE_TEST_SEED"), 10, 64); err == nil {
		seed = n
	}
	var whole []mutable
	for _, f := range fixtures() {
		if !f.large {
			whole = append(whole, mutable{fixture: f, text: f.bytes()})
		}
	}
	dice := rand.New(rand.NewPCG(seed, 7))
	path := filepath.Join(t.TempDir(), "mutant")
	told := map[string]int{}
	slowest := time.Duration(0)
	for n := range most {
		m := &whole[dice.IntN(len(whole))]
		text, how := m.mutant(dice, whole[dice.IntN(len(whole))].text)
		name := fmt.Sprintf("mutant %d of seed %d, %s %s", n, seed, m.name, how)
		began := time.Now()
		got, err := importOf(t, path, text, m.options())
		took := time.Since(began)
		if slowest = max(slowest, took); took > 20*time.Second {
			t.Errorf("%s took %v", name, took)
		}
		if err != nil {
			told[firstWords(err.Error())]++
		}
		if err != nil && (machinery.MatchString(err.Error()) || strings.Contains(err.Error(), "while reading")) {
			t.Errorf("%s: %v", name, err)
			keep(t, text, n)
		}
		for _, note := range got.notes {
			if machinery.MatchString(note) {
				t.Errorf("%s: note %s", name, note)
				keep(t, text, n)
			}
		}
		if strings.HasPrefix(how, "cut") && err == nil && m.tellsItsEnd() {
			if m.known == nil {
				was, err := importOf(t, path, m.text, m.options())
				m.known = &was
				if err != nil {
					continue
				}
			}
			if got.values < m.known.values && !moreSaid(got.warnings, m.known.warnings) {
				t.Errorf("%s: %d of %d values are imported without a word: %v", name, got.values, m.known.values, got.notes)
				keep(t, text, n)
			}
		}
	}
	if testing.Verbose() {
		for text, n := range told {
			t.Logf("%5d %s", n, text)
		}
		t.Logf("slowest %v", slowest)
	}
}

// moreSaid reports whether something is said that was not before.
func moreSaid(now, before []string) bool {
	return slices.ContainsFunc(now, func(text string) bool { return !slices.Contains(before, text) })
}

// keep saves a mutant for a closer look, where TOSSLINE_TEST_KEEP names a folder.
func keep(t *testing.T, text []byte, n int) {
	if dir := os.Getenv("TOSSLINE_TEST_KEEP"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("mutant-%d", n)), text, 0o644); err != nil {
			t.Log(err)
		}
	}
}

func firstWords(text string) string {
	_, text, _ = strings.Cut(text, ": ")
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return '0'
		}
		return r
	}, text[:min(len(text), 60)])
}

// mutable is a fixture to be damaged, and what is known of it whole.
type mutable struct {
	fixture
	text  []byte
	known *understood
}

// understood is what an import came to.
type understood struct {
	values          int
	notes, warnings []string
}

// tellsItsEnd reports whether a file of this kind shows that its end is missing, wherever it is cut. A table of text
// does not where it is cut between two lines.
func (m *mutable) tellsItsEnd() bool {
	return !strings.HasPrefix(m.name, "csv/") || strings.HasSuffix(m.name, ".gz")
}

// options are those of the fixture's arguments.
func (m *mutable) options() recording.Options {
	o := recording.Options{RateHz: 50}
	for i, arg := range m.args {
		if arg == "--height" {
			o.HeightM, _ = strconv.ParseFloat(m.args[i+1], 64)
		}
	}
	return o
}

// mutant gives a damaged copy, and how it was damaged.
func (m *mutable) mutant(dice *rand.Rand, other []byte) (text []byte, how string) {
	text = append([]byte(nil), m.text...)
	at, n := dice.IntN(len(text)), 1+dice.IntN(64)
	piece := func(b []byte) []byte {
		from := dice.IntN(len(b))
		return b[from:min(len(b), from+n)]
	}
	switch dice.IntN(6) {
	case 0:
		return text[:at], fmt.Sprintf("cut at %d", at)
	case 1:
		return append(text[:at], text[min(len(text), at+n):]...), fmt.Sprintf("without %d bytes at %d", n, at)
	case 2:
		return append(append(text[:at:at], piece(m.text)...), m.text[at:]...), fmt.Sprintf("with more at %d", at)
	case 3:
		copy(text[at:], piece(other))
		return text, fmt.Sprintf("with another's bytes at %d", at)
	case 4:
		for range 1 + dice.IntN(8) {
			text[dice.IntN(len(text))] ^= 1 << dice.IntN(8)
		}
		return text, "with bits turned over"
	}
	values := []byte{0, 1, 0x7f, 0x80, 0xff, '-', '9', '"', '\n', ','}
	for range 1 + dice.IntN(4) {
		// The beginnings and ends of files describe the rest.
		place := dice.IntN(len(text))
		switch dice.IntN(3) {
		case 0:
			place = dice.IntN(min(len(text), 1024))
		case 1:
			place = len(text) - 1 - dice.IntN(min(len(text), 512))
		}
		text[place] = values[dice.IntN(len(values))]
	}
	return text, "with other bytes"
}

// importOf imports a text as a file.
func importOf(t *testing.T, path string, text []byte, o recording.Options) (understood, error) {
	t.Helper()
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	got, err := supervisor.Prepare(ctx, supervisor.Import{Path: path, Options: o, Scratch: filepath.Dir(path),
		Command: []string{os.Args[0], "engine"}})
	if err != nil {
		return understood{}, err
	}
	defer got.Close()
	var u understood
	for _, p := range got.All() {
		u.values += len(p.Take.Frames)
		for _, n := range p.Understanding.Notes {
			u.notes = append(u.notes, noteText(n))
			if n.Severity != recording.Info {
				u.warnings = append(u.warnings, noteText(n))
			}
		}
	}
	return u, nil
}
