package delimited

import (
	"fmt"

	"tossline/datasets/recording"
	"tossline/datasets/tabular"
)

// collector puts the rows of all blocks together, in the order of the file.
type collector struct {
	*parser
	tabular.Collector
	lines int   // lines before the current block, from the file's first
	size  int64 // of the file, 0 where unknown
	notes []recording.Note
}

// take adds the rows of one block.
func (c *collector) take(r *rows) error {
	if c.Total == 0 && r.bytes > 0 && c.size > int64(r.bytes) {
		// Room for the whole file, by what its first block holds, so that growing never copies.
		c.Total = int(1.02 * float64(len(r.values)) * float64(c.size) / float64(r.bytes))
	}
	for i := range r.parts {
		if err := c.Add(&r.parts[i].Rows, c.lines+1); err != nil {
			return err
		}
	}
	if r.err != nil {
		r.err.Line += c.lines + 1
		return r.err
	}
	if r.cutAt > 0 {
		c.notes = append(c.notes, recording.Note{Severity: recording.Warn, Where: fmt.Sprintf("line %d", c.lines+r.cutAt),
			Text: "the last line is cut short: left out"})
	}
	c.lines += r.lines
	c.recycle(r)
	return nil
}

// finish gives the recordings once all blocks are there.
func (c *collector) finish() (*recording.Raw, error) {
	raw, err := c.Finish()
	if err != nil {
		return nil, err
	}
	last := raw
	if n := len(raw.More); n > 0 {
		last = raw.More[n-1]
	}
	last.Notes = append(last.Notes, c.notes...)
	return raw, nil
}
