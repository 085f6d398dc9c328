package server

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tossline/kernel/table"
)

// ended waits for the end of a run and gives what the steps came to.
func (c *client) ended() (end struct {
	Error string
	Steps []Step
}) {
	c.t.Helper()
	if err := json.Unmarshal(c.push("ended").Body, &end); err != nil {
		c.t.Fatal(err)
	}
	return end
}

func (s *standing) write(recipe, text string) {
	s.t.Helper()
	if err := os.WriteFile(filepath.Join(s.shelf.dir, recipe+".go"), []byte(text), 0o644); err != nil {
		s.t.Fatal(err)
	}
}

func TestOpenedRecipeRuns(t *testing.T) {
	s := stand(t)
	page := s.page()
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": "shipped"})
	if desk.Unread || desk.File != "shipped.go" || !strings.Contains(desk.Source, "says hello") {
		t.Errorf("desk %+v", desk)
	}
	end := page.ended()
	if end.Error != "" || len(end.Steps) != 2 || end.Steps[1].Results[0].Text != "hello" {
		t.Errorf("ended with %+v", end)
	}
	second := s.page()
	desk = answerOf[Desk](second, "open", map[string]any{"recipe": "shipped"})
	if len(desk.Steps) != 2 || desk.Steps[1].Results[0].Text != "hello" || desk.Running {
		t.Errorf("the second page sees %+v", desk)
	}
	if n := len(s.engine.jobs()); n != 1 {
		t.Errorf("%d runs, want 1", n)
	}
	s.hub.lying("shipped").wait() // the version is kept after the page hears of the end
	versions := answerOf[[]Version](page, "versions", map[string]any{"recipe": "shipped"})
	if len(versions) != 1 {
		t.Fatalf("versions %v", versions)
	}
	text := answerOf[map[string]string](page, "version", map[string]any{"revision": versions[0].SHA256})
	if text["source"] != desk.Source {
		t.Errorf("version %v", text)
	}
}

func TestSettingsAreKeptAndShared(t *testing.T) {
	s := stand(t)
	one, two := s.page(), s.page()
	for _, p := range []*client{one, two} {
		p.reply("open", map[string]any{"recipe": "shipped"})
	}
	one.ended()
	one.reply("values", map[string]any{"recipe": "shipped", "values": map[string]any{"Word": 3}})
	if values := string(two.push("values").Body); values != `{"Word":3}` {
		t.Errorf("the second page hears %s", values)
	}
	if end := one.ended(); end.Steps[1].Results[0].Text != "hello3" {
		t.Errorf("the run sees %+v", end.Steps[1])
	}
	again := s.folder
	if values, err := again.Values(t.Context(), "shipped"); err != nil || string(values["Word"]) != "3" {
		t.Errorf("kept %s, %v", values, err)
	}
	one.reply("values", map[string]any{"recipe": "shipped", "values": map[string]any{"Word": nil}})
	if values, err := again.Values(t.Context(), "shipped"); err != nil || len(values) != 0 {
		t.Errorf("back to the default: %s, %v", values, err)
	}
}

// A choice that is offered no more, such as a player who was renamed, goes back to the default.
func TestStaleChoice(t *testing.T) {
	s := stand(t)
	page := s.page()
	chosen := map[string]json.RawMessage{"Word": json.RawMessage(`"two"`)}
	if err := s.folder.KeepValues(t.Context(), "choosing", chosen); err != nil {
		t.Fatal(err)
	}
	added := answerOf[map[string]string](page, "add", map[string]any{
		"name": "choosing.go", "source": recipeText("Choosing", "choose"),
	})
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": added["recipe"]})
	if string(desk.Values["Word"]) != `"two"` {
		t.Errorf("opened with %s", desk.Values)
	}
	page.reply("allow", map[string]any{"recipe": added["recipe"], "revision": desk.Revision})
	if values := string(page.push("values").Body); values != "{}" {
		t.Errorf("then %s", values)
	}
	page.ended()
	if jobs := s.engine.jobs(); len(jobs[len(jobs)-1].Values) != 0 {
		t.Errorf("it runs with %s", jobs[len(jobs)-1].Values)
	}
	if kept, err := s.folder.Values(t.Context(), "choosing"); err != nil || len(kept) != 0 {
		t.Errorf("kept %s, %v", kept, err)
	}
	page.reply("values", map[string]any{"recipe": "choosing", "values": map[string]any{"Word": "one"}})
	if end := page.ended(); end.Steps[0].Results[0].Text != `choose"one"` {
		t.Errorf("an offered choice: %+v", end.Steps[0])
	}
}

func TestEdit(t *testing.T) {
	s := stand(t)
	page, other := s.page(), s.page()
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": "shipped"})
	other.reply("open", map[string]any{"recipe": "shipped"})
	page.ended()
	edited := recipeText("Shipped", "table fail")
	answer := answerOf[map[string]string](page, "edit", map[string]any{
		"recipe": "shipped", "source": edited, "revision": desk.Revision, "run": true,
	})
	if answer["revision"] != sha(edited) {
		t.Errorf("answered %v", answer)
	}
	end := page.ended()
	if end.Steps[1].Error == nil || end.Steps[1].Error.Line != 9 {
		t.Errorf("the failed step says %+v", end.Steps[1])
	}
	var seen Desk
	if err := json.Unmarshal(other.push("desk").Body, &seen); err != nil || seen.Source != edited {
		t.Errorf("the other page sees %v, %v", seen.Source, err)
	}
	if text, err := os.ReadFile(filepath.Join(s.shelf.dir, "shipped.go")); err != nil || string(text) != edited {
		t.Errorf("the file holds %q, %v", text, err)
	}
	stale := other.ask("edit", map[string]any{"recipe": "shipped", "source": "x", "revision": desk.Revision})
	if !strings.Contains(stale.Error, "changed elsewhere") {
		t.Errorf("an edit of the old text: %+v", stale)
	}
	long := page.ask("edit", map[string]any{"recipe": "shipped", "source": strings.Repeat("x", 2<<20),
		"revision": answer["revision"]})
	if !strings.Contains(long.Error, "1 MiB") {
		t.Errorf("a text of 2 MiB: %+v", long)
	}
	broken := recipeText("Shipped", "broken")
	page.reply("edit", map[string]any{"recipe": "shipped", "source": broken, "revision": answer["revision"], "run": true})
	if end := page.ended(); end.Error == "" || len(end.Steps) != 2 || !end.Steps[0].Old || len(end.Steps[0].Results) == 0 {
		t.Errorf("after a mistake the last results do not stay: %+v", end)
	}
	shown := string(page.reply("open", map[string]any{"recipe": "shipped"}).Body)
	if !strings.Contains(shown, "undefined: contcts") {
		t.Errorf("the mistake is not on the desk: %s", shown)
	}
}

func TestAnotherEditorIsFollowed(t *testing.T) {
	s := stand(t)
	page := s.page()
	page.reply("open", map[string]any{"recipe": "shipped"})
	page.ended()
	s.write("shipped", recipeText("Shipped", "changed outside"))
	if end := page.ended(); end.Steps[0].Results[0].Text != "changed" {
		t.Errorf("ran %+v", end)
	}
}

func TestForeignRecipeWaitsForLeave(t *testing.T) {
	s := stand(t)
	page := s.page()
	source := "// Foreign\n//\n// By Oriel Nash.\npackage recipe\n\nimport \"math\"\n\n// script: hello\n"
	name := answerOf[map[string]string](page, "add", map[string]any{"name": "My Recipe-2.go", "source": source})["recipe"]
	if name != "my_recipe_2" {
		t.Errorf("called %q", name)
	}
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": name})
	if !desk.Unread || desk.By != "Oriel Nash" || !slices.Equal(desk.Imports, []string{"math"}) {
		t.Errorf("desk %+v", desk)
	}
	page.reply("run", map[string]any{"recipe": name})
	edit := page.ask("edit", map[string]any{"recipe": name, "source": source + "//\n", "revision": desk.Revision})
	if !strings.Contains(edit.Error, "read and allow") {
		t.Errorf("edited unread: %+v", edit)
	}
	if f := page.ask("allow", map[string]any{"recipe": name, "revision": strings.Repeat("0", 64)}); f.Type != "failed" {
		t.Error("another text than the one that was read was allowed")
	}
	if jobs := s.engine.jobs(); len(jobs) != 0 {
		t.Fatalf("it ran before it was allowed: %v", jobs)
	}
	page.reply("allow", map[string]any{"recipe": name, "revision": desk.Revision})
	if end := page.ended(); end.Steps[0].Results[0].Text != "hello" {
		t.Errorf("ran %+v", end)
	}
	s.write(name, source+"// and more\n")
	if end := page.ended(); end.Error != "" {
		t.Errorf("its owner's next edit did not run: %+v", end)
	}
	for file, source := range map[string]string{"a.go": "package recipe", "a_test.go": "", ".go": source, "a": "x",
		"big.go": source + strings.Repeat("//\n", 1<<19)} {
		if f := page.ask("add", map[string]any{"name": file, "source": source}); f.Type != "failed" {
			t.Errorf("%s was taken as a recipe: %s", file, f.Body)
		}
	}
}

func TestStop(t *testing.T) {
	s := stand(t)
	s.write("long", recipeText("Long", "hello wait hello"))
	page := s.page()
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": "long"})
	page.reply("allow", map[string]any{"recipe": "long", "revision": desk.Revision})
	page.push("progress")
	began := time.Now()
	page.reply("stop", map[string]any{"recipe": "long"})
	end := page.ended()
	if took := time.Since(began); took > patience/2 || end.Error != "Stopped." {
		t.Errorf("stopped after %v: %+v", took, end)
	}
	states := []string{end.Steps[0].State, end.Steps[1].State, end.Steps[2].State}
	if !slices.Equal(states, []string{"done", "skipped", "skipped"}) {
		t.Errorf("the steps are %v", states)
	}
}

func TestCrashKeepsResults(t *testing.T) {
	s := stand(t)
	page := s.page()
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": "shipped"})
	page.ended()
	source := recipeText("Shipped", "says crash")
	page.reply("edit", map[string]any{"recipe": "shipped", "source": source, "revision": desk.Revision, "run": true})
	end := page.ended()
	if !strings.Contains(end.Error, "started anew") || len(end.Steps[1].Results) == 0 || !end.Steps[1].Old {
		t.Errorf("after a crash: %+v", end)
	}
	page.reply("edit", map[string]any{"recipe": "shipped", "source": desk.Source, "revision": sha(source), "run": true})
	if end := page.ended(); end.Error != "" {
		t.Errorf("the next run: %+v", end)
	}
}

func TestTables(t *testing.T) {
	s := stand(t)
	s.write("tables", recipeText("Tables", "table"))
	page := s.page()
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": "tables"})
	page.reply("allow", map[string]any{"recipe": "tables", "revision": desk.Revision})
	page.ended()
	low := 0.98
	named := []Filter{{Column: "serve", Text: "SERVE-12"}}
	above := []Filter{{Column: "contact_offset_m", Min: &low}}
	for name, c := range map[string]struct {
		ask   map[string]any
		rows  uint32
		first string
		shown int
	}{
		"window":     {map[string]any{"offset": 100, "limit": 50}, 5000, "serve-0100", 50},
		"end":        {map[string]any{"offset": 4990, "limit": 50}, 5000, "serve-4990", 10},
		"beyond":     {map[string]any{"offset": 9000, "limit": 50}, 5000, "", 0},
		"too many":   {map[string]any{"limit": 5000}, 5000, "serve-0000", maxWindow},
		"negative":   {map[string]any{"offset": -5, "limit": -5}, 5000, "", 0},
		"descending": {map[string]any{"limit": 1, "order": "-serve"}, 5000, "serve-4999", 1},
		"text":       {map[string]any{"limit": 9, "filter": named}, 100, "serve-1200", 9},
		"between":    {map[string]any{"limit": 9, "filter": above}, 100, "serve-0098", 9},
	} {
		c.ask["ref"] = "table-1"
		f := page.reply("rows", c.ask)
		got, err := table.Decode(f.stream)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if f.rows != c.rows || got.Len() != c.shown || c.shown > 0 && got.Texts("serve")[0] != c.first {
			t.Errorf("%s: %d rows of %d", name, got.Len(), f.rows)
		}
	}
	for name, ask := range map[string]map[string]any{
		"no table":      {"ref": "table-2", "limit": 1},
		"no column":     {"ref": "table-1", "limit": 1, "order": "height"},
		"no filter for": {"ref": "table-1", "limit": 1, "filter": []Filter{{Column: "height", Text: "1"}}},
	} {
		if f := page.ask("rows", ask); f.Type != "failed" || f.Error == "" {
			t.Errorf("%s: %+v", name, f)
		}
	}
	for format, begins := range map[string]string{"csv": "serve,contact_offset_m\n\"serve-0000\",0\n", "parquet": "PAR1",
		"arrow": "ARROW1"} {
		response, body := page.get("/table/table-1." + format)
		if response.StatusCode != 200 || !strings.HasPrefix(string(body), begins) {
			t.Errorf("%s: %d, %.40q", format, response.StatusCode, body)
		}
		if response.Header.Get("Content-Disposition") != "attachment" {
			t.Errorf("%s: would show in the browser", format)
		}
	}
	if response, _ := page.get("/table/table-1.html"); response.StatusCode != http.StatusNotFound {
		t.Errorf("html: %d", response.StatusCode)
	}
	shown := func(view string) (*http.Response, []byte) {
		r, _ := http.NewRequest(http.MethodPost, s.origin()+"/table/table-1.csv", strings.NewReader(view))
		r.Header.Set("Origin", s.origin())
		return page.send(r)
	}
	_, body := shown(`{"order":"-serve","filter":[{"column":"serve","one_of":["serve-0003","serve-0007","serve-x"]}]}`)
	if want := "serve,contact_offset_m\n\"serve-0007\",0.07\n\"serve-0003\",0.03\n"; string(body) != want {
		t.Errorf("the rows that are shown: %q, want %q", body, want)
	}
	for view, want := range map[string]int{"{": 400, `{"order":"height"}`: 404} {
		if response, _ := shown(view); response.StatusCode != want {
			t.Errorf("view %s: %d, want %d", view, response.StatusCode, want)
		}
	}
	response, body := page.get("/document/tables")
	if response.StatusCode != 200 || !strings.Contains(string(body), "serve-0000") {
		t.Errorf("document: %d, %d bytes", response.StatusCode, len(body))
	}
	if response, _ := page.get("/document/other"); response.StatusCode != http.StatusNotFound {
		t.Errorf("document of a recipe that is not open: %d", response.StatusCode)
	}
}

func TestEditorsQuestions(t *testing.T) {
	s := stand(t)
	page := s.page()
	for _, kind := range []string{"complete", "hover", "signature", "definition"} {
		got := answerOf[string](page, kind, map[string]any{"recipe": "shipped", "source": "package recipe", "offset": 7})
		if got != kind+" of shipped.go at 7" {
			t.Errorf("%s: %q", kind, got)
		}
	}
	f := page.ask("format", map[string]any{"recipe": "shipped", "source": "broken"})
	if !strings.Contains(f.Error, "expected operand") {
		t.Errorf("format: %+v", f)
	}
	got := answerOf[map[string]string](page, "format", map[string]any{"recipe": "shipped", "source": "x"})
	if !strings.HasPrefix(got["source"], "format") {
		t.Errorf("format: %v", got)
	}
	if f := page.ask("juggle", nil); !strings.Contains(f.Error, "does not know; reload it") {
		t.Errorf("unknown question: %+v", f)
	}
}

// Names of recipes that would lead out of their folder, or are none.
func TestRecipesStayInTheirFolder(t *testing.T) {
	s := stand(t)
	outside := filepath.Join(filepath.Dir(s.shelf.dir), "outside.go")
	if err := os.WriteFile(outside, []byte(recipeText("Outside", "hello")), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, filepath.Join(s.shelf.dir, "linked.go")); err != nil {
		t.Fatal(err)
	}
	page := s.page()
	for _, name := range []string{"", "../outside", "..", "linked", "a/b", "none", "x\x00", strings.Repeat("a", 300)} {
		if f := page.ask("open", map[string]any{"recipe": name}); f.Type != "failed" || f.Error == "" {
			t.Errorf("%q was opened: %s", name, f.Body)
		}
	}
}

func TestReport(t *testing.T) {
	s := stand(t)
	s.write("offsets", recipeText("Offsets", "serves"))
	page := s.page()
	desk := answerOf[Desk](page, "open", map[string]any{"recipe": "offsets"})
	page.reply("allow", map[string]any{"recipe": "offsets", "revision": desk.Revision})
	page.ended()
	response, body := page.get("/report/offsets?player=Oriel%20Nash")
	if response.StatusCode != 200 || !strings.Contains(string(body), "Oriel Nash") ||
		!strings.Contains(string(body), "Harbour lane") || strings.Contains(string(body), "<script") {
		t.Errorf("report: %d, %s", response.StatusCode, body)
	}
	for path, want := range map[string]int{
		"/report/offsets?player=Nobody": 422, "/report/offsets": 422, "/report/other": 404,
	} {
		if response, body := page.get(path); response.StatusCode != want || len(body) == 0 {
			t.Errorf("%s: %d, %s", path, response.StatusCode, body)
		}
	}
}
