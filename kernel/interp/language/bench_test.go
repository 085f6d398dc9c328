package language

import (
	"fmt"
	"strings"
	"testing"

	"tossline/kernel/interp"
)

// long is a recipe of 500 lines.
func long() string {
	var b strings.Builder
	b.WriteString(strings.Replace(head, "\t\"github.com/go-echarts/go-echarts/v2/opts\"\n", "", 1))
	for n := 0; strings.Count(b.String(), "\n") < 500; n++ {
		fmt.Fprintf(&b, `// Far outside
//
// The serves that were met further outside than the limit.
func Outside%d(contacts table.Table, settings Settings) (table.Table, error) {
	far := contacts.Keep(func(serve table.Row) bool {
		return math.Abs(serve.Number("contact_offset_m")) > settings.Limit && !strings.HasPrefix(serve.Text("player"), "x")
	})
	for i := range 3 {
		if far.Len() < i {
			far = far.OrderBy("player")
		}
	}
	return far.GroupBy("player").Summary(table.Mean("contact_offset_m"), table.Rows().As("serves")), nil
}

`, n)
	}
	return b.String()
}

// What the editor waits for while typing: remarks on a recipe of 500 lines.
func BenchmarkCheck500Lines(b *testing.B) {
	source := long()
	for b.Loop() {
		if _, remarks, err := interp.NewSession(nil).Check("recipe.go", source); err != nil || len(remarks) > 0 {
			b.Fatal(err, remarks)
		}
	}
}

func BenchmarkComplete500Lines(b *testing.B) {
	source := long() + "func Last(contacts table.Table) table.Table { return contacts."
	for b.Loop() {
		if len(Complete(source, len(source)).Items) < 10 {
			b.Fatal("nothing")
		}
	}
}
