package server

import (
	"context"
	"net/http"

	"tossline/workbench/document"
)

// document gives a recipe with its results as one HTML file: GET /document/RECIPE.
func (s *Server) document(w http.ResponseWriter, r *http.Request) {
	d := s.hub.lying(r.PathValue("recipe"))
	if d == nil {
		http.Error(w, "open the recipe before saving it", http.StatusNotFound)
		return
	}
	var doc document.Document
	d.show(func(state Desk) { doc = s.documentOf(r.Context(), state) })
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Disposition", "attachment")
	if err := document.Write(w, doc); err != nil {
		s.options.Log.Error("a document could not be written", "recipe", doc.Recipe, "error", err)
		panic(http.ErrAbortHandler)
	}
}

// documentOf is what a desk shows, as a document.
func (s *Server) documentOf(ctx context.Context, state Desk) document.Document {
	doc := document.Document{
		Recipe: state.Recipe, Title: state.Plan.Title, Prose: state.Plan.Prose, Source: state.Source,
		Table: s.tables.get,
	}
	if season, err := s.options.Season.Overview(ctx); err == nil {
		doc.Season = season.Name
	}
	for _, set := range state.Plan.Settings {
		value := state.Values[set.Name]
		if len(value) == 0 {
			value = set.Default
		}
		doc.Settings = append(doc.Settings, document.Setting{Label: set.Label, Value: value, Unit: set.Unit})
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
