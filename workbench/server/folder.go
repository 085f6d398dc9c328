package server

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/catalogue"
	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/datasets/sheet"
	"tossline/kernel/motion"
	"tossline/workbench/supervisor"
)

// Settings of a season that the server knows.
const (
	settingDemo   = "demo"    // not empty for a season that is made up
	settingValues = "values." // with the name of a recipe: its settings as JSON
)

// Folder is a season folder as a Season.
type Folder struct {
	season *season.Season
	writer *season.Writer // nil where the season may only be read
	why    string         // why it may only be read

	changed func() // called when measures were kept

	mu       sync.Mutex
	overview Overview // made for the stamp below
	stamp    string
	kept     int // counts measures kept
}

// write is what changes the season, or why it may only be read.
func (f *Folder) write() (*season.Writer, error) {
	if f.writer == nil {
		return nil, errors.New(cmp.Or(f.why, "this season is open for reading only"))
	}
	return f.writer, nil
}

// Overview lists players, their sessions, and the means of the measures that are known.
func (f *Folder) Overview(ctx context.Context) (Overview, error) {
	cat, err := f.season.Snapshot(ctx)
	if err != nil {
		return Overview{}, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	stamp := fmt.Sprint(cat.Stamp(), f.kept)
	if f.stamp == stamp {
		return f.overview, nil
	}
	o := Overview{Folder: f.season.Dir(), ReadOnly: f.why, Serves: cat.Len(), Players: players(cat)}
	name, err := f.season.Name(ctx)
	if err != nil {
		return Overview{}, err
	}
	demo, err := f.season.Setting(ctx, settingDemo)
	if err != nil {
		return Overview{}, err
	}
	o.Name, o.Demo = name, demo != ""
	for _, p := range o.Players {
		for _, s := range p.Sessions {
			if s.Date != "" && (o.From == "" || s.Date < o.From) {
				o.From = s.Date
			}
			o.To = max(o.To, s.Date)
		}
	}
	o.Measures = addMeans(cat, o.Players)
	if o.Tables, err = f.keptTables(ctx); err != nil {
		return Overview{}, err
	}
	f.overview, f.stamp = o, stamp
	return o, nil
}

// players lists players by name, each with sessions by date.
func players(cat *catalogue.Catalogue) []Player {
	byName := map[string]*Player{}
	for row := range cat.Rows() {
		serve := cat.Row(row)
		rec := cat.Recordings()[serve.Recording]
		p := byName[rec.Player]
		if p == nil {
			p = &Player{Name: rec.Player, Hand: string(rec.Hand), BirthYear: rec.BirthYear, Level: rec.Level,
				HeightM: rec.HeightM}
			byName[rec.Player] = p
		}
		i := slices.IndexFunc(p.Sessions, func(s Session) bool { return s.Date == rec.Session })
		if i < 0 {
			i = len(p.Sessions)
			p.Sessions = append(p.Sessions, Session{Date: rec.Session})
		}
		s := &p.Sessions[i]
		if serve.Position < 0 {
			s.CutOff++
			continue
		}
		s.First = cmp.Or(s.First, string(serve.ID))
		s.Serves++
		p.Serves++
	}
	list := make([]Player, 0, len(byName))
	for _, p := range byName {
		slices.SortFunc(p.Sessions, func(a, b Session) int { return cmp.Compare(a.Date, b.Date) })
		list = append(list, *p)
	}
	slices.SortFunc(list, func(a, b Player) int { return cmp.Compare(a.Name, b.Name) })
	return list
}

// addMeans gives each session the mean of every measure that was computed for its serves, and lists those measures.
func addMeans(cat *catalogue.Catalogue, players []Player) []Choice {
	type at struct{ player, date string }
	sessions := map[at]*Session{}
	for i := range players {
		for k := range players[i].Sessions {
			s := &players[i].Sessions[k]
			sessions[at{players[i].Name, s.Date}] = s
		}
	}
	known := []Choice{}
	for _, m := range motion.All() {
		sums, counts := map[*Session]float64{}, map[*Session]float64{}
		for i := range cat.Len() {
			if v, ok := cat.Cached(i, m); ok && v.Missing == "" && !math.IsNaN(v.Number) {
				rec := cat.Recordings()[cat.Serve(i).Recording]
				s := sessions[at{rec.Player, rec.Session}]
				sums[s] += v.Number
				counts[s]++
			}
		}
		if len(sums) == 0 {
			continue
		}
		known = append(known, Choice{Value: m.Column(), Title: m.Title, Unit: m.Unit})
		for s, sum := range sums {
			if s.Means == nil {
				s.Means = map[string]float64{}
			}
			s.Means[m.Column()] = sum / counts[s]
		}
	}
	return known
}

// Clip gives the frames and everything known of one serve.
func (f *Folder) Clip(ctx context.Context, serve string) ([]byte, error) {
	cat, err := f.season.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	found, ok := cat.Find(motion.ServeID(serve))
	if !ok {
		return nil, fmt.Errorf("there is no serve %s in this season", serve)
	}
	clip, err := cat.ClipOf(found.ID)
	if err != nil {
		return nil, err
	}
	info, err := json.Marshal(clipInfo(cat, found, clip))
	if err != nil {
		return nil, err
	}
	return encodeClip(clip, string(info))
}

func clipInfo(cat *catalogue.Catalogue, s catalogue.Serve, clip motion.Clip) ClipInfo {
	rec := cat.Recordings()[s.Recording]
	info := ClipInfo{
		Serve: string(s.ID), Player: rec.Player, Session: rec.Session, Recording: rec.ID, File: rec.File,
		Hand: string(rec.Hand), RateHz: clip.Rate, FirstS: float64(clip.First) / clip.Rate, CutOff: s.LeftOut,
		Events: []ClipEvent{}, Measures: []ClipFact{},
	}
	for _, name := range clip.Layout.Names() {
		info.Landmarks = append(info.Landmarks, string(name))
	}
	for _, kind := range motion.EventKinds {
		if e, ok := clip.Events[kind]; ok {
			info.Events = append(info.Events, ClipEvent{string(kind), e})
		}
	}
	info.place(cat, s)
	if s.Position >= 0 {
		info.measure(cat, s)
	}
	return info
}

// place finds the player's serves before and after one, and its number in the session.
func (info *ClipInfo) place(cat *catalogue.Catalogue, s catalogue.Serve) {
	seen := false
	for row := range cat.Rows() {
		other := cat.Row(row)
		rec := cat.Recordings()[other.Recording]
		if rec.Player != info.Player {
			continue
		}
		switch {
		case other.ID == s.ID:
			seen = true
			info.Number++
		case seen:
			info.Next = string(other.ID)
			return
		default:
			info.Previous = string(other.ID)
			if rec.Session == info.Session {
				info.Number++
			}
		}
	}
}

// measure adds the measures of a serve that were computed before.
func (info *ClipInfo) measure(cat *catalogue.Catalogue, s catalogue.Serve) {
	for _, m := range motion.All() {
		v, ok := cat.Cached(s.Position, m)
		if !ok {
			continue
		}
		fact := ClipFact{Column: m.Column(), Title: m.Title, Unit: m.Unit, Missing: v.Missing, Basis: v.Basis}
		if v.Missing == "" && !math.IsNaN(v.Number) {
			fact.Value = &v.Number
		}
		if v.StandIn {
			fact.Basis += " (stand-in)"
		}
		info.Measures = append(info.Measures, fact)
	}
}

// encodeClip writes frames as an Arrow IPC stream with info under the schema metadata key "clip".
func encodeClip(clip motion.Clip, info string) ([]byte, error) {
	width := 3 * clip.Layout.Len()
	value := arrow.Field{Name: "value", Type: arrow.PrimitiveTypes.Float32, Nullable: true}
	kind := arrow.FixedSizeListOfField(int32(width), value)
	meta := arrow.NewMetadata([]string{"clip"}, []string{info})
	schema := arrow.NewSchema([]arrow.Field{{Name: "xyz", Type: kind, Nullable: true}}, &meta)
	values := array.NewData(arrow.PrimitiveTypes.Float32, len(clip.Frames),
		[]*memory.Buffer{nil, memory.NewBufferBytes(arrow.Float32Traits.CastToBytes(clip.Frames))}, nil, 0, 0)
	rows := array.NewData(kind, clip.Len(), []*memory.Buffer{nil}, []arrow.ArrayData{values}, 0, 0)
	record := array.NewRecord(schema, []arrow.Array{array.MakeFromData(rows)}, int64(clip.Len()))
	var out bytes.Buffer
	w := ipc.NewWriter(&out, ipc.WithSchema(schema))
	if err := w.Write(record); err != nil {
		return nil, fmt.Errorf("writing the frames: %w", err)
	}
	return out.Bytes(), w.Close()
}

// Values gives the settings of a recipe that were kept.
func (f *Folder) Values(ctx context.Context, recipe string) (map[string]json.RawMessage, error) {
	text, err := f.season.Setting(ctx, settingValues+recipe)
	if err != nil || text == "" {
		return nil, err
	}
	var values map[string]json.RawMessage
	if err := json.Unmarshal([]byte(text), &values); err != nil {
		return nil, nil // not ours: the recipe starts with its defaults
	}
	return values, nil
}

// KeepValues keeps the settings of a recipe. A season that may only be read forgets them.
func (f *Folder) KeepValues(ctx context.Context, recipe string, values map[string]json.RawMessage) error {
	if f.writer == nil {
		return nil
	}
	if len(values) == 0 {
		return f.writer.SetSetting(ctx, settingValues+recipe, "")
	}
	text, err := json.Marshal(values)
	if err != nil {
		return err
	}
	return f.writer.SetSetting(ctx, settingValues+recipe, string(text))
}

// Allowed tells whether a text was allowed.
func (f *Folder) Allowed(ctx context.Context, sha256 string) (bool, error) {
	return f.season.Allowed(ctx, sha256)
}

// Allow allows a text.
func (f *Folder) Allow(ctx context.Context, sha256 string) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	return w.Allow(ctx, sha256)
}

// KeepVersion keeps a text. A season that may only be read keeps none.
func (f *Folder) KeepVersion(ctx context.Context, recipe, source string) error {
	if f.writer == nil {
		return nil
	}
	_, err := f.writer.SaveRecipe(ctx, recipe, source)
	return err
}

// Versions lists the texts that a recipe had.
func (f *Folder) Versions(ctx context.Context, recipe string) ([]Version, error) {
	revisions, err := f.season.RecipeHistory(ctx, recipe)
	list := make([]Version, 0, len(revisions))
	for _, r := range revisions {
		list = append(list, Version{SHA256: r.SHA256, At: r.SavedAt.UTC().Format(time.RFC3339)})
	}
	return list, err
}

// Version gives a text.
func (f *Folder) Version(ctx context.Context, sha256 string) (string, error) {
	return f.season.RecipeText(ctx, sha256)
}

// Prepare reads a file in a fenced process.
func (f *Folder) Prepare(ctx context.Context, file Upload, said recording.Options, progress func(done, total int)) (
	*supervisor.Imported, error) {
	var err error
	if said.Maps, err = f.season.LandmarkMaps(ctx); err != nil {
		return nil, err
	}
	return supervisor.Prepare(ctx, supervisor.Import{
		Path: file.Path, Scratch: filepath.Dir(file.Path), Options: said, Progress: progress,
	})
}

// Store adds the recordings of a file, all or none, and keeps the landmark map that was made by hand for the next file.
func (f *Folder) Store(ctx context.Context, p *recording.Prepared, said recording.Options) (Stored, error) {
	w, err := f.write()
	if err != nil {
		return Stored{}, err
	}
	added, err := w.AddAll(ctx, season.ImportsOf(p))
	if err != nil {
		return Stored{}, err
	}
	ctx = context.WithoutCancel(ctx) // what is stored is told as stored
	if err := w.KeepLandmarkMap(ctx, p.Understanding.Landmarks.Set, said.Map); err != nil {
		return Stored{}, err
	}
	stored := Stored{Recording: added[0].Recording, Outcome: string(added[0].Outcome), Serves: []string{}}
	for _, a := range added {
		for _, id := range a.Serves {
			stored.Serves = append(stored.Serves, string(id))
		}
	}
	return stored, nil
}

// Known reads a table of particulars in a fenced process. What is none is left after its titles.
func (f *Folder) Known(ctx context.Context, file Upload) (brought particulars.Brought, is bool, err error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	first := true
	read, err := particulars.ReadSheet(func(row func(sheet.Row) error) error {
		return supervisor.ReadTable(ctx, supervisor.Import{Path: file.Path}, func(r sheet.Row) error {
			if first {
				if first, is = false, particulars.Known(r); !is {
					stop()
				}
			}
			return row(r)
		})
	})
	if err != nil {
		return particulars.Brought{}, is, err
	}
	brought, err = read.Bring(ctx, f.season)
	return brought, is, err
}

// Bring makes so what a table brings.
func (f *Folder) Bring(ctx context.Context, brought particulars.Brought) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	return brought.Make(ctx, w)
}

// Formats lists the endings by which the page offers files; what a file is shows its content.
func (f *Folder) Formats() []string {
	return []string{
		".bvh", ".c3d", ".csv", ".tsv", ".txt", ".trc", ".json", ".arrow", ".feather", ".parquet", ".gz",
	}
}

// Source gives the serves as they are now.
func (f *Folder) Source(ctx context.Context) (motion.Source, error) { return f.season.Snapshot(ctx) }

// Keep keeps measures that an engine computed.
func (f *Folder) Keep(all []catalogue.Measured) error {
	if f.writer == nil {
		return nil
	}
	err := f.season.KeepMeasured(context.Background(), all...)
	f.mu.Lock()
	f.kept++
	f.mu.Unlock()
	if f.changed != nil {
		f.changed()
	}
	return err
}
