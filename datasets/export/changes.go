package export

import (
	"math"
	"time"

	"tossline/datasets/catalogue"
	"tossline/datasets/season"
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// Changes has a row for every change that was made by hand, those taken back too, in the order in which they were made,
// which is oldest first.
func Changes(c *catalogue.Catalogue, made []season.Made) (Content, error) {
	files := fileNames(c)
	n := len(made)
	texts := func(of func(season.Made) string) []string {
		column := make([]string, n)
		for i, m := range made {
			column[i] = of(m)
		}
		return column
	}
	recording, file := make([]string, n), make([]string, n)
	rate, batch := make([]float64, n), make([]int64, n)
	at, undone := make([]time.Time, n), make([]time.Time, n)
	for i, m := range made {
		if m.Target == season.OnServe || m.Target == season.OnRecording {
			recording[i] = season.RecordingOf(motion.ServeID(m.Subject))
			file[i] = files[recording[i]]
		}
		if rate[i] = m.RateHz; m.RateHz == 0 {
			rate[i] = math.NaN()
		}
		batch[i], at[i], undone[i] = m.Batch, m.At, m.Undone
	}
	return about(table.New(
		table.Text("file", file).Titled("File"),
		table.Text("recording", recording).Titled("Recording"),
		table.Text("target", texts(func(m season.Made) string { return string(m.Target) })).Titled("What was changed").
			Defined("serve, recording, player or table"),
		table.Text("subject", texts(func(m season.Made) string { return m.Subject })).Titled("Which one").
			Defined("The id of the serve or the recording, or the name of the player or the table."),
		table.Text("field", texts(func(m season.Made) string { return m.Field })).Titled("Field").
			Defined("event.<name> is the time of an event, discarded why a serve is left out, stretch its frames, "+
				"serve.<id> a serve cut by hand, cut the serves found again, content the hash of a table; others are "+
				"particulars."),
		table.Text("value", texts(func(m season.Made) string { return m.Value })).Titled("Value").
			Defined("Times in seconds from the start of the recording; serves that were cut as JSON; missing where it "+
				"says that there is none."),
		table.Text("before", texts(func(m season.Made) string { return m.Before })).Titled("Value before"),
		table.Number("rate_hz", "Hz", rate).Titled("Frame rate").
			Defined("Of the recording when times were set: should it be understood otherwise, the frames count."),
		table.Integer("batch", batch).Titled("Batch").Defined("Changes made together are taken back together."),
		table.Time("made_at", at).Titled("Made").Defined("UTC."),
		table.Time("undone_at", undone).Titled("Taken back").Defined("UTC; missing while the change is in force."),
	), c, "changes")
}

// Groups has a row for every serve of every group, in the order in which they were chosen.
func Groups(c *catalogue.Catalogue, groups []season.Group) (Content, error) {
	files := fileNames(c)
	var group, serve, recording, file, player, session []string
	var contact []float64
	for _, g := range groups {
		for _, id := range g.Serves {
			of := season.RecordingOf(id)
			group, serve = append(group, g.Name), append(serve, string(id))
			recording, file = append(recording, of), append(file, files[of])
			who, when, at := "", "", math.NaN()
			if s, ok := c.Find(id); ok {
				r := c.Recordings()[s.Recording]
				who, when, at = r.Player, r.Session, s.ContactS()
			}
			player, session, contact = append(player, who), append(session, when), append(contact, at)
		}
	}
	return about(table.New(
		table.Text("group", group).Titled("Group"),
		table.Text("serve", serve).Titled("Serve"),
		table.Text("recording", recording).Titled("Recording"),
		table.Text("file", file).Titled("File"),
		table.Text("player", player).Titled("Player"),
		table.Text("session", session).Titled("Session"),
		table.Number("contact_s", "s", contact).Titled("Contact").Defined("From the start of the recording."),
	), c, "groups")
}

// fileNames gives the files of recordings by their ids.
func fileNames(c *catalogue.Catalogue) map[string]string {
	names := map[string]string{}
	for _, r := range c.Recordings() {
		names[r.ID] = r.File
	}
	return names
}
