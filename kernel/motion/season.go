package motion

import (
	"context"

	"tossline/kernel/table"
)

// Source is where a Season's serves come from: the season folder, the demo, or a test. It is read-only and safe for
// use by several goroutines.
type Source interface {
	// Len is the number of serves, cut-off and discarded ones left out.
	Len() int
	// Clip gives the frames and events of serve i, sharing the source's memory.
	Clip(i int) (Clip, error)
	// Particulars has a row for each serve, in order: the columns of ParticularsColumns.
	Particulars() table.Table
	// Cached gives a measure of serve i that was computed before from the same frames, events and version.
	Cached(i int, m Measure) (Value, bool)
	// Keep offers a computed measure to the cache.
	Keep(i int, m Measure, v Value)
}

// Season is what a recipe sees of a season folder: its serves, their measures and their figures.
type Season struct {
	ctx      context.Context
	source   Source
	progress func(done, total int)
}

// NewSeason makes a Season over src. Long computations stop when ctx ends and report to progress, which may be nil
// and may be called from several goroutines.
func NewSeason(ctx context.Context, src Source, progress func(done, total int)) Season {
	return Season{ctx: ctx, source: src, progress: progress}
}
