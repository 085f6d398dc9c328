package motion

import (
	"tossline/kernel/table"
)

// MiddleServe is the serve in the middle of all that have a value, ordered by a column: the one to draw for a player.
// It is "" where no serve has a value. serves has the column serve.
func MiddleServe(serves table.Table, column string) string {
	known := serves.Present(column).OrderBy(column)
	if known.Len() == 0 {
		return ""
	}
	return known.Row(known.Len() / 2).Text("serve")
}

// Unmeasured counts the serves without a value, by player, measure and reason: a row for each, those with the most
// serves first, with the columns player, measure (its title), reason, serves. serves is a table that Season.Measure
// gave, or part of one.
func Unmeasured(serves table.Table, measures ...Measure) table.Table {
	all := table.New(table.Text("player", nil).Titled("Player"), table.Text("measure", nil).Titled("Measure"),
		table.Text("reason", nil).Titled("Reason"), table.Integer("serves", nil).Titled("Serves"))
	for _, m := range measures {
		title := func(table.Row) string { return m.Title }
		all = all.Append(serves.Pick("player", m.MissingColumn()).Present(m.MissingColumn()).
			WithText("measure", title).
			GroupBy("player", "measure", m.MissingColumn()).
			Summary(table.Rows().As("serves")).
			Rename(m.MissingColumn(), "reason"))
	}
	return all.OrderBy("-serves", "player", "measure")
}
