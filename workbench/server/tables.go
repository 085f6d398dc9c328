package server

import (
	"container/list"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"strings"
	"sync"

	"tossline/datasets/export"
	"tossline/kernel/table"
)

const (
	maxTableBytes = 1 << 30 // of tables kept that no desk shows any more
	maxWindow     = 2000    // rows of one window
	maxViews      = 32      // sorted and filtered forms kept
)

// tables keeps the Arrow tables that results refer to, by content hash. A table that a desk shows stays; others go,
// longest unused first, once they take more than a limit.
type tables struct {
	limit int

	mu    sync.Mutex
	byRef map[string]*keptTable
	idle  *list.List                 // refs, longest unused first
	held  map[string]map[string]bool // by recipe: the refs its desk shows
	views map[string]table.Table     // by view key
	order []string                   // view keys, oldest first
}

type keptTable struct {
	stream []byte
	table  table.Table
	err    error
	once   sync.Once
	place  *list.Element
}

func newTables(limit int) *tables {
	return &tables{
		limit: limit, byRef: map[string]*keptTable{}, idle: list.New(),
		held: map[string]map[string]bool{}, views: map[string]table.Table{},
	}
}

// put keeps the Arrow IPC stream of a table.
func (t *tables) put(ref string, stream []byte) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if k := t.byRef[ref]; k != nil {
		t.idle.MoveToBack(k.place)
		return
	}
	t.byRef[ref] = &keptTable{stream: stream, place: t.idle.PushBack(ref)}
}

// hold says which tables a desk shows, and lets go of what no desk shows where that is too much.
func (t *tables) hold(recipe string, refs map[string]bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.held[recipe] = refs
	total := 0
	for e := t.idle.Back(); e != nil; {
		ref, before := e.Value.(string), e.Prev()
		if !t.shown(ref) {
			if total += len(t.byRef[ref].stream); total > t.limit {
				delete(t.byRef, ref)
				t.idle.Remove(e)
			}
		}
		e = before
	}
}

func (t *tables) shown(ref string) bool {
	for _, refs := range t.held {
		if refs[ref] {
			return true
		}
	}
	return false
}

// get gives a table. It is decoded when it is first asked for.
func (t *tables) get(ref string) (table.Table, error) {
	t.mu.Lock()
	k := t.byRef[ref]
	t.mu.Unlock()
	if k == nil {
		return table.Table{}, fmt.Errorf("this table is no longer there; run the recipe again")
	}
	k.once.Do(func() { k.table, k.err = table.Decode(k.stream) })
	return k.table, k.err
}

// view gives a table sorted and filtered.
func (t *tables) view(ref, order string, filters []Filter) (table.Table, error) {
	whole, err := t.get(ref)
	if err != nil || order == "" && len(filters) == 0 {
		return whole, err
	}
	key := fmt.Sprintf("%s\x00%s", ref, order)
	for _, f := range filters {
		key += fmt.Sprintf("\x00%q %q %q %s %s", f.Column, f.Text, f.OneOf, bound(f.Min, math.Inf(-1)),
			bound(f.Max, math.Inf(1)))
	}
	t.mu.Lock()
	v, ok := t.views[key]
	t.mu.Unlock()
	if ok {
		return v, nil
	}
	v = whole
	for _, f := range filters {
		v = f.apply(v)
	}
	if order != "" {
		v = v.OrderBy(order)
	}
	if v.Err() != nil {
		return v, v.Err()
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.order = append(t.order, key); len(t.order) > maxViews {
		delete(t.views, t.order[0])
		t.order = t.order[1:]
	}
	t.views[key] = v
	return v, nil
}

func bound(v *float64, otherwise float64) string {
	if v == nil {
		return fmt.Sprint(otherwise)
	}
	return fmt.Sprint(*v)
}

// apply keeps the rows that a filter lets through.
func (f Filter) apply(t table.Table) table.Table {
	if f.Text != "" {
		want := strings.ToLower(f.Text)
		return t.Keep(func(r table.Row) bool { return strings.Contains(strings.ToLower(r.Text(f.Column)), want) })
	}
	if f.OneOf != nil {
		return t.Where(f.Column, f.OneOf...)
	}
	low, high := math.Inf(-1), math.Inf(1)
	if f.Min != nil {
		low = *f.Min
	}
	if f.Max != nil {
		high = *f.Max
	}
	return t.Between(f.Column, low, high)
}

// window encodes rows from..from+n of a view, and says how many rows the view has.
func (t *tables) window(ref, order string, filters []Filter, from, n int) ([]byte, int, error) {
	v, err := t.view(ref, order, filters)
	if err != nil {
		return nil, 0, err
	}
	rows := v.Len()
	from = min(max(from, 0), rows)
	n = min(max(n, 0), maxWindow, rows-from)
	stream, err := table.Encode(v.First(from + n).Last(n))
	return stream, rows, err
}

// maxView is how long the order and the filters of a download may be, with the serves that are selected.
const maxView = 4 << 20

// download gives a table as a file: GET /table/REF.csv, .parquet or .arrow; or, for the rows that the page shows, POST
// with {"order": ..., "filter": [...]} as in rows.
func (s *Server) download(w http.ResponseWriter, r *http.Request) {
	ref, format, _ := strings.Cut(r.PathValue("file"), ".")
	var view struct {
		Order  string   `json:"order"`
		Filter []Filter `json:"filter"`
	}
	if r.Method == http.MethodPost {
		if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxView)).Decode(&view); err != nil {
			http.Error(w, "the order and filters of the table can't be read", http.StatusBadRequest)
			return
		}
	}
	t, err := s.tables.view(ref, view.Order, view.Filter)
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	f, err := export.ParseFormat(format)
	if err != nil {
		http.Error(w, "a table can be saved as csv, parquet or arrow", http.StatusNotFound)
		return
	}
	content, err := export.OfTable(t)
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	s.attach(w, r, mediaTypes[f], func(w io.Writer) error { return export.Write(w, f, content) })
}

// mediaTypes are the formats of downloads.
var mediaTypes = map[export.Format]string{
	export.CSV:     "text/csv; charset=utf-8",
	export.Parquet: "application/vnd.apache.parquet",
	export.Arrow:   "application/vnd.apache.arrow.file",
}

// attach answers with a file that write makes.
func (s *Server) attach(w http.ResponseWriter, r *http.Request, mediaType string, write func(io.Writer) error) {
	w.Header().Set("Content-Type", mediaType)
	w.Header().Set("Content-Disposition", "attachment")
	if err := write(w); err != nil {
		s.options.Log.Error("a download failed", "path", r.URL.Path, "error", err)
		panic(http.ErrAbortHandler) // half a file must not look whole
	}
}
