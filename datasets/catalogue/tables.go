package catalogue

import (
	"math"

	"tossline/kernel/table"
)

// Particulars has a row for each serve that is measured: who, when, from which file, and what else is known of it.
func (c *Catalogue) Particulars() table.Table { return c.particulars() }

// LeftOut has a row for each serve that is not measured: its particulars and the reason, in column left_out.
func (c *Catalogue) LeftOut() table.Table {
	var rows []int
	var why []string
	for row, place := range c.place {
		if place < 0 {
			rows, why = append(rows, row), append(why, c.leftOut(row))
		}
	}
	reason := table.Text("left_out", why).Titled("Left out because")
	return c.particularsOf(rows).With(reason)
}

// ParticularsOfAll has a row for every serve, those left out too, in the season's order; left_out is null for those
// that are measured.
func (c *Catalogue) ParticularsOfAll() table.Table {
	rows, why := make([]int, c.Rows()), make([]string, c.Rows())
	for row := range rows {
		rows[row], why[row] = row, c.leftOut(row)
	}
	return c.particularsOf(rows).With(table.Text("left_out", why).Titled("Left out because"))
}

func (c *Catalogue) makeParticulars() table.Table {
	rows := make([]int, len(c.order))
	for i, row := range c.order {
		rows[i] = int(row)
	}
	return c.particularsOf(rows)
}

// particularsOf makes the table of particulars: the columns that every table of serves starts with.
func (c *Catalogue) particularsOf(rows []int) table.Table {
	l := &c.list
	text := func(name, title string, of func(row int) string) table.Column {
		values := make([]string, len(rows))
		for i, row := range rows {
			values[i] = of(row)
		}
		return table.Text(name, values).Titled(title)
	}
	number := func(name, title, unit string, of func(row int) float64) table.Column {
		values := make([]float64, len(rows))
		for i, row := range rows {
			values[i] = of(row)
		}
		return table.Number(name, unit, values).Titled(title)
	}
	recording := func(row int) *Recording { return &l.Recordings[l.Recording[row]] }
	return table.New(
		text("serve", "Serve", func(r int) string { return l.ID[r] }),
		text("recording", "Recording", func(r int) string { return recording(r).ID }),
		text("file", "File", func(r int) string { return recording(r).File }),
		text("player", "Player", func(r int) string { return recording(r).Player }),
		text("session", "Session", func(r int) string { return recording(r).Session }),
		text("hand", "Hitting hand", func(r int) string { return string(recording(r).Hand) }),
		number("contact_s", "Contact", "s", func(r int) float64 { return l.contactS(r) }).
			Defined("Time of contact from the start of the recording."),
		number("height_m", "Height", "m", func(r int) float64 { return orMissing(recording(r).HeightM) }).
			Defined("The player's standing height."),
		text("level", "Level", func(r int) string { return recording(r).Level }),
		number("birth_year", "Birth year", "", func(r int) float64 { return orMissing(float64(recording(r).BirthYear)) }),
		text("serve_type", "Serve type", func(r int) string { return l.word(l.Type[r]) }),
		text("stance_type", "Stance type", func(r int) string { return l.word(l.Stance[r]) }),
		text("court_side", "Court side", func(r int) string { return l.word(l.CourtSide[r]) }),
		number("ball_speed_m_s", "Ball speed", "m/s", func(r int) float64 { return orMissing(l.BallSpeedMS[r]) }),
		text("outcome", "Outcome", func(r int) string { return l.word(l.Outcome[r]) }),
	)
}

// orMissing is NaN for the zero that stands for unknown.
func orMissing(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}
