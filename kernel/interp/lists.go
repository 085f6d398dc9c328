package interp

import (
	"context"
	"slices"
	"sync"
	"time"

	"tossline/kernel/motion"
)

// choicesOf gives the entries of a season's lists. A season doesn't change, so each list is made once.
func choicesOf(source motion.Source) func(from string) []Choice {
	if source == nil {
		return nil
	}
	var mu sync.Mutex // guards made: sources are checked beside a run
	made := map[string][]Choice{}
	return func(from string) []Choice {
		mu.Lock()
		defer mu.Unlock()
		list, found := made[from]
		if !found {
			list = entries(source, from)
			made[from] = list
		}
		return list
	}
}

func entries(source motion.Source, from string) []Choice {
	var list []Choice
	if from == "measures" {
		for _, m := range motion.All() {
			list = append(list, Choice{Value: m.ID, Title: m.Title, Unit: m.Unit})
		}
		return list
	}
	if keeper, ok := source.(interface{ TableNames() []string }); ok && from == "tables" {
		for _, name := range keeper.TableNames() {
			list = append(list, Choice{Value: name, Title: name})
		}
		return list
	}
	particulars := motion.NewSeason(context.Background(), source, nil).Particulars()
	column := columns[from]
	if column == "" || !particulars.Has(column) {
		return nil
	}
	values := particulars.Texts(column)
	slices.Sort(values)
	for _, value := range slices.Compact(values) {
		if value != "" {
			list = append(list, Choice{Value: value, Title: title(from, value)})
		}
	}
	return list
}

// title is how an entry reads.
func title(from, value string) string {
	if day, err := time.Parse(dateForm, value); from == "sessions" && err == nil {
		return day.Format("2 January 2006")
	}
	return value
}
