package catalogue

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tossline/datasets/frames"
	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

var layout = []landmark.Name{landmark.LeftHand, landmark.RightHand}

// folder is a season folder with three recordings of 100 frames; the frames of the last are not there.
type folder struct {
	dir     string
	content Content
}

func newFolder(t testing.TB) *folder {
	t.Helper()
	f := &folder{dir: t.TempDir(), content: Content{Season: "s1", Revision: 7, Stamp: "stamp"}}
	if err := os.Mkdir(filepath.Join(f.dir, "frames"), 0o755); err != nil {
		t.Fatal(err)
	}
	for k, session := range []string{"2026-04-01", "2026-03-01", "2026-02-01"} {
		xyz := make([]float32, 100*3*len(layout))
		for i := range xyz {
			xyz[i] = float32(k*1000 + i)
		}
		var file bytes.Buffer
		if err := frames.Write(&file, frames.Facts{RateHz: 50, Landmarks: layout}, xyz); err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(file.Bytes())
		r := Recording{ID: fmt.Sprint("r", k), File: fmt.Sprintf("take %d.csv", k), Format: "csv", Frames: 100, RateHz: 50,
			FramesSHA256: hex.EncodeToString(sum[:]), Player: "Oriel Nash", Session: session, Hand: motion.HandLeft,
			HeightM: 1.7}
		if k < 2 {
			if err := os.WriteFile(filepath.Join(f.dir, FramesName(r.FramesSHA256)), file.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		f.content.Recordings = append(f.content.Recordings, r)
		for n := range 2 {
			f.content.Serves = append(f.content.Serves, Serve{
				ID: motion.ServeID(fmt.Sprintf("r%d-%d", k, n)), Recording: k, First: 50 - 50*n, Last: 99 - 50*n, Type: "kick",
				BallSpeedMS: 40, Events: motion.Events{motion.Contact: {TimeS: 1.5 - float64(n), Method: "ball", Confidence: 0.9}},
			})
		}
	}
	f.content.Serves[0].LeftOut = "discarded: a let"
	return f
}

func (f *folder) open(name string) (*os.File, error) { return os.Open(filepath.Join(f.dir, name)) }

func (f *folder) access() Access {
	return Access{
		Frames: func(r Recording) (*frames.File, error) {
			file, err := f.open(FramesName(r.FramesSHA256))
			if err != nil {
				return nil, errors.New("the file is missing")
			}
			return frames.Open(file)
		},
		Measured: func(string) []byte { return nil },
	}
}

// lines describes every serve of a catalogue.
func lines(c *Catalogue) (all []string) {
	for row := range c.Rows() {
		s := c.Row(row)
		all = append(all, fmt.Sprintf("%s at %d: %q %v", s.ID, s.Position, s.LeftOut, s.Events))
	}
	return all
}

func TestSeasonsOrder(t *testing.T) {
	c := New(newFolder(t).content, newFolder(t).access())
	var ids []string
	for row := range c.Rows() {
		ids = append(ids, string(c.Row(row).ID))
	}
	// By session, then by contact within the recording.
	if want := []string{"r2-1", "r2-0", "r1-1", "r1-0", "r0-1", "r0-0"}; !slices.Equal(ids, want) {
		t.Errorf("order %v, want %v", ids, want)
	}
}

func TestLeftOutServesHaveNoPlace(t *testing.T) {
	f := newFolder(t)
	c := New(f.content, f.access())
	if c.Len() != 3 || c.Rows() != 6 {
		t.Fatalf("%d of %d serves are measured, want 3 of 6", c.Len(), c.Rows())
	}
	for id, why := range map[motion.ServeID]string{
		"r0-0": "discarded: a let", "r2-0": "the frames of take 2.csv can't be read",
	} {
		s, ok := c.Find(id)
		if !ok || s.Position != -1 || !strings.Contains(s.LeftOut, why) {
			t.Errorf("%s: %+v, want it left out: %s", id, s, why)
		}
	}
	if left := c.LeftOut(); left.Len() != 3 || left.Texts("left_out")[2] != "discarded: a let" {
		t.Errorf("left out: %v", left.Texts("left_out"))
	}
	if all := c.Particulars(); all.Len() != 3 || all.Texts("serve")[0] != "r1-1" || all.Numbers("contact_s")[0] != 0.5 {
		t.Errorf("particulars of %v", all.Texts("serve"))
	}
	if clip, err := c.ClipOf("r0-0"); err != nil || clip.Position != -1 || clip.First != 50 || clip.Len() != 50 {
		t.Errorf("the clip of a discarded serve: %v, %v", clip.First, err)
	}
	for name, err := range map[string]error{
		"a damaged file": second(c.ClipOf("r2-0")), "no serve": second(c.ClipOf("x")), "no position": second(c.Clip(3)),
		"a negative position": second(c.Clip(-1)), "a damaged recording": second(c.Take(2)),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestClipSharesTheFrames(t *testing.T) {
	f := newFolder(t)
	c := New(f.content, f.access())
	clip, err := c.Clip(1) // r1-0, frames 50 to 99
	if err != nil {
		t.Fatal(err)
	}
	if clip.Frames[0] != 1000+50*6 || len(clip.Frames) != 50*6 || cap(clip.Frames) != 50*6 || clip.HeightM != 1.7 {
		t.Errorf("%d values from %v on, height %v", len(clip.Frames), clip.Frames[0], clip.HeightM)
	}
	take, err := c.Take(1)
	if err != nil || &take.Frames[50*6] != &clip.Frames[0] {
		t.Error("a clip is a copy")
	}
}

func TestCarriedIntoAnotherProcess(t *testing.T) {
	f := newFolder(t)
	c := New(f.content, f.access())
	data, files, err := c.Encode()
	if err != nil || len(files) != 2 {
		t.Fatal(files, err)
	}
	opened, err := Open(data, f.open)
	if err != nil {
		t.Fatal(err)
	}
	defer opened.Close()
	if opened.Stamp() != "stamp" || opened.Revision() != 7 || opened.Season() != "s1" {
		t.Errorf("revision %d of %s, stamp %s", opened.Revision(), opened.Season(), opened.Stamp())
	}
	if !slices.Equal(lines(opened), lines(c)) {
		t.Errorf("opened:\n%s\nwant:\n%s", strings.Join(lines(opened), "\n"), strings.Join(lines(c), "\n"))
	}
	for i := range c.Len() {
		if c.Key(i) != opened.Key(i) {
			t.Errorf("serve %d has another key", i)
		}
	}
	if _, err := Restore(data, "stamp", f.access()); err != nil {
		t.Error(err)
	}
	if _, err := Restore(data, "other", f.access()); err == nil {
		t.Error("a list of another revision was restored")
	}
}

// A list that lies in the cache may be cut, changed, or of another version.
func TestDamagedListIsRefused(t *testing.T) {
	f := newFolder(t)
	data, _, err := New(f.content, f.access()).Encode()
	if err != nil {
		t.Fatal(err)
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 4))
	for range 300 {
		bad := bytes.Clone(data)
		switch random.IntN(3) {
		case 0:
			bad[random.IntN(len(bad))] ^= 1 << random.IntN(8)
		case 1:
			bad = bad[:random.IntN(len(bad))]
		case 2:
			bad = append(bad, 0)
		}
		if _, err := Open(bad, f.open); err == nil {
			t.Fatal("a damaged list was opened")
		}
	}
}

// A list that was made up, with a hash that fits, is refused or can be read to the end.
func TestMadeUpListIsHarmless(t *testing.T) {
	f := newFolder(t)
	for name, forge := range map[string]func(*list){
		"recording that isn't there": func(l *list) { l.Recording[1] = 9 },
		"negative recording":         func(l *list) { l.Recording[1] = -1 },
		"stretch beyond the frames":  func(l *list) { l.Last[1] = 100 },
		"stretch backwards":          func(l *list) { l.First[1], l.Last[1] = 9, 8 },
		"negative frame":             func(l *list) { l.First[1] = -1 },
		"word that isn't there":      func(l *list) { l.Type[1] = 99 },
		"method that isn't there":    func(l *list) { l.Methods[1] = 99 },
		"no words":                   func(l *list) { l.Words = nil },
		"a column too short":         func(l *list) { l.Times = l.Times[1:] },
		"keys too short":             func(l *list) { l.Keys = l.Keys[1:] },
		"other events":               func(l *list) { l.Kinds = l.Kinds[1:] },
		"serves without recordings":  func(l *list) { l.Recordings = nil },
		"more frames than there are": func(l *list) { l.Recordings[1].Frames = 1000 },
		"another rate":               func(l *list) { l.Recordings[1].RateHz = math.NaN() },
		"another file":               func(l *list) { l.Recordings[1].FramesSHA256 = "../../etc/passwd" },
		"no measured values":         func(l *list) { l.Measured = []string{"cache/none.1.measured"} },
	} {
		t.Run(name, func(t *testing.T) {
			l := newList(f.content)
			l.Recordings = slices.Clone(l.Recordings)
			forge(&l)
			data, err := encode("catalogue", &l)
			if err != nil {
				t.Fatal(err)
			}
			c, err := Open(data, f.open)
			if err != nil {
				return
			}
			defer c.Close()
			lines(c)
			c.ParticularsOfAll()
			for i := range c.Len() {
				if clip, err := c.Clip(i); err != nil || clip.Len() != 50 {
					t.Errorf("serve %d: %d frames, %v", i, clip.Len(), err)
				}
			}
		})
	}
}

// TestKeyTellsContentsApart changes all that measures depend on, one at a time, and what they don't depend on.
func TestKeyTellsContentsApart(t *testing.T) {
	base := newFolder(t)
	key := func(change func(*Content)) Key {
		f := &folder{dir: base.dir, content: base.content}
		f.content.Recordings = slices.Clone(base.content.Recordings)
		f.content.Serves = slices.Clone(base.content.Serves)
		change(&f.content)
		l := newList(f.content)
		return l.key(2)
	}
	same := key(func(*Content) {})
	contact := func(e motion.Event) func(*Content) {
		return func(c *Content) { c.Serves[2].Events = motion.Events{motion.Contact: e} }
	}
	for name, change := range map[string]func(*Content){
		"frames":     func(c *Content) { c.Recordings[1].FramesSHA256 = "other" },
		"hand":       func(c *Content) { c.Recordings[1].Hand = motion.HandRight },
		"height":     func(c *Content) { c.Recordings[1].HeightM = 1.71 },
		"cutoffs":    func(c *Content) { c.Recordings[1].CutoffsHz = []float64{10, 0} },
		"stretch":    func(c *Content) { c.Serves[2].First++ },
		"event":      contact(motion.Event{TimeS: 1.51, Method: "ball"}),
		"stand-in":   contact(motion.Event{TimeS: 1.5, Method: "ball", StandIn: true}),
		"one more":   func(c *Content) { c.Serves[2].Events = motion.Events{motion.Contact: {TimeS: 1.5}, motion.Start: {}} },
		"one fewer":  func(c *Content) { c.Serves[2].Events = nil },
		"same: name": func(c *Content) { c.Recordings[1].Player, c.Recordings[1].Session = "P-1", "" },
		"same: type": func(c *Content) { c.Serves[2].Type, c.Serves[2].Outcome = "flat", "in" },
		"same: how":  contact(motion.Event{TimeS: 1.5, Method: "racket", Confidence: 0.1}),
	} {
		if got, want := key(change) == same, strings.HasPrefix(name, "same"); got != want {
			t.Errorf("%s: the key is the same: %v", name, got)
		}
	}
}

func TestMeasuredValuesReadBack(t *testing.T) {
	f := newFolder(t)
	c := New(f.content, f.access())
	m := motion.ContactOffset
	c.Keep(0, m, motion.Value{Number: 0.12, Basis: "ball"})
	c.Keep(2, m, motion.Value{Number: 7, Missing: "gap at contact"})
	kept := slices.Collect(c.TakeKept())
	if len(kept) != 1 || len(slices.Collect(c.TakeKept())) != 0 {
		t.Fatalf("kept %v", kept)
	}
	data, err := kept[0].Encode()
	if err != nil {
		t.Fatal(err)
	}
	read, err := DecodeMeasured(data)
	if err != nil || fmt.Sprint(read) != fmt.Sprint(kept[0]) {
		t.Errorf("read %v, %v, want %v", read, err, kept[0])
	}
	access := f.access()
	access.Measured = func(name string) []byte {
		if name == kept[0].FileName() {
			return data
		}
		return nil
	}
	again := New(f.content, access)
	if v, ok := again.Cached(0, m); !ok || v.Number != 0.12 || v.Basis != "ball" {
		t.Errorf("cached %+v, %v", v, ok)
	}
	if v, ok := again.Cached(2, m); !ok || !math.IsNaN(v.Number) || v.Missing != "gap at contact" {
		t.Errorf("cached %+v, %v", v, ok)
	}
	if v, ok := again.Cached(1, m); ok {
		t.Errorf("a value that nobody kept: %+v", v)
	}
	newer := m
	newer.Version++
	if v, ok := again.Cached(0, newer); ok {
		t.Errorf("a value of another version: %+v", v)
	}
	other := kept[0]
	other.Values = []motion.Value{{Number: 1}, {Number: 2}}
	if merged := kept[0].Merge(other); fmt.Sprint(merged) != fmt.Sprint(other) {
		t.Errorf("merged %v, want the newer %v", merged, other)
	}
}

func FuzzDecodeMeasured(f *testing.F) {
	m := Measured{Measure: "contact_offset", Version: 1, Keys: []Key{{1}, {2}},
		Values: []motion.Value{{Number: 1}, {Number: 2}}}
	data, err := m.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data[len(heading("measured values"))+sha256.Size:])
	f.Fuzz(func(t *testing.T, body []byte) {
		sum := sha256.Sum256(body)
		m, err := DecodeMeasured(append(append(heading("measured values"), sum[:]...), body...))
		if err == nil && len(m.Keys) != len(m.Values) {
			t.Error("keys and values differ in number")
		}
	})
}
