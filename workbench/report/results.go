package report

import (
	"context"
	"slices"

	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// Looked is what a recipe looked at, as the tables among its results show it.
type Looked struct {
	Measures []motion.Measure
	serves   map[string]bool
	blocks   map[string]string // block of a serve, where a table has the column block
}

// Make answers a question about the serves of a source that lie in the tables a recipe gave, which say what was measured.
func Make(ctx context.Context, source motion.Source, tables []table.Table, q Question) (Report, error) {
	looked := Look(tables)
	serves, err := looked.Serves(motion.NewSeason(ctx, source, nil), q.Player, q.Reference)
	if err != nil {
		return Report{}, err
	}
	q.Measures, q.Serves = looked.Measures, serves
	return Of(q)
}

// Look reads from a recipe's tables which measures of which serves it looked at: the tables with the columns serve and
// player, and the columns of measures in them.
func Look(tables []table.Table) Looked {
	l := Looked{serves: map[string]bool{}, blocks: map[string]string{}}
	for _, t := range tables {
		if t.Type("serve") != "text" || t.Type("player") != "text" {
			continue
		}
		found := false
		for _, m := range motion.All() {
			if t.Type(m.Column()) != "number" {
				continue
			}
			found = true
			if !slices.ContainsFunc(l.Measures, func(known motion.Measure) bool { return known.ID == m.ID }) {
				l.Measures = append(l.Measures, m)
			}
		}
		if found {
			l.addServes(t)
		}
	}
	return l
}

func (l *Looked) addServes(t table.Table) {
	blocks := make([]string, t.Len())
	if t.Type("block") == "text" {
		blocks = t.Texts("block")
	}
	for i, serve := range t.Texts("serve") {
		l.serves[serve] = true
		if blocks[i] != "" {
			l.blocks[serve] = blocks[i]
		}
	}
}

// Serves measures those serves of the player and the reference that the recipe looked at: its measures and the handles.
func (l Looked) Serves(season motion.Season, player, reference string) (table.Table, error) {
	measures := slices.Clone(l.Measures)
	for _, h := range Handles() {
		if !slices.ContainsFunc(measures, func(m motion.Measure) bool { return m.ID == h.ID }) {
			measures = append(measures, h)
		}
	}
	all, err := season.Of(player, reference).Measure(measures...)
	if err != nil {
		return table.Table{}, err
	}
	serves := all.Keep(func(serve table.Row) bool { return l.serves[serve.Text("serve")] })
	if len(l.blocks) > 0 {
		serves = serves.WithText("block", func(serve table.Row) string { return l.blocks[serve.Text("serve")] })
	}
	return serves, serves.Err()
}
