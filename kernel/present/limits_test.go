package present

import (
	"strings"
	"testing"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"

	"tossline/kernel/result"
	"tossline/kernel/table"
)

type nest []nest

func TestWhatIsTooLargeIsRefused(t *testing.T) {
	within := nest{nil}
	within[0] = within
	anything := []any{nil}
	anything[0] = anything
	type pointer *any
	var self any
	self = pointer(&self)
	full := func(n int) []any {
		list := make([]any, n)
		for i := range list {
			list[i] = true
		}
		return list
	}
	var many []any
	for range 10 {
		many = append(many, full(maxList))
	}
	long := strings.Repeat("x", result.MaxText+1)
	points := charts.NewScatter().AddSeries("a", make([]opts.ScatterData, 3_000_000))
	wordy := charts.NewScatter()
	for range 40 {
		wordy.AddSeries(strings.Repeat("x", 1<<20), nil)
	}
	var texts []any
	for range 50 {
		texts = append(texts, table.New(table.Text("a", []string{strings.Repeat("x", 3<<20)})))
	}
	for _, c := range []struct {
		name  string
		value any
		says  string
	}{
		{"a long text", long, "a text of 1024 KB is too long to read"},
		{"a long list of numbers", make([]float64, result.MaxRows+1), "a list of 2000001 values is too long to show"},
		{"a long list of texts", make([]string, result.MaxRows+1), "a list of 2000001 values is too long to show"},
		{"a long list of results", full(maxList + 1), "a list of 51 results is too long"},
		{"lists of lists", many, "the lists hold more than 200 results"},
		{"a list within itself", within, "the result is nested too deeply"},
		{"a list of anything within itself", anything, "the result is nested too deeply"},
		{"a pointer to itself", self, "the result is nested too deeply"},
		{"tables that are large together", texts, "takes more than 96 MB"},
		{"a long table", table.New(table.Number("a", "", make([]float64, result.MaxRows+1))), "the table has 2000001 rows"},
		{"a heavy table", table.New(table.Text("a", []string{strings.Repeat("x", result.MaxTable+1)})),
			"the table takes 64 MB"},
		{"a long title", table.New(table.Number("a", "", []float64{1})).Titled("a", long),
			"titles and definitions of the table take 1024 KB"},
		{"a long caption", table.New(table.Number("a", "", []float64{1})).Captioned(long),
			"titles and definitions of the table take 1024 KB"},
		{"a chart of many points", points, "the chart holds too many values"},
		{"a chart of long texts", wordy, "the chart's texts take more than 32 MB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, attached, err := Encode(c.value)
			if err == nil || !strings.Contains(err.Error(), c.says) || attached != nil {
				t.Errorf("%.200v, want %q", err, c.says)
			}
		})
	}
}

func TestWhatIsJustSmallEnoughIsShown(t *testing.T) {
	for _, c := range []struct {
		name  string
		value any
		kind  result.Kind
	}{
		{"text", strings.Repeat("x", result.MaxText), result.KindText},
		{"numbers", make([]float64, result.MaxRows), result.KindTable},
		{"list", []any{[]any{[]any{[]any{1}}}}, result.KindList},
		{"full list", make([]bool, maxList), result.KindList},
	} {
		t.Run(c.name, func(t *testing.T) {
			if r, _, err := Encode(c.value); err != nil || r.Kind != c.kind {
				t.Errorf("%v, %v", r.Kind, err)
			}
		})
	}
}
