package demo

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"iter"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// TruthName is the file in the season folder that keeps what the model did: take name to serves, as JSON.
const TruthName = "truth.json"

// Create makes the season of a seed in the folder dir, which must not exist or be empty. The recordings go through
// the same cutting as any import. The season is made beside dir and moved there when it is whole: a Create that was
// interrupted leaves no half a season under that name. progress, which may be nil, hears of every take.
func Create(ctx context.Context, dir, command string, seed uint64, progress func(done, total int)) error {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return fmt.Errorf("%s holds something already; name a folder that is empty or not there yet", dir)
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return fmt.Errorf("there is no place for the season: %w", err)
	}
	removeStale(filepath.Dir(dir))
	parent, err := os.MkdirTemp(filepath.Dir(dir), making)
	if err != nil {
		return fmt.Errorf("there is no place for the season: %w", err)
	}
	defer os.RemoveAll(parent)
	half := filepath.Join(parent, filepath.Base(dir))
	if err := fill(ctx, half, command, seed, progress); err != nil {
		return err
	}
	os.Remove(dir) // an empty folder of that name
	return os.Rename(half, dir)
}

// making begins the names of folders that hold half a season.
const making = ".making-"

// stale is longer than making a season takes anywhere.
const stale = 6 * time.Hour

// removeStale removes from a folder what Creates that were killed left there.
func removeStale(dir string) {
	left, _ := filepath.Glob(filepath.Join(dir, making+"*"))
	for _, path := range left {
		if info, err := os.Stat(path); err == nil && time.Since(info.ModTime()) > stale {
			os.RemoveAll(path)
		}
	}
}

// fill writes the takes, what is known of players and serves, and the truth.
func fill(ctx context.Context, dir, command string, seed uint64, progress func(done, total int)) (err error) {
	w, err := season.Create(dir, command)
	if err != nil {
		return err
	}
	defer func() {
		if closed := w.Close(); err == nil {
			err = closed
		}
	}()
	filling := filling{seed: seed, progress: progress, truth: map[string][]Serve{}}
	added, err := w.AddAll(ctx, filling.imports(ctx))
	if err != nil {
		return err
	}
	if _, err := w.Edit(ctx, filling.particulars(added)...); err != nil {
		return err
	}
	for key, value := range map[string]string{"name": academyName, "demo": "yes"} {
		if err := w.SetSetting(ctx, key, value); err != nil {
			return err
		}
	}
	text, err := json.Marshal(filling.truth)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, TruthName), text, 0o644)
}

// filling is a season on its way into a folder.
type filling struct {
	seed     uint64
	progress func(done, total int)
	truth    map[string][]Serve
	takes    []filled
}

// filled is one take that was handed over.
type filled struct {
	serves []Serve
	found  []motion.Serve
}

// imports generates the takes and cuts them.
func (f *filling) imports(ctx context.Context) iter.Seq2[season.Import, error] {
	return func(yield func(season.Import, error) bool) {
		stopped := false
		err := Generate(ctx, f.seed, func(t Take) error {
			found := motion.Cut(t.Take)
			f.truth[t.Name] = t.Serves
			f.takes = append(f.takes, filled{t.Serves, found.Serves})
			if f.progress != nil {
				f.progress(len(f.takes), Takes())
			}
			if !yield(t.importOf(found), nil) {
				stopped = true
				return errStopped
			}
			return nil
		})
		if err != nil && !stopped {
			yield(season.Import{}, err)
		}
	}
}

var errStopped = fmt.Errorf("the season is not wanted any more")

func (t Take) importOf(found motion.Found) season.Import {
	return season.Import{
		File: t.Name, SourceSHA256: hashOf(t.Frames), Format: "demo",
		RateHz: t.Rate, Layout: t.Layout, Frames: t.Frames, Hand: t.Hand,
		Player: t.Player.Name, Session: t.Session, HeightM: t.Player.HeightM,
		Level: t.Player.Level, BirthYear: t.Player.BirthYear,
		Serves: found.Serves,
	}
}

func hashOf(frames []float32) string {
	sum := sha256.New()
	block := make([]byte, 0, 1<<16)
	for _, v := range frames {
		block = binary.LittleEndian.AppendUint32(block, math.Float32bits(v))
		if len(block) == cap(block) {
			sum.Write(block)
			block = block[:0]
		}
	}
	sum.Write(block)
	return hex.EncodeToString(sum.Sum(nil))
}

// particulars says of every serve that was found what somebody beside the court would have written down.
func (f *filling) particulars(added []season.Added) []season.Edit {
	var edits []season.Edit
	say := func(id motion.ServeID, field, value string) {
		edits = append(edits, season.Edit{Target: season.OnServe, Subject: string(id), Field: field, Value: value})
	}
	for i, take := range f.takes {
		for j, found := range take.found {
			serve, ok := nearest(take.serves, found)
			if !ok {
				continue
			}
			id := added[i].Serves[j]
			say(id, "court_side", serve.CourtSide)
			say(id, "serve_type", serve.ServeType)
			say(id, "stance_type", serve.StanceType)
			say(id, "outcome", serve.Outcome)
			say(id, "ball_speed_m_s", strconv.FormatFloat(serve.BallSpeedMS, 'f', 1, 64))
		}
	}
	return edits
}

// nearest is the serve whose true contact a found serve has, give or take a quarter of a second.
func nearest(serves []Serve, found motion.Serve) (Serve, bool) {
	contact, ok := found.Events[motion.Contact]
	if !ok {
		return Serve{}, false
	}
	for _, s := range serves {
		if at, ok := s.Truth.Events[motion.Contact]; ok && math.Abs(at-contact.TimeS) < 0.25 {
			return s, true
		}
	}
	return Serve{}, false
}
