package result

import (
	"fmt"

	"tossline/kernel/table"
)

// The most that one result may hold. More of it no page shows, and no reader reads.
const (
	MaxText  = 1 << 20   // bytes of a text, and of all titles and definitions of a table
	MaxRows  = 2_000_000 // of a table
	MaxTable = 64 << 20  // bytes of a table's values
)

// Size is about the bytes that the result takes as JSON.
func (r Result) Size() int64 {
	n := 100 + int64(len(r.Text)+len(r.Figure)) + r.Table.size()
	for _, l := range r.LeftOut {
		n += int64(len(l.Reason)) + sizeOf(l.Serves)
	}
	if r.Chart != nil {
		n += int64(len(r.Chart.Option)+len(r.Chart.Summary)) + r.Chart.Data.size()
		for _, ties := range r.Chart.Serves {
			n += sizeOf(ties)
		}
	}
	if r.Estimate != nil {
		n += 200 + int64(len(r.Estimate.Name)+len(r.Estimate.Unit)+len(r.Estimate.Sentence))
	}
	if r.Number != nil {
		n += int64(len(r.Number.Unit) + len(r.Number.Label))
	}
	for _, item := range r.List {
		n += item.Size()
	}
	return n
}

func (t *Table) size() int64 {
	if t == nil {
		return 0
	}
	n := int64(len(t.Caption) + 200)
	for _, c := range t.Columns {
		n += int64(len(c.Name)+len(c.Title)+len(c.Unit)+len(c.Definition)) + 80
	}
	return n
}

func sizeOf(texts []string) int64 {
	n := int64(0)
	for _, s := range texts {
		n += int64(len(s)) + 3
	}
	return n
}

// fits refuses a table that is too large, before anything is made of it.
func fits(t table.Table) error {
	if t.Len() > MaxRows {
		return fmt.Errorf("the table has %d rows; the most that can be shown is %d: return a summary, or fewer serves",
			t.Len(), MaxRows)
	}
	if n := t.Size(); n > MaxTable {
		return fmt.Errorf("the table takes %d MB; the most that can be shown is %d MB: return fewer rows or columns",
			n>>20, MaxTable>>20)
	}
	described := Table{Caption: t.Caption(), Columns: Columns(t)}
	if n := described.size(); n > MaxText {
		return fmt.Errorf("the names, titles and definitions of the table take %d KB; the most is %d KB",
			n>>10, MaxText>>10)
	}
	return nil
}
