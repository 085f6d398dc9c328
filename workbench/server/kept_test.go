package server

import (
	"strings"
	"testing"

	"tossline/datasets/season"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

// TestTableIsKept drops a table that is no recording, keeps it, looks at it, takes it out and puts it back.
func TestTableIsKept(t *testing.T) {
	s := stand(t)
	page, other := s.page(), s.page()
	_, upload := page.upload("lab 2.csv", []byte("serve;force_N\nx;812,5\ny;\n"))
	read := answerOf[Whole](page, "preview", map[string]any{"upload": upload})
	if c := read.Whole.Columns; len(c) != 2 || c[1].Unit != "N" || c[1].Missing != 1 || read.Whole.Rows != 2 ||
		!strings.Contains(read.Why, "lab 2.csv, line 1: ") {
		t.Errorf("read as %+v", read)
	}
	own := page.ask("keep", map[string]any{"upload": upload, "name": "serves"})
	if !strings.Contains(own.Error, "of its own") {
		t.Errorf("a name of the season's own: %+v", own)
	}
	page.reply("keep", map[string]any{"upload": upload, "name": "lab"})
	other.push("season")
	kept := func() []KeptTable {
		overview := answerOf[Welcome](other, "hello", map[string]any{"page": other.key}).Season
		return overview.Tables
	}
	if all := kept(); len(all) != 1 || all[0].Name != "lab" || all[0].Rows != 2 || all[0].File != "lab 2.csv" ||
		all[0].At == "" {
		t.Errorf("kept %+v", all)
	}
	shown := answerOf[result.Table](page, "table", map[string]any{"name": "lab"})
	if shown.Rows != 2 || len(shown.Columns) != 2 || shown.Columns[1].Unit != "N" {
		t.Errorf("shown as %+v", shown)
	}
	rows := page.ask("rows", map[string]any{"ref": shown.Ref, "limit": 10})
	if got, err := table.Decode(rows.stream); err != nil || rows.rows != 2 || got.Numbers("force_N")[0] != 812.5 {
		t.Errorf("rows %v, %v", got.Names(), err)
	}
	if f := page.ask("table", map[string]any{"name": "labs"}); !strings.Contains(f.Error, "no table labs") {
		t.Errorf("an unknown table: %+v", f)
	}
	changed := answerOf[Changed](page, "change", map[string]any{"edits": []season.Edit{
		{Target: season.OnTable, Subject: "lab", Field: "content"}}})
	if all := kept(); len(all) != 0 {
		t.Errorf("taken out: %+v", all)
	}
	page.reply("undo", map[string]any{"batch": changed.Batch})
	if all := kept(); len(all) != 1 {
		t.Errorf("put back: %+v", all)
	}
	var told []string
	for _, c := range answerOf[[]Change](page, "history", nil) {
		told = append(told, c.Sentence)
	}
	if said := strings.Join(told, "; "); said != "Table lab taken out; Table lab kept" {
		t.Errorf("history: %s", said)
	}
}
