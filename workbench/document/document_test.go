package document

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"tossline/kernel/interp"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

// hostile is text that would do something if it were not escaped everywhere.
const hostile = `</script><script>alert("x")</script><img src=x onerror=alert(1)> & 'y'`

func written(t *testing.T, d Document) string {
	t.Helper()
	var out bytes.Buffer
	if err := Write(&out, d); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func number(v float64) *float64 { return &v }

func sample() Document {
	return Document{
		Recipe: "contact_offset", Title: "Contact offset", Prose: "Where they meet the ball.\n\nSee [Spread].",
		Season: "Harbour Lane", Source: "package recipe\n", Made: time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC),
		Settings: []Setting{{Label: "Limit", Value: json.RawMessage("0.1"), Unit: "m"}},
		Steps: []Step{
			{Name: "Spread", Title: "Spread", Results: []result.Result{
				{Kind: result.KindTable, Table: &result.Table{Ref: "t"}},
			}},
			{Name: "Mean", Title: "Mean", Results: []result.Result{
				{Kind: result.KindNumber, Number: &result.Number{Label: "Mean offset", Value: number(0.0512), Unit: "m"}},
				{Kind: result.KindList, List: []result.Result{{Kind: result.KindText, Text: "Further outside."}}},
			}},
			{Name: "Broken", Title: "Broken", Error: "there is no column x"},
		},
		Table: func(ref string) (table.Table, error) {
			if ref != "t" {
				return table.Table{}, errors.New("no such table")
			}
			players, offsets := make([]string, 60), make([]float64, 60)
			for i := range players {
				players[i], offsets[i] = fmt.Sprint("player ", i), float64(i)/100
			}
			offsets[1] = math.NaN()
			return table.New(table.Text("player", players).Titled("Player"),
				table.Number("offset_m", "m", offsets).Titled("Offset")), nil
		},
	}
}

// Without scripts the document still says everything: prose, settings, numbers, rows, what failed, and the caution.
func TestStillDocument(t *testing.T) {
	page := written(t, sample())
	for _, want := range []string{
		"<h1>Contact offset</h1>", "Harbour Lane, 14 March 2026", "<dt>Limit</dt><dd>0.1 m</dd>",
		`<a href="#Spread">Spread</a>`,
		"<th>Offset, m</th>", "<td>player 0</td><td>0</td>", "<td>player 1</td><td>–</td>",
		"<td>player 49</td><td>0.49</td>",
		"The first 50 of 60 rows.", "Mean offset 0.051 m", "Further outside.", "there is no column x",
		"they do not diagnose", "contact_offset.go",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the document lacks %q", want)
		}
	}
	if strings.Contains(page, "player 50</td>") {
		t.Error("more rows stand in the text than should")
	}
	// The drawing library names the XML namespaces that it makes elements in; nobody fetches those.
	for _, address := range regexp.MustCompile(`https?://[^/"'\x60)<> ]*`).FindAllString(page, -1) {
		if address != "http://www.w3.org" {
			t.Errorf("the document names something on the network: %s", address)
		}
	}
}

// No text of a recipe or of data becomes markup or script.
func TestHostileTextStaysText(t *testing.T) {
	d := sample()
	d.Title, d.Prose, d.Season, d.Source, d.Recipe = hostile, hostile, hostile, hostile, hostile
	d.Settings = []Setting{{Label: hostile, Value: json.RawMessage(mustJSON(hostile)), Unit: hostile}}
	d.Steps[0].Title, d.Steps[0].Prose, d.Steps[2].Error = hostile, hostile, hostile
	d.Steps[1].Results[1].List[0].Text = hostile
	d.Table = func(string) (table.Table, error) {
		return table.New(table.Text("a", []string{hostile}).Titled(hostile), table.Number("b", hostile, []float64{1})), nil
	}
	page := written(t, d)
	if strings.Contains(page, `<script>alert`) || strings.Contains(page, "<img src=x") {
		t.Error("a text became markup")
	}
	if n := strings.Count(page, "</script>"); n != strings.Count(page, "<script") {
		t.Errorf("%d scripts end, %d begin", n, strings.Count(page, "<script"))
	}
}

func mustJSON(s string) []byte {
	text, err := json.Marshal(s)
	if err != nil {
		panic(err)
	}
	return text
}

func TestMissingTable(t *testing.T) {
	d := sample()
	d.Steps[0].Results[0].Table.Ref = "gone"
	if err := Write(&bytes.Buffer{}, d); err == nil {
		t.Error("a table that cannot be had: no error")
	}
}

// TestSettingsOf gives what the reader saw: titles of choices, defaults where nothing was chosen.
func TestSettingsOf(t *testing.T) {
	choices := []interp.Choice{
		{Value: "contact_offset", Title: "Contact offset"}, {Value: "drop_depth", Title: "Drop depth"},
	}
	plan := interp.Plan{Settings: []interp.Setting{
		{Name: "Measure", Label: "Measure", Kind: "choice", Choices: choices, Default: json.RawMessage(`"contact_offset"`)},
		{Name: "Others", Label: "Others", Kind: "choices", Choices: choices, Default: json.RawMessage(`[]`)},
		{Name: "Limit", Label: "Limit", Kind: "number", Unit: "m", Default: json.RawMessage(`0.1`)},
		{Name: "Free", Label: "Free", Kind: "choice", Choices: choices, Default: json.RawMessage(`"other"`)},
	}}
	got := SettingsOf(plan, map[string]json.RawMessage{"Others": json.RawMessage(`["drop_depth","x"]`)})
	for i, want := range []string{`"Contact offset"`, `["Drop depth","x"]`, `0.1`, `"other"`} {
		if string(got[i].Value) != want {
			t.Errorf("%s: %s, want %s", got[i].Label, got[i].Value, want)
		}
	}
}
