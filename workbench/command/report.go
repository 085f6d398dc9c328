package command

import (
	"context"
	"encoding/json"
	"io"
	"time"

	"github.com/spf13/cobra"

	"tossline/datasets/export"
	"tossline/kernel/motion"
	"tossline/kernel/table"
	sheet "tossline/workbench/report"
)

func newReport() *cobra.Command {
	job := reporting{}
	c := &cobra.Command{
		Use:   "report RECIPE.go --season DIR",
		Short: "Write one printable page about a player",
		Long: `Report runs a recipe over a season and writes one page for paper about a player: what stands out, three findings at
most, each with number, interval and picture; what to work on; how it will be checked next time; cautions. It is made of
the measures and serves that the recipe looked at.

Player and reference are those of the recipe's settings Player and Reference, unless --player and --reference say
otherwise. --json prints the same as JSON.`,
		Example: `  tossline report contact_offset.go --season club --set Player="Tuva Brandt" --out tuva.html
  tossline report season_at_a_glance.go --season club --player "Tuva Brandt" --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			job.out, job.errOut = c.OutOrStdout(), c.ErrOrStderr()
			return job.report(c.Context(), args[0])
		},
	}
	c.Flags().StringVar(&job.dir, "season", "", "the season folder")
	c.Flags().StringArrayVar(&job.sets, "set", nil, "Name=value of a setting; may be given again")
	c.Flags().StringVar(&job.player, "player", "", "the player that the page is about")
	c.Flags().StringVar(&job.reference, "reference", "", "the player to set beside")
	c.Flags().StringVar(&job.path, "out", "", "HTML file to write")
	c.Flags().BoolVar(&job.asJSON, "json", false, "print the report as JSON")
	required(c, "season")
	return c
}

// reporting is one call of the report command.
type reporting struct {
	running
	player, reference string
}

func (j *reporting) report(ctx context.Context, name string) error {
	if j.path == "" && !j.asJSON {
		return misuse("say where the page goes with --out FILE.html, or ask for --json")
	}
	return j.over(ctx, name, func(source motion.Source) error {
		if _, err := j.complain(); err != nil {
			return err
		}
		return j.write(ctx, source)
	})
}

// write makes the report of what the recipe gave.
func (j *reporting) write(ctx context.Context, source motion.Source) error {
	tables := make([]table.Table, 0, len(j.tables))
	for _, p := range j.plan.Steps {
		if s := j.steps[p.Name]; s != nil {
			for _, a := range s.Attachments {
				t, err := table.Decode(a.Bytes)
				if err != nil {
					return err
				}
				tables = append(tables, t)
			}
		}
	}
	r, err := sheet.Make(ctx, source, tables, sheet.Question{Recipe: j.plan.Title, Season: j.season,
		Player: j.chosen("Player", j.player), Reference: j.chosen("Reference", j.reference)})
	if err != nil {
		return err
	}
	if j.path != "" {
		err := export.SaveWith(j.path, func(w io.Writer) error { return sheet.Write(w, r, time.Now()) })
		if err != nil {
			return err
		}
	}
	if j.asJSON {
		return printJSON(j.out, r)
	}
	return nil
}

// chosen is what was asked for, or else the value of a setting as the recipe ran.
func (j *reporting) chosen(setting, asked string) string {
	if asked != "" {
		return asked
	}
	raw := j.settings[setting]
	for _, s := range j.plan.Settings {
		if s.Name == setting && len(raw) == 0 {
			raw = s.Default
		}
	}
	var text string
	if json.Unmarshal(raw, &text) != nil {
		return ""
	}
	return text
}
