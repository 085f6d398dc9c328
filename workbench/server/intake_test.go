package server

import (
	"bytes"
	"context"
	"errors"
	"os"
	"strings"
	"testing"

	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/workbench/supervisor"
)

func TestDroppedFile(t *testing.T) {
	s := stand(t)
	page, other := s.page(), s.page()
	response, upload := page.upload("oriel%20nash.csv", takeAsCSV())
	if response.StatusCode != 200 || upload == "" {
		t.Fatalf("upload: %d", response.StatusCode)
	}
	understood := answerOf[recording.Understanding](page, "preview", map[string]any{"upload": upload})
	if understood.File != "oriel nash.csv" || understood.Frames != shortTake().Len() || len(understood.Serves) != 2 {
		t.Errorf("understood %+v", understood)
	}
	if o := s.overview(); o.Serves != 2 {
		t.Errorf("%d serves after the preview, want the 2 of before", o.Serves)
	}
	choices := recording.Options{Player: "Second Player", Session: "2026-05-01"}
	corrected := map[string]any{"upload": upload, "choices": choices}
	again := answerOf[recording.Understanding](page, "preview", corrected)
	if again.Player.Value != "Second Player" {
		t.Errorf("corrected: %+v", again.Player)
	}
	stored := answerOf[Stored](page, "import", corrected)
	if stored.Outcome != "new" || len(stored.Serves) != 2 {
		t.Errorf("stored %+v", stored)
	}
	if season := string(other.push("season").Body); !strings.Contains(season, "Second Player") {
		t.Errorf("the other page hears %s", season)
	}
	if f := page.ask("import", corrected); !strings.Contains(f.Error, "drop it on the page again") {
		t.Errorf("a second import: %+v", f)
	}
	_, upload = page.upload("oriel%20nash.csv", takeAsCSV())
	corrected["upload"] = upload
	if stored := answerOf[Stored](page, "import", corrected); stored.Outcome != "already there" {
		t.Errorf("the same file again: %+v", stored)
	}
	s.noneAside()
}

func (s *standing) overview() Overview {
	s.t.Helper()
	o, err := s.folder.Overview(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	return o
}

// noneAside fails where a file is still kept.
func (s *standing) noneAside() {
	s.t.Helper()
	entries, err := os.ReadDir(s.options.Aside)
	if err != nil || len(entries) > 0 {
		s.t.Errorf("kept aside: %v, %v", entries, err)
	}
}

// A landmark map that was made by hand for one file is there for the next of the same markers.
func TestLandmarkMapIsKept(t *testing.T) {
	s := stand(t)
	page := s.page()
	renamed := bytes.Replace(takeAsCSV(), []byte("left_knee_"), []byte("shed_pole_"), 3)
	_, upload := page.upload("one.csv", renamed)
	byHand := recording.Options{Map: map[string]string{"left_knee": "shed_pole"}}
	page.reply("import", map[string]any{"upload": upload, "choices": byHand})
	_, upload = page.upload("two.csv", append(renamed, '\n'))
	understood := answerOf[recording.Understanding](page, "preview", map[string]any{"upload": upload})
	if understood.Landmarks.Map["left_knee"] != "shed_pole" || !understood.Landmarks.Kept {
		t.Errorf("the next file: %+v", understood.Landmarks)
	}
}

// TestDroppedFileIsRefused drops what is no recording. Each gets a sentence, and nothing is stored.
func TestDroppedFileIsRefused(t *testing.T) {
	s := stand(t)
	page := s.page()
	for name, content := range map[string][]byte{
		"empty.csv":   nil,
		"noise.bvh":   []byte("HIERARCHY\nROOT Hips\n{"),
		"picture.png": []byte("\x89PNG\r\n\x1a\n"),
		"words.csv":   []byte("a,b,c\n1,2,three\n"),
		"long line":   bytes.Repeat([]byte("1,"), 4<<20),
	} {
		t.Run(name, func(t *testing.T) {
			s.t, page.t = t, t
			response, upload := page.upload(strings.ReplaceAll(name, " ", "%20"), content)
			if response.StatusCode != 200 {
				t.Fatalf("upload: %d", response.StatusCode)
			}
			f := page.ask("import", map[string]any{"upload": upload})
			if f.Type != "failed" || f.Error == "" || strings.Contains(f.Error, "panic") || strings.Contains(f.Error, "/tmp") {
				t.Errorf("import: %s, %q", f.Body, f.Error)
			}
			page.reply("discard", map[string]any{"upload": upload})
			s.noneAside()
		})
	}
	s.t = t
	if o := s.overview(); o.Serves != 2 || len(o.Players) != 1 {
		t.Errorf("the season has %+v", o)
	}
}

func TestUploadNames(t *testing.T) {
	s := stand(t)
	page := s.page()
	for name, want := range map[string]int{
		"": 400, "%ZZ": 400, "..": 400, strings.Repeat("a", 300): 400,
		"..%2F..%2Fpasswd": 200, "%2Fetc%2Fpasswd": 200, "a%00b": 422, "serve 1.csv": 200, "%E2%82%AC.csv": 200,
	} {
		response, upload := page.upload(name, []byte("x"))
		if response.StatusCode != want {
			t.Errorf("%.40q: %d, want %d", name, response.StatusCode, want)
		}
		if upload != "" {
			page.reply("discard", map[string]any{"upload": upload})
		}
	}
	s.noneAside()
}

func TestManyFilesWait(t *testing.T) {
	s := stand(t)
	page := s.page()
	for range maxAside {
		if response, _ := page.upload("a.csv", []byte("x")); response.StatusCode != 200 {
			t.Fatal(response.Status)
		}
	}
	if response, _ := page.upload("a.csv", []byte("x")); response.StatusCode != 422 {
		t.Errorf("one file too many: %d", response.StatusCode)
	}
}

// halting is a season that reads and stores for ever, until it is stopped.
type halting struct {
	Season
	at chan string // what it has begun to do
}

func (h halting) Prepare(ctx context.Context, _ Upload, said recording.Options, _ func(done, total int)) (
	*supervisor.Imported, error) {
	if said.Player != "" {
		return &supervisor.Imported{}, nil
	}
	return nil, h.halt(ctx, "reading")
}

func (h halting) Store(ctx context.Context, _ *recording.Prepared, _ recording.Options) (Stored, error) {
	return Stored{}, h.halt(ctx, "storing")
}

func (h halting) halt(ctx context.Context, at string) error {
	h.at <- at
	<-ctx.Done()
	return context.Cause(ctx)
}

func TestDiscardStopsWhatIsUnderWay(t *testing.T) {
	for want, choices := range map[string]recording.Options{
		"reading": {}, "storing": {Player: "Oriel Nash", Session: "2026-03-14"},
	} {
		t.Run(want, func(t *testing.T) {
			season := halting{at: make(chan string)}
			in, err := newIntake(t.TempDir(), season)
			if err != nil {
				t.Fatal(err)
			}
			key, err := in.take("oriel.csv", strings.NewReader("x"))
			if err != nil {
				t.Fatal(err)
			}
			ended := make(chan error)
			go func() {
				_, err := in.store(t.Context(), request{Upload: key, Choices: choices}, func(int, int) {})
				ended <- err
			}()
			if at := <-season.at; at != want {
				t.Fatalf("it is %s, want %s", at, want)
			}
			in.discard(key)
			if err := <-ended; !errors.Is(err, context.Canceled) {
				t.Errorf("%s ended with %v", want, err)
			}
			if left, err := os.ReadDir(in.root.Name()); err != nil || len(left) > 0 {
				t.Errorf("kept aside: %v, %v", left, err)
			}
		})
	}
}

// TestDroppedTable drops tables of what is known, of changes and of groups: what they bring is told, and then made so.
func TestDroppedTable(t *testing.T) {
	s := stand(t)
	page, other := s.page(), s.page()
	drop := func(text string) (table particulars.Brought, upload string) {
		t.Helper()
		_, upload = page.upload("table.csv", []byte(text))
		return answerOf[Table](page, "preview", map[string]any{"upload": upload}).Brought, upload
	}
	id := string(s.serves[0])
	before := string(page.reply("serves", nil).Body)

	known, upload := drop("file,serve,serve_type,group\n," + id + ",kick,finals\nelsewhere.csv,1,flat,finals\n")
	if known.Changes != 0 || len(known.Edits) != 1 || len(known.Groups) != 1 || len(known.NotFound) != 1 {
		t.Errorf("brings %+v", known)
	}
	if now := string(page.reply("serves", nil).Body); now != before {
		t.Errorf("the preview changed the season: %s", now)
	}
	page.reply("bring", map[string]any{"upload": upload})
	other.push("season")
	if groups := answerOf[[]Group](other, "groups", nil); len(groups) != 1 || groups[0].Serves[0] != id {
		t.Errorf("groups %+v", groups)
	}
	if l := answerOf[Listing](page, "serves", nil); l.Serves[0].ServeType != "kick" {
		t.Errorf("serves %+v", l.Serves)
	}

	changes := "target,subject,field,value\nserve," + id + ",discarded,a let\nserve,gone-1,discarded,a let\n"
	table, upload := drop(changes)
	if table.Changes != 2 || len(table.Edits) != 1 || strings.Join(table.NotFound, "; ") != "line 3" {
		t.Errorf("brings %+v", table)
	}
	page.reply("bring", map[string]any{"upload": upload})
	history := answerOf[[]Change](page, "history", map[string]any{"limit": 1})
	if l := answerOf[Listing](page, "serves", nil); l.Serves[0].LeftOut != "discarded: a let" || len(history) != 1 {
		t.Errorf("serves %+v, history %+v", l.Serves, history)
	}
	if again, upload := drop(changes); len(again.Edits) > 0 {
		t.Errorf("again: brings %+v", again)
	} else {
		page.reply("discard", map[string]any{"upload": upload})
	}

	for text, want := range map[string]string{
		"file,serve,court_side\na,1,middle\n": "line 2: column court_side: expected deuce or ad",
		"a\n1\n":                              "this is no recording",
	} {
		_, upload := page.upload("table.csv", []byte(text))
		if f := page.ask("preview", map[string]any{"upload": upload}); !strings.Contains(f.Error, want) {
			t.Errorf("%q: %+v, want %s", text, f, want)
		}
		if f := page.ask("bring", map[string]any{"upload": upload}); f.Error == "" {
			t.Errorf("%q was brought in", text)
		}
		page.reply("discard", map[string]any{"upload": upload})
	}
	s.noneAside()
}
