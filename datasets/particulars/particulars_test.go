package particulars

import (
	"context"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/datasets/landmark"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/datasets/sheet"
	"tossline/kernel/motion"
)

func table(t *testing.T, text string) *Sheet {
	t.Helper()
	s, err := fromCSV(text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// fromCSV reads a table of CSV.
func fromCSV(text string) (*Sheet, error) {
	return ReadSheet(func(row func(sheet.Row) error) error {
		data := strings.NewReader(text)
		return sheet.Read(recording.Input{Data: data, Size: data.Size()}, row)
	})
}

func TestSheetOptions(t *testing.T) {
	const want = "P07 2026-03-14 left 1.82"
	for name, text := range map[string]string{
		"plain":     "file,player,session,hand,height_m\ntake 1.bvh,P07,2026-03-14,left,1.82\n",
		"no ending": "File;Player;Date;Hitting hand;Height (cm)\ntake 1;P07;14.03.2026;L;182\n",
		"comma":     "\xef\xbb\xbffilename\tathlete\tday\thandedness\theight\nfolder/TAKE 1.bvh\tP07\t20260314\tLH\t1,82\n",
		"told":      "sep=;\r\nfile;player;session;hand;height_m\r\ntake 1.bvh;P07;2026-03-14;left;1,82\r\n",
		"guarded":   "file,player,session,hand,height_cm\n\"take 1.bvh\",P07,2026/03/14,left-handed,182\n",
	} {
		o, err := Beside{Sheets: []*Sheet{table(t, text)}}.Options("/data/take 1.bvh", recording.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(o.Player, " ", o.Session, " ", o.Hand, " ", o.HeightM); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
		o, _ = Beside{Sheets: []*Sheet{table(t, text)}}.Options("take 1.bvh", recording.Options{Player: "Said"})
		if o.Player != "Said" {
			t.Errorf("%s: the table won over what was said", name)
		}
		if o, _ = (Beside{Sheets: []*Sheet{table(t, text)}}).Options("take 2.bvh", recording.Options{}); o.Player != "" {
			t.Errorf("%s: another file got the player %s", name, o.Player)
		}
	}
}

func TestSheetRefused(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "is empty"},
		{"no file", "player,hand\nP1,left\n", "line 1: the table of particulars needs a column file"},
		{"hand", "file,hand\na,left\nb,both\n", `line 3: column hand: expected left or right, found "both"`},
		{"date", "file,date\na,03/14/2026\n", "expected a date such as 2026-03-14"},
		{"no unit", "file,serve,ball_speed\na,1,180\n", "the unit of the ball speed is missing"},
		{"wild speed", "file,serve,ball_speed_kmh\na,1,1800\n", "expected a ball speed"},
		{"serve", "file,serve,outcome\na,0,in\n", "expected the number of a serve from 1"},
		{"height", "file,height\na,tall\n", "expected a height"},
		{"side", "file,court_side\na,middle\n", "expected deuce or ad"},
		{"stance", "file,stance\na,wide\n", "expected platform (foot back) or pinpoint (foot up)"},
		{"decimal comma", "file,player,height_m\nw1.csv,Ann,1.8,, \nw1.csv,Ann,1,85\n",
			`line 3: expected 3 values, as many as there are titles, found "85" beyond the last; put quotes`},
		{"comma in a change", "target,subject,field,value\nserve,a-1,discarded,late,too\n",
			`line 2: expected 4 values`},
		{"quotes", "file,player\n\"a,b\n", "line"},
	} {
		if _, err := fromCSV(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestPatterns(t *testing.T) {
	for _, c := range []struct{ pattern, file, want string }{
		{"{player}_{session}_{hand}_*", "P07_2026-03-14_right_take3.bvh", "map[hand:right player:P07 session:2026-03-14]"},
		{"{player}_{session}*", "Tuva B_20260314.csv.gz", "map[player:Tuva B session:2026-03-14]"},
		{"*-{height}-{serve type}", "x-y-182-kick.c3d", "map[height_m:1.82 serve_type:kick]"},
		{"serve.{player}", "serve.P1.parquet", "map[player:P1]"},
	} {
		p, err := ParsePattern(c.pattern)
		if err != nil {
			t.Fatal(err)
		}
		facts, err := p.Facts("some/folder/" + c.file)
		if got := fmt.Sprint(map[string]string(facts)); err != nil || got != c.want {
			t.Errorf("%s of %s: %s, %v; want %s", c.pattern, c.file, got, err, c.want)
		}
	}
	for pattern, want := range map[string]string{"{shoe}_*": "there is no {shoe}", "take*": "names nothing"} {
		if _, err := ParsePattern(pattern); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", pattern, err)
		}
	}
	p, _ := ParsePattern("{player}_{session}")
	for file, want := range map[string]string{"P07.bvh": "does not fit", "P07_spring.bvh": "does not fit",
		"P07_99999999.bvh": "expected a date"} {
		if _, err := p.Facts(file); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", file, err)
		}
	}
}

// stored adds a recording with three serves to a new season.
func stored(t *testing.T) (*season.Writer, *recording.Understanding, []motion.Serve, []motion.ServeID) {
	t.Helper()
	w, err := season.Create(filepath.Join(t.TempDir(), "season"), "test")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	var serves []motion.Serve
	for i := range 3 {
		serves = append(serves, motion.Serve{First: 100 * i, Last: 100*i + 99,
			Events: motion.Events{motion.Contact: {TimeS: float64(i) + 0.5, Method: "test", Confidence: 1}}})
	}
	added, err := w.AddRecording(context.Background(), season.Import{File: "a.bvh", SourceSHA256: strings.Repeat("ab", 32),
		Format: "bvh", RateHz: 100, Layout: landmark.NewLayout([]landmark.Name{landmark.Ball}), Frames: make([]float32, 900),
		Player: "P07", Serves: serves})
	if err != nil {
		t.Fatal(err)
	}
	u := &recording.Understanding{File: "a.bvh", Recording: added.Recording}
	u.Player.Value = "P07"
	return w, u, serves, added.Serves
}

func TestServesOfASheet(t *testing.T) {
	w, u, serves, ids := stored(t)
	text := "file,serve,contact_s,serve_type,stance,court_side,ball_speed_kmh,outcome,level\n" +
		"a,2,,kick,foot up,,,net,\na.bvh,,2.53,slice,,ad,144,in,\na,,,flat,Platform,deuce,,,club\na,9,,kick,,,,,\n" +
		"\"a.bvh\"," + string(ids[0]) + ",,,,,90,out,\n"
	edits, notes := Beside{Sheets: []*Sheet{table(t, text)}}.Edits("a.bvh", u, serves, ids)
	if len(notes) != 1 || !strings.Contains(notes[0].Text, "no such serve") || notes[0].Where != "line 5" {
		t.Errorf("notes %v", notes)
	}
	if _, err := w.Edit(context.Background(), edits...); err != nil {
		t.Fatal(err)
	}
	c, err := w.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	p := c.ParticularsOfAll()
	for column, want := range map[string][]string{"serve_type": {"flat", "kick", "slice"}, "court_side": {"deuce", "deuce",
		"ad"},
		"stance_type": {"platform", "pinpoint", "platform"}, "outcome": {"out", "net", "in"}} {
		if got := p.Texts(column); !reflect.DeepEqual(got, want) {
			t.Errorf("%s %v, want %v", column, got, want)
		}
	}
	if speeds := p.Numbers("ball_speed_m_s"); speeds[0] != 25 || speeds[2] != 40 || speeds[1] == speeds[1] {
		t.Errorf("ball speeds %v", speeds)
	}
	players, err := w.Players(context.Background())
	if err != nil || len(players) != 1 || players[0].Level != "club" {
		t.Errorf("players %+v, %v", players, err)
	}
}

func TestFacts(t *testing.T) {
	for text, want := range map[string]string{
		"stance=foot up": "stance_type pinpoint", "Ball speed (km/h) = 144": "ball_speed_m_s 40", "level=club": "level club",
		"height_cm=182": "height_m 1.82", "hand=L": "hand left",
		"ball speed=144": "the unit of the ball speed is missing", "level=": "expected one of player", "weight=70": "stance_type",
		"stance": "expected one of",
	} {
		field, value, err := ParseFact(text)
		if got := field + " " + value; got != want && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s: %s, %v, want %s", text, got, err, want)
		}
	}
	b := Beside{Said: Facts{"level": "club", "stance_type": "platform", "player": "P1"},
		Sheets: []*Sheet{table(t, "file,level,serve,stance\na,junior,1,pinpoint\n")}}
	if o, _ := b.Options("a", recording.Options{}); o.Player != "P1" {
		t.Errorf("options %+v", o)
	}
	u := &recording.Understanding{}
	u.Player.Value = "P1"
	for _, e := range first(b.Edits("a", u, make([]motion.Serve, 1), []motion.ServeID{"s"})) {
		if e.Value != b.Said[e.Field] {
			t.Errorf("what was said does not win: %+v", e)
		}
	}
}

func TestOfStored(t *testing.T) {
	b := Beside{Sheets: []*Sheet{table(t, "file,part,serve,player,session,hand,stance,first_frame,last_frame\n"+
		"take.csv,one,,Real Name,2026-03-01,left,,,\ntake.csv,two,,Other Name,2026-03-02,right,,,\n"+
		"renamed.csv,,s1,Real Name,,,pinpoint,1000000,1234567\n")}}
	r := catalogue.Recording{ID: "r", File: "take.csv: two", Player: "P02", Session: "2026-03-01", Hand: "right"}
	serves := []catalogue.Serve{{ID: "s1", First: 3, Last: 9}}
	edits, notes := b.OfStored(Recording{Recording: r, Serves: serves})
	want := []season.Edit{
		{Target: season.OnRecording, Subject: "r", Field: "session", Value: "2026-03-02"},
		{Target: season.OnServe, Subject: "s1", Field: "stance_type", Value: "pinpoint"},
		{Target: season.OnServe, Subject: "s1", Field: "stretch", Value: "1000000-1234567"},
	}
	if !reflect.DeepEqual(edits, want) || len(notes) > 0 {
		t.Errorf("edits %+v, notes %v", edits, notes)
	}
}

func TestUnusedRows(t *testing.T) {
	s := table(t, "file,player\na,P1\nb,P2\n")
	Beside{Sheets: []*Sheet{s}}.Options("b.csv", recording.Options{})
	if got := s.Unused(); !reflect.DeepEqual(got, []string{"line 2"}) {
		t.Errorf("unused lines %v", got)
	}
}

func TestPseudonyms(t *testing.T) {
	p, err := ParsePseudonyms("")
	if err != nil {
		t.Fatal(err)
	}
	first, second := p.Of("Tuva  Brandt", []string{"P02"}), p.Of("Ole Lind", []string{"P02"})
	if first != "P01" || second != "P03" {
		t.Errorf("%s and %s", first, second)
	}
	again, err := ParsePseudonyms(p.Text())
	if err != nil || again.Of("tuva brandt", nil) != first || again.Of("P05", nil) != "P05" {
		t.Errorf("%+v, %v", again, err)
	}
	if text := strings.ToLower(p.Text()); strings.Contains(text, "tuva") || strings.Contains(text, "lind") {
		t.Errorf("names are kept: %s", text)
	}
	p.Of("Anne-Marie Roy", nil)
	for file, want := range map[string]string{
		"tuva-brandt-2026-02-07.c3d": "P01-2026-02-07.c3d", "Tuva_Brandt, Ole.Lind.csv": "P01, P03.csv",
		"a anne-marie_roy": "a P02", "anne.marie": "anne.marie", "brandt.csv": "brandt.csv", "": "",
	} {
		if got := p.Hidden(file); got != want {
			t.Errorf("%q hidden as %q, want %q", file, got, want)
		}
	}
	if _, err := ParsePseudonyms("{"); err == nil {
		t.Error("half a text was accepted")
	}
}

func TestHide(t *testing.T) {
	u := recording.Understanding{File: "tuva_brandt-3.c3d",
		Notes: []recording.Note{{Where: "Tuva Brandt:LKNE", Text: "x"}}}
	u.Player.Value = "Tuva Brandt"
	u.Landmarks.Map = map[string]string{"left_knee": "TuvaBrandt:LKNE"}
	u.Landmarks.Unknown = []string{"Tuva Brandt:BACK"}
	Hide(&u, "P01")
	if text := strings.ToLower(fmt.Sprintf("%+v", u)); strings.Contains(text, "tuva") || u.File != "P01-3.c3d" {
		t.Errorf("%s", text)
	}
}

func FuzzReadSheet(f *testing.F) {
	f.Add("file,serve,ball_speed_kmh,height (cm)\na,1,100,180\n", "{player}_{session}", "P07_2026-03-14.bvh")
	f.Add("target,subject,field,value,batch,rate_hz,undone_at\nserve,a-1,discarded,'=x,1,100,\n", "*{hand}", "left.csv")
	f.Add("", "{player}\xdf", "a\xdf")
	f.Add("file;contact;outcome\n\"a\";1,5;in\n", "*{hand}", "left.csv")
	f.Fuzz(func(t *testing.T, text, pattern, file string) {
		b := Beside{}
		if s, err := fromCSV(text); err == nil {
			b.Sheets = []*Sheet{s}
		}
		if p, err := ParsePattern(pattern); err == nil {
			b.Pattern = p
		}
		b.Options(file, recording.Options{})
		serves := []motion.Serve{{Events: motion.Events{motion.Contact: {TimeS: 1}}}}
		for _, e := range first(b.Edits(file, &recording.Understanding{}, serves, []motion.ServeID{"s"})) {
			if e.Value == "" || e.Field == "" || e.Subject == "" {
				t.Errorf("edit %+v", e)
			}
		}
	})
}

func first[A, B any](a A, _ B) A { return a }
