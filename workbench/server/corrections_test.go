package server

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

func (s *standing) catalogue() *catalogue.Catalogue {
	s.t.Helper()
	cat, err := s.folder.season.Snapshot(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	return cat
}

func (s *standing) contact(serve string) motion.Event {
	s.t.Helper()
	found, ok := s.catalogue().Find(motion.ServeID(serve))
	if !ok {
		s.t.Fatalf("no serve %s", serve)
	}
	return found.Events[motion.Contact]
}

// TestEveryChangeIsUndone makes each change that a page can ask for, looks at what it did, undoes it, finds the season
// as it was, and does it again.
func TestEveryChangeIsUndone(t *testing.T) {
	s := stand(t)
	page, other := s.page(), s.page()
	first, second := string(s.serves[0]), string(s.serves[1])
	recording, _, _ := strings.Cut(first, "-")
	at := s.contact(first).TimeS
	between := (at + s.contact(second).TimeS) / 2
	on := func(target season.Target, subject, field, value string) season.Edit {
		return season.Edit{Target: target, Subject: subject, Field: field, Value: value}
	}
	for name, c := range map[string]struct {
		ask      string
		fields   map[string]any
		sentence string
		holds    func(Listing) bool
	}{
		"move an event": {"change", map[string]any{"edits": []season.Edit{
			on(season.OnServe, first, "event.contact", "2.5")}}, "Contact of the serve of Oriel Nash on 2026-03-14",
			func(l Listing) bool { return *l.Serves[0].ContactS == 2.5 && l.Serves[0].ByHand[0] == "contact" }},
		"leave a serve out": {"change", map[string]any{"edits": []season.Edit{
			on(season.OnServe, first, "discarded", "a let")}}, "left out: a let",
			func(l Listing) bool { return l.Serves[0].LeftOut == "discarded: a let" }},
		"particulars of many": {"change", map[string]any{"edits": []season.Edit{
			on(season.OnServe, first, "serve_type", "kick"), on(season.OnServe, second, "serve_type", "kick")}},
			"Serve type of 2 serves: kick",
			func(l Listing) bool { return l.Serves[0].ServeType == "kick" && l.Serves[1].ServeType == "kick" }},
		"session": {"change", map[string]any{"edits": []season.Edit{
			on(season.OnRecording, recording, "session", "2026-04-01")}},
			"Session of take.csv: 2026-04-01, before: 2026-03-14",
			func(l Listing) bool { return l.Recordings[0].Session == "2026-04-01" }},
		"split": {"split", map[string]any{"serve": first, "time_s": at - 0.3}, "left out: split in two; 2 changes more",
			func(l Listing) bool { return len(l.Serves) == 4 && l.Serves[0].LeftOut != "" }},
		"merge": {"merge", map[string]any{"serves": []string{first, second}}, "a serve cut by hand; 2 changes more",
			func(l Listing) bool { return len(l.Serves) == 3 && l.Serves[1].ToS > between }},
		"recut": {"recut", map[string]any{"recording": recording}, "Take.csv: serves found again",
			func(l Listing) bool { return len(l.Serves) == 2 }},
		"rename": {"rename", map[string]any{"player": "Oriel Nash", "name": "P-017"}, "Player of take.csv: P-017",
			func(l Listing) bool { return l.Recordings[0].Player == "P-017" }},
	} {
		t.Run(name, func(t *testing.T) {
			s.t, page.t, other.t = t, t, t
			before := string(page.reply("serves", nil).Body)
			changed := answerOf[Changed](page, c.ask, c.fields)
			other.push("season")
			after := page.reply("serves", nil).Body
			var listing Listing
			if json.Unmarshal(after, &listing); !c.holds(listing) {
				t.Errorf("listed %s", after)
			}
			history := answerOf[[]Change](page, "history", map[string]any{"limit": 1})
			if len(history) != 1 || history[0].Batch != changed.Batch || !strings.Contains(history[0].Sentence, c.sentence) {
				t.Errorf("history %+v, want %q", history, c.sentence)
			}
			page.reply("undo", map[string]any{"batch": changed.Batch})
			if got := string(page.reply("serves", nil).Body); got != before {
				t.Errorf("undone: %s\nbefore: %s", got, before)
			}
			if h := answerOf[[]Change](page, "history", map[string]any{"limit": 1}); h[0].Undone == "" {
				t.Errorf("history after undoing: %+v", h)
			}
			page.reply("redo", map[string]any{"batch": changed.Batch})
			if got := string(page.reply("serves", nil).Body); got != string(after) {
				t.Errorf("done again: %s\nwant: %s", got, after)
			}
			page.reply("undo", map[string]any{"batch": changed.Batch})
		})
	}
	s.t, page.t = t, t
	says := func(serve, outcome string) map[string]any {
		return map[string]any{"edits": []season.Edit{on(season.OnServe, serve, "outcome", outcome)}}
	}
	mine := answerOf[Changed](page, "change", says(first, "in"))
	page.reply("change", says(second, "net"))
	history := answerOf[[]Change](page, "history", map[string]any{"subjects": []string{recording, first}, "limit": 1})
	if len(history) != 1 || history[0].Batch != mine.Batch {
		t.Errorf("history %+v, want the last change of the subjects that were named, %d", history, mine.Batch)
	}
}

func TestChangesAreRefusedInWords(t *testing.T) {
	s := stand(t)
	page := s.page()
	serve := string(s.serves[0])
	before := string(page.reply("serves", nil).Body)
	edit := func(target season.Target, subject, field, value string) map[string]any {
		return map[string]any{"edits": []season.Edit{{Target: season.OnServe, Subject: serve, Field: "outcome", Value: "in"},
			{Target: target, Subject: subject, Field: field, Value: value}}}
	}
	for name, c := range map[string]struct {
		ask    string
		fields map[string]any
		says   string
	}{
		"no edits":             {"change", nil, "no edits"},
		"no such serve":        {"change", edit(season.OnServe, "x-00001", "outcome", "in"), "no serve x-00001"},
		"no such field":        {"change", edit(season.OnServe, serve, "colour", "red"), `no field "colour"`},
		"no such target":       {"change", edit("umpire", serve, "outcome", "in"), "umpire"},
		"no side":              {"change", edit(season.OnServe, serve, "court_side", "left"), "expected deuce or ad"},
		"no speed":             {"change", edit(season.OnServe, serve, "ball_speed_m_s", "fast"), "expected m/s"},
		"no date":              {"change", edit(season.OnRecording, serve[:12], "session", "14 March"), "expected a date"},
		"no time":              {"change", edit(season.OnServe, serve, "event.contact", "soon"), "expected seconds"},
		"after the end":        {"change", edit(season.OnServe, serve, "event.contact", "9999"), "ends at"},
		"undo of nothing":      {"undo", map[string]any{"batch": 77}, "no edits of number 77"},
		"redo of nothing":      {"redo", map[string]any{"batch": 77}, "no edits of number 77"},
		"split without a time": {"split", map[string]any{"serve": serve}, "takes the time"},
		"split outside":        {"split", map[string]any{"serve": serve, "time_s": 9999}, "can't be split"},
		"merge of one":         {"merge", map[string]any{"serves": []string{serve}}, "takes two serves"},
		"recut of nothing":     {"recut", map[string]any{"recording": "x"}, "no recording x"},
		"rename of nobody":     {"rename", map[string]any{"player": "Nobody", "name": "P-1"}, `"Nobody"`},
		"correct of nothing":   {"correct", map[string]any{"serve": serve, "event": "lunch", "time_s": 1}, `event "lunch"`},
		"correct back":         {"correct", map[string]any{"serve": serve, "event": "contact"}, "was not set by hand"},
		"clip of nothing":      {"clip", map[string]any{"serve": "x"}, "no serve x"},
	} {
		f := page.ask(c.ask, c.fields)
		if f.Type != "failed" || !strings.Contains(f.Error, c.says) {
			t.Errorf("%s: %s %q, want %q", name, f.Body, f.Error, c.says)
		}
	}
	if after := string(page.reply("serves", nil).Body); after != before {
		t.Errorf("half a change was made: %s", after)
	}
}

func TestCorrectAndTakeBack(t *testing.T) {
	s := stand(t)
	page := s.page()
	page.reply("open", map[string]any{"recipe": "shipped"})
	page.ended()
	serve := string(s.serves[0])
	found := s.contact(serve)
	page.reply("correct", map[string]any{"serve": serve, "event": "contact", "time_s": found.TimeS + 0.02})
	page.ended() // the open recipe runs on the season as it is now
	if got := s.contact(serve); math.Abs(got.TimeS-found.TimeS-0.02) > 1e-9 || !got.ByHand {
		t.Errorf("contact %+v", got)
	}
	page.reply("correct", map[string]any{"serve": serve, "event": "contact", "time_s": nil})
	if got := s.contact(serve); got != found {
		t.Errorf("contact %+v, want %+v", got, found)
	}
	if s.engine.renewed < 2 {
		t.Errorf("the engine was renewed %d times, want after each change", s.engine.renewed)
	}
}

func TestSecondWindowOnTheSeasonMayRead(t *testing.T) {
	first := stand(t)
	second := standOn(t, first.folder.season.Dir())
	page := second.page()
	if o := second.overview(); !strings.Contains(o.ReadOnly, "Open for reading only") || o.Serves != 2 {
		t.Errorf("overview %+v", o)
	}
	inside := []season.Edit{{Target: season.OnServe, Subject: string(first.serves[0]), Field: "outcome", Value: "in"}}
	for ask, fields := range map[string]map[string]any{
		"change": {"edits": inside},
		"undo":   {"batch": 1},
		"recut":  {"recording": string(first.serves[0])[:12]},
	} {
		if f := page.ask(ask, fields); !strings.Contains(f.Error, "reading only") {
			t.Errorf("%s: %s %q", ask, f.Body, f.Error)
		}
	}
	page.reply("open", map[string]any{"recipe": "shipped"})
	if end := page.ended(); end.Error != "" {
		t.Errorf("a recipe does not run: %+v", end)
	}
	first.page().reply("change", map[string]any{"edits": inside})
	if l := answerOf[Listing](page, "serves", nil); l.Serves[0].Outcome != "in" {
		t.Errorf("the reader does not see what the writer changed: %+v", l.Serves[0])
	}
}

func TestVerifyFromThePage(t *testing.T) {
	s := stand(t)
	page := s.page()
	report := answerOf[season.Report](page, "verify", nil)
	if report.Serves != 2 || len(report.Problems) != 0 {
		t.Errorf("report %+v", report)
	}
	page.push("verify")
}

func TestListingOfAPlayer(t *testing.T) {
	s := stand(t)
	page := s.page()
	for fields, want := range map[[2]string]int{{"", ""}: 2, {"Oriel Nash", ""}: 2, {"Oriel Nash", "2026-03-14"}: 2,
		{"Nobody", ""}: 0, {"", "2026-03-15"}: 0} {
		l := answerOf[Listing](page, "serves", map[string]any{"player": fields[0], "session": fields[1]})
		if len(l.Serves) != want {
			t.Errorf("%v: %d serves, want %d", fields, len(l.Serves), want)
		}
	}
}

func TestGroups(t *testing.T) {
	s := stand(t)
	page, other := s.page(), s.page()
	if all := answerOf[[]Group](page, "groups", nil); len(all) != 0 {
		t.Errorf("groups %v", all)
	}
	serve := string(s.serves[1])
	page.reply("group", map[string]any{"name": "best", "serves": []string{serve}})
	var heard []Group
	if json.Unmarshal(other.push("groups").Body, &heard); len(heard) != 1 || heard[0].Serves[0] != serve {
		t.Errorf("the other page hears of %v", heard)
	}
	for name, fields := range map[string]map[string]any{
		"no name": {"serves": []string{serve}}, "no serves": {"name": "x"},
	} {
		if f := page.ask("group", fields); f.Type != "failed" {
			t.Errorf("%s: %s", name, f.Body)
		}
	}
	if all := answerOf[[]Group](page, "ungroup", map[string]any{"name": "best"}); len(all) != 0 {
		t.Errorf("groups %v", all)
	}
}

func TestRemove(t *testing.T) {
	s := stand(t)
	page := s.page()
	recording, _, _ := strings.Cut(string(s.serves[0]), "-")
	page.reply("group", map[string]any{"name": "best", "serves": []string{string(s.serves[1])}})
	page.push("groups")
	page.reply("remove", map[string]any{"recording": recording})
	var left []Group
	if json.Unmarshal(page.push("groups").Body, &left); len(left) != 1 || len(left[0].Serves) != 0 {
		t.Errorf("groups told: %+v", left)
	}
	if l := answerOf[Listing](page, "serves", nil); len(l.Serves) != 0 || len(l.Recordings) != 0 {
		t.Errorf("left: %+v", l)
	}
	if f := page.ask("remove", map[string]any{"recording": recording}); !strings.Contains(f.Error, "no recording") {
		t.Errorf("removed twice: %+v", f)
	}
}
