package server

import (
	"cmp"
	"context"
	"encoding/json"
	"io"
	"maps"
	"net/http"
	"slices"
	"time"

	"tossline/kernel/table"
	"tossline/workbench/document"
	"tossline/workbench/report"
)

const html = "text/html; charset=utf-8"

// document gives a recipe with its results as one HTML file: GET /document/RECIPE.
func (s *Server) document(w http.ResponseWriter, r *http.Request) {
	d := s.hub.lying(r.PathValue("recipe"))
	if d == nil {
		http.Error(w, "open the recipe before saving it", http.StatusNotFound)
		return
	}
	var doc document.Document
	d.show(func(state Desk) { doc = s.documentOf(r.Context(), state) })
	s.attach(w, r, html, func(w io.Writer) error { return document.Write(w, doc) })
}

// documentOf is what a desk shows, as a document.
func (s *Server) documentOf(ctx context.Context, state Desk) document.Document {
	doc := document.Document{
		Recipe: state.Recipe, Title: state.Plan.Title, Prose: state.Plan.Prose, Source: state.Source,
		Table: s.tables.get, Settings: document.SettingsOf(state.Plan, state.Values),
	}
	if season, err := s.options.Season.Overview(ctx); err == nil {
		doc.Season = season.Name
	}
	for i, step := range state.Steps {
		if i >= len(state.Plan.Steps) {
			break
		}
		plan := state.Plan.Steps[i]
		out := document.Step{
			Name: step.Name, Title: plan.Title, Prose: plan.Prose, Results: step.Results, TookMS: step.TookMS,
		}
		if step.Error != nil {
			out.Error = step.Error.Message
		}
		doc.Steps = append(doc.Steps, out)
	}
	return doc
}

// report gives one printable page about a player, made of what a recipe looked at, as an HTML file: GET /report/RECIPE,
// with ?player= and ?reference= where they are not those of the recipe's settings.
func (s *Server) report(w http.ResponseWriter, r *http.Request) {
	d := s.hub.lying(r.PathValue("recipe"))
	if d == nil {
		http.Error(w, "open the recipe before making its report", http.StatusNotFound)
		return
	}
	asked := r.URL.Query()
	var refs []string
	var question report.Question
	d.show(func(state Desk) {
		refs = refsOf(state)
		question = report.Question{Recipe: state.Plan.Title,
			Player:    cmp.Or(asked.Get("player"), state.chosen("Player")),
			Reference: cmp.Or(asked.Get("reference"), state.chosen("Reference"))}
	})
	made, err := s.reportOf(r.Context(), refs, question)
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	s.attach(w, r, html, func(w io.Writer) error { return report.Write(w, made, time.Now()) })
}

// chosen is the text of a setting as the recipe runs, "" where there is none.
func (d Desk) chosen(setting string) (text string) {
	for _, set := range d.Plan.Settings {
		if set.Name == setting && json.Unmarshal(set.Default, &text) != nil {
			return ""
		}
	}
	if value := d.Values[setting]; len(value) > 0 && json.Unmarshal(value, &text) != nil {
		return ""
	}
	return text
}

// refsOf names the tables that a desk's results refer to.
func refsOf(state Desk) []string {
	refs := map[string]bool{}
	for _, step := range state.Steps {
		for _, r := range step.Results {
			addRefs(refs, r)
		}
	}
	return slices.Sorted(maps.Keys(refs))
}

// reportOf answers a question about what lies in tables.
func (s *Server) reportOf(ctx context.Context, refs []string, q report.Question) (report.Report, error) {
	var tables []table.Table
	for _, ref := range refs {
		t, err := s.tables.get(ref)
		if err != nil {
			return report.Report{}, err
		}
		tables = append(tables, t)
	}
	season, err := s.options.Season.Overview(ctx)
	if err != nil {
		return report.Report{}, err
	}
	source, err := s.options.Season.Source(ctx)
	if err != nil {
		return report.Report{}, err
	}
	q.Season = season.Name
	return report.Make(ctx, source, tables, q)
}
