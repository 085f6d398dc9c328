package table_test

import (
	"maps"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/kernel/table"
)

var nan = math.NaN()

func day(text string) time.Time {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return t
}

// serves is a small season with a null in most columns.
func serves() table.Table {
	return table.New(
		table.Text("serve", []string{"a", "b", "c", "d", "e", "f"}),
		table.Text("player", []string{"Ines", "Tuva", "Ines", "", "Tuva", "Ines"}),
		table.Number("offset_m", "m", []float64{0.10, -0.05, nan, 0.02, 0.30, -0.20}).
			Titled("Contact offset").Defined("How far outside."),
		table.Integer("number", []int64{1, 2, 3, 4, 5, 6}),
		table.Date("session", []time.Time{day("2026-03-14"), day("2026-03-01"), {}, day("1969-12-31"),
			day("2026-03-14"), day("2026-03-01")}),
		table.Flag("first", []bool{true, false, true, false, true, false}),
		table.Time("at", []time.Time{day("2026-03-14").Add(90 * time.Minute), {}, day("2026-03-01"), day("2026-03-01"),
			day("2026-03-01"), day("2026-03-01")}),
	)
}

func ids(t table.Table) string {
	if t.Err() != nil {
		return "error: " + t.Err().Error()
	}
	return strings.Join(t.Texts("serve"), "")
}

func TestRowsThatVerbsChoose(t *testing.T) {
	positive := func(r table.Row) bool { return r.Number("offset_m") > 0 }
	for name, c := range map[string]struct {
		got  table.Table
		want string
	}{
		"where one":                    {serves().Where("player", "Ines"), "acf"},
		"where two":                    {serves().Where("player", "Ines", "Tuva"), "abcef"},
		"where none":                   {serves().Where("player", "Nobody"), ""},
		"where a date":                 {serves().Where("session", "2026-03-01"), "bf"},
		"where without a value":        {serves().Where("player"), ""},
		"except keeps nulls":           {serves().Except("player", "Ines"), "bde"},
		"between includes both ends":   {serves().Between("offset_m", -0.05, 0.10), "abd"},
		"between on whole numbers":     {serves().Between("number", 2, 3), "bc"},
		"between leaves nulls out":     {serves().Between("offset_m", -9, 9), "abdef"},
		"present in one":               {serves().Present("offset_m"), "abdef"},
		"present in two":               {serves().Present("offset_m", "player"), "abef"},
		"keep by closure":              {serves().Keep(positive), "ade"},
		"keep everything":              {serves().Keep(func(table.Row) bool { return true }), "abcdef"},
		"first":                        {serves().First(2), "ab"},
		"first of more than there are": {serves().First(9), "abcdef"},
		"first of none":                {serves().First(-1), ""},
		"last":                         {serves().Last(2), "ef"},
		"last of the first":            {serves().First(3).Last(1), "c"},
		"order, nulls last":            {serves().OrderBy("offset_m"), "fbdaec"},
		"descending, nulls last":       {serves().OrderBy("-offset_m"), "eadbfc"},
		"order is stable":              {serves().OrderBy("player"), "acfbed"},
		"order by two":                 {serves().OrderBy("player", "-number"), "fcaebd"},
		"order by date":                {serves().OrderBy("session"), "dbfaec"},
		"order by flag":                {serves().OrderBy("first"), "bdface"},
		"order by nothing":             {serves().OrderBy(), "abcdef"},
		"a slice keeps its nulls":      {serves().Last(4).OrderBy("offset_m"), "fdec"},
		"chain":                        {serves().Where("player", "Ines").OrderBy("-offset_m").First(1), "a"},
	} {
		t.Run(name, func(t *testing.T) {
			if got := ids(c.got); got != c.want {
				t.Errorf("rows %q, want %q", got, c.want)
			}
		})
	}
}

func TestErrorsAreKeptAndHelp(t *testing.T) {
	for name, c := range map[string]struct {
		got  table.Table
		want string
	}{
		"a typo":                  {serves().Where("plyer", "Ines"), `there is no column "plyer"; did you mean "player"?`},
		"the beginning of a name": {serves().OrderBy("-off"), `there is no column "off"; did you mean "offset_m"?`},
		"a name like none":        {serves().Pick("qqqqqq"), `the columns are serve, player, offset_m`},
		"nothing to name":         {table.Table{}.Where("player", "x"), "the table has no columns"},
		"numbers wanted":          {serves().Between("player", 0, 1), `column "player" holds texts, not numbers`},
		"texts wanted":            {serves().Where("offset_m", "0.1"), `column "offset_m" holds numbers, not texts`},
		"in a closure": {serves().Keep(func(r table.Row) bool {
			return r.Number("ofset_m") > 0
		}), `did you mean "offset_m"?`},
		"in a computed column": {serves().WithNumber("x", "", func(r table.Row) float64 {
			return r.Number("serve")
		}), `column "serve" holds texts`},
		"the first error stays": {serves().Drop("nope").Where("also not", "x").First(1), `"nope"`},
		"columns of unequal length": {serves().With(table.Number("x", "", []float64{1})),
			`column "x" has 1 rows, the table 6`},
		"unequal from the start": {table.New(table.Text("a", []string{"x"}), table.Text("b", nil)),
			`"b" has 0 rows, "a" has 1`},
		"two of one name":          {table.New(table.Flag("a", nil), table.Flag("a", nil)), `two columns are called "a"`},
		"renamed onto another":     {serves().Rename("serve", "player"), `two columns are called "player"`},
		"grouped by nothing known": {serves().GroupBy("playr").Summary(table.Rows()), `did you mean "player"?`},
		"mean of texts":            {serves().GroupBy("player").Summary(table.Mean("serve")), `column "serve" holds texts`},
		"two summaries of one name": {serves().GroupBy("player").Summary(table.Rows(), table.Rows()),
			`would be called "rows"`},
		"joined on nothing": {serves().Join(serves()), "at least one column"},
		"joined with doubles": {serves().Join(serves(), "player"),
			"rows 0 and 2 of the joined table have the same player"},
		"joined with a clash": {serves().Join(serves(), "serve"), `both tables have a column "player"`},
		"appended with other types": {serves().Append(table.New(table.Text("offset_m", []string{"x"}))),
			`"offset_m" holds numbers in one table and texts in the other`},
	} {
		t.Run(name, func(t *testing.T) {
			if c.got.Err() == nil || !strings.Contains(c.got.Err().Error(), c.want) {
				t.Errorf("error %v, want it to contain %q", c.got.Err(), c.want)
			}
			if c.got.Len() != 0 {
				t.Errorf("a failed table has %d rows", c.got.Len())
			}
		})
	}
}

func TestReadingPanicsWithAnErrorForTheReader(t *testing.T) {
	for name, read := range map[string]func(){
		"numbers of no column": func() { serves().Numbers("offset") },
		"texts of numbers":     func() { serves().Texts("number") },
		"a row too far":        func() { serves().Row(6) },
		"a failed table":       func() { serves().Pick("x").Numbers("offset_m") },
		"flag of a number":     func() { serves().Row(0).Flag("number") },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if e, ok := recover().(*table.Error); !ok || e.Error() == "" {
					t.Errorf("panicked with %v, want a *table.Error", e)
				}
			}()
			read()
		})
	}
}

func TestValuesByType(t *testing.T) {
	s := serves()
	if got := s.Numbers("offset_m"); got[0] != 0.1 || !math.IsNaN(got[2]) {
		t.Errorf("numbers %v", got)
	}
	if got := s.Numbers("session"); got[3] != -1 || !math.IsNaN(got[2]) {
		t.Errorf("days %v", got)
	}
	if got := s.Texts("session"); got[3] != "1969-12-31" || got[2] != "" {
		t.Errorf("dates %v", got)
	}
	if got := s.Texts("at"); got[0] != "2026-03-14T01:30:00Z" || got[1] != "" {
		t.Errorf("times %v", got)
	}
	if got := s.Numbers("first"); got[0] != 1 || got[1] != 0 {
		t.Errorf("flags as numbers %v", got)
	}
	if got := s.Texts("first"); got[0] != "yes" || got[1] != "no" {
		t.Errorf("flags as texts %v", got)
	}
	if got := s.Distinct("player"); !slices.Equal(got, []string{"Ines", "Tuva"}) {
		t.Errorf("distinct %v", got)
	}
	r := s.Row(2)
	if !r.Missing("offset_m") || r.Text("serve") != "c" || r.Number("number") != 3 || !r.Flag("first") || r.Index() != 2 {
		t.Errorf("row 2 is read wrongly")
	}
	if types := []string{s.Type("serve"), s.Type("offset_m"), s.Type("number"), s.Type("session"), s.Type("first"),
		s.Type("at"), s.Type("none")}; !slices.Equal(types, []string{"text", "number", "integer", "date", "bool", "time",
		""}) {
		t.Errorf("types %v", types)
	}
}

func TestWhatIsReadIsACopy(t *testing.T) {
	s := serves()
	s.Numbers("offset_m")[0] = 9
	s.Texts("serve")[0] = "z"
	values := []float64{1, 2}
	made := table.New(table.Number("x", "", values))
	values[0] = 9
	if s.Numbers("offset_m")[0] != 0.1 || s.Texts("serve")[0] != "a" || made.Numbers("x")[0] != 1 {
		t.Error("changing a slice changed the table")
	}
}

func TestTitlesUnitsAndMetadataStay(t *testing.T) {
	s := serves().Captioned("Six serves.").WithMeta("source", "test")
	for name, u := range map[string]table.Table{
		"keep":   s.Keep(func(table.Row) bool { return true }).Where("player", "Ines"),
		"pick":   s.Pick("offset_m", "serve"),
		"order":  s.OrderBy("-offset_m"),
		"append": s.Append(serves()),
		"with":   s.With(table.Flag("x", make([]bool, 6))),
		"first":  s.First(1),
		"title":  s.Titled("serve", "Serve id"),
	} {
		t.Run(name, func(t *testing.T) {
			if u.Unit("offset_m") != "m" || u.Title("offset_m") != "Contact offset" ||
				u.Definition("offset_m") != "How far outside." || u.Caption() != "Six serves." || u.Meta("source") != "test" {
				t.Errorf("lost: unit %q, title %q, definition %q, caption %q, source %q", u.Unit("offset_m"),
					u.Title("offset_m"), u.Definition("offset_m"), u.Caption(), u.Meta("source"))
			}
		})
	}
}

func TestTitleOfAnUntitledColumnDropsItsUnit(t *testing.T) {
	for name, c := range map[string]struct{ column, unit, want string }{
		"metres":           {"drop_depth_m", "m", "drop depth"},
		"degrees":          {"front_knee_deg", "deg", "front knee"},
		"degrees a second": {"long_axis_speed_deg_s", "deg/s", "long axis speed"},
		"per cent":         {"share_pct", "%", "share"},
		"no unit":          {"number_of_m", "", "number of m"},
	} {
		t.Run(name, func(t *testing.T) {
			made := table.New(table.Number(c.column, c.unit, nil))
			if got := made.Title(c.column); got != c.want {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}

func TestSummary(t *testing.T) {
	got := serves().GroupBy("player").Summary(table.Rows(), table.Count("offset_m"), table.Mean("offset_m"),
		table.SD("offset_m"), table.Min("offset_m"), table.Max("offset_m"), table.Sum("number"),
		table.Median("number"), table.Quantile("number", 0.25).As("quarter"))
	if got.Err() != nil {
		t.Fatal(got.Err())
	}
	// Tuva: 0.30, -0.05: mean 0.125, SD 0.35/sqrt 2. Ines: 0.10, -0.20: mean -0.05, SD 0.30/sqrt 2. By hand.
	want := map[string][]float64{
		"rows": {3, 2, 1}, "n_offset_m": {2, 2, 1}, "mean_offset_m": {-0.05, 0.125, 0.02},
		"sd_offset_m":  {0.3 / math.Sqrt2, 0.35 / math.Sqrt2, nan},
		"min_offset_m": {-0.2, -0.05, 0.02}, "max_offset_m": {0.1, 0.3, 0.02}, "sum_number": {10, 7, 4},
		"median_number": {3, 3.5, 4}, "quarter": {2, 2.75, 4}, // quantile(c(1,3,6), 0.25) in R is 2; c(2,5): 2.75
	}
	if players := got.Texts("player"); !slices.Equal(players, []string{"Ines", "Tuva", ""}) {
		t.Errorf("groups %q", players)
	}
	for column, values := range want {
		for i, v := range got.Numbers(column) {
			if math.Abs(v-values[i]) > 1e-12 || math.IsNaN(v) != math.IsNaN(values[i]) {
				t.Errorf("%s of group %d is %v, want %v", column, i, v, values[i])
			}
		}
	}
	if got.Unit("mean_offset_m") != "m" || got.Title("mean_offset_m") != "Contact offset, mean" {
		t.Errorf("unit %q, title %q", got.Unit("mean_offset_m"), got.Title("mean_offset_m"))
	}
}

func TestGroupsByTwoColumns(t *testing.T) {
	var sizes []int
	for _, group := range serves().GroupBy("player", "session").Tables() {
		sizes = append(sizes, group.Len())
	}
	if !slices.Equal(sizes, []int{1, 1, 1, 1, 1, 1}) {
		t.Errorf("groups of %v", sizes)
	}
	if n := serves().GroupBy("first").Len(); n != 2 {
		t.Errorf("%d groups by flag", n)
	}
	if n := (table.Table{}).GroupBy().Len(); n != 0 {
		t.Errorf("%d groups of an empty table", n)
	}
}

func TestJoin(t *testing.T) {
	players := table.New(table.Text("player", []string{"Tuva", "Ines", ""}),
		table.Number("height_m", "m", []float64{1.52, 1.74, 9}))
	got := serves().Join(players, "player")
	want := []float64{1.74, 1.52, 1.74, nan, 1.52, 1.74} // a null player matches nothing
	if got.Err() != nil {
		t.Fatal(got.Err())
	}
	for i, v := range got.Numbers("height_m") {
		if v != want[i] && !(math.IsNaN(v) && math.IsNaN(want[i])) {
			t.Errorf("row %d has %v, want %v", i, v, want[i])
		}
	}
	if got.Unit("height_m") != "m" || ids(got) != "abcdef" {
		t.Errorf("unit %q, rows %q", got.Unit("height_m"), ids(got))
	}
}

func TestAppendMatchesByName(t *testing.T) {
	more := table.New(table.Flag("new", []bool{true}), table.Text("serve", []string{"g"}))
	got := serves().Append(more)
	if ids(got) != "abcdefg" || !got.Row(6).Missing("player") || !got.Row(0).Missing("new") || !got.Row(6).Flag("new") {
		t.Errorf("appended wrongly: %v", got.Record())
	}
	if ids(table.Table{}.Append(serves())) != "abcdef" || ids(serves().Append(table.Table{})) != "abcdef" {
		t.Error("an empty table changed the other")
	}
}

func TestColumnsAddedReplacedDropped(t *testing.T) {
	s := serves().WithNumber("double", "m", func(r table.Row) float64 { return 2 * r.Number("offset_m") }).
		WithText("who", func(r table.Row) string { return r.Text("player") + "!" }).
		With(table.Integer("number", []int64{6, 5, 4, 3, 2, 1})).
		Drop("first", "at").Rename("who", "label")
	want := []string{"serve", "player", "offset_m", "number", "session", "double", "label"}
	if !slices.Equal(s.Names(), want) {
		t.Errorf("columns %v, want %v", s.Names(), want)
	}
	if s.Numbers("double")[4] != 0.6 || s.Texts("label")[0] != "Ines!" || s.Numbers("number")[0] != 6 ||
		!s.Row(2).Missing("double") {
		t.Error("computed columns hold wrong values")
	}
}

func TestFromWidensOtherTypes(t *testing.T) {
	mem := memory.DefaultAllocator
	f32 := array.NewFloat32Builder(mem)
	f32.AppendValues([]float32{1.5, float32(nan)}, nil)
	u16 := array.NewUint16Builder(mem)
	u16.AppendValues([]uint16{7, 8}, []bool{true, false})
	words := array.NewDictionaryBuilder(mem, &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8,
		ValueType: arrow.BinaryTypes.String}).(*array.BinaryDictionaryBuilder)
	if err := words.AppendString("left"); err != nil {
		t.Fatal(err)
	}
	words.AppendNull()
	ms := array.NewTimestampBuilder(mem, &arrow.TimestampType{Unit: arrow.Millisecond})
	ms.AppendValues([]arrow.Timestamp{1500, 0}, nil)
	arrays := []arrow.Array{f32.NewArray(), u16.NewArray(), words.NewArray(), ms.NewArray()}
	var fields []arrow.Field
	for i, a := range arrays {
		fields = append(fields, arrow.Field{Name: string(rune('a' + i)), Type: a.DataType(), Nullable: true})
	}
	got := table.From(array.NewRecord(arrow.NewSchema(fields, nil), arrays, 2))
	if got.Err() != nil {
		t.Fatal(got.Err())
	}
	if types := []string{got.Type("a"), got.Type("b"), got.Type("c"), got.Type("d")}; !slices.Equal(types,
		[]string{"number", "integer", "text", "time"}) {
		t.Errorf("types %v", types)
	}
	if got.Numbers("a")[0] != 1.5 || !got.Row(1).Missing("a") || !got.Row(1).Missing("b") ||
		!slices.Equal(got.Texts("c"), []string{"left", ""}) || got.Numbers("d")[0] != 1.5 {
		t.Errorf("values %v", got.Record())
	}
}

func TestFromRefusesLists(t *testing.T) {
	list := array.NewListBuilder(memory.DefaultAllocator, arrow.PrimitiveTypes.Float64)
	list.AppendNull()
	a := list.NewArray()
	schema := arrow.NewSchema([]arrow.Field{{Name: "curve", Type: a.DataType()}}, nil)
	err := table.From(array.NewRecord(schema, []arrow.Array{a}, 1)).Err()
	if err == nil || !strings.Contains(err.Error(), `column "curve" has the type list`) {
		t.Errorf("error %v", err)
	}
}

func TestEncodeDecode(t *testing.T) {
	for name, s := range map[string]table.Table{
		"all types": serves().Captioned("Six.").WithMeta("source", "test"),
		"sliced":    serves().Last(3),
		"no rows":   serves().First(0),
		"zero":      {},
	} {
		t.Run(name, func(t *testing.T) {
			encoded, err := table.Encode(s)
			if err != nil {
				t.Fatal(err)
			}
			got, err := table.Decode(encoded)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(got.Names(), s.Names()) || got.Len() != s.Len() || got.Caption() != s.Caption() {
				t.Fatalf("columns %v and %d rows, want %v and %d", got.Names(), got.Len(), s.Names(), s.Len())
			}
			for _, column := range s.Names() {
				if !reflect.DeepEqual(readAll(got, column), readAll(s, column)) || got.Unit(column) != s.Unit(column) {
					t.Errorf("column %s differs", column)
				}
			}
		})
	}
}

// readAll reads a column in every way that its type allows, nulls as nil.
func readAll(t table.Table, column string) []any {
	var list []any
	for i := range t.Len() {
		r := t.Row(i)
		switch {
		case r.Missing(column):
			list = append(list, nil)
		case t.Type(column) == "text":
			list = append(list, r.Text(column))
		default:
			list = append(list, r.Number(column))
		}
	}
	return list
}

func TestEncodeTellsTheTablesError(t *testing.T) {
	if _, err := table.Encode(serves().Pick("nope")); err == nil || !strings.Contains(err.Error(), `"nope"`) {
		t.Errorf("error %v", err)
	}
}

// TestVerbsAgreeWithPlainCode compares verbs with loops over a larger table of many ties and nulls.
func TestVerbsAgreeWithPlainCode(t *testing.T) {
	const n = 2000
	keys, values := make([]string, n), make([]float64, n)
	state := uint32(1)
	next := func(k int) int { // a small linear congruential generator (Numerical Recipes, from memory)
		state = state*1664525 + 1013904223
		return int(state>>8) % k
	}
	for i := range n {
		keys[i] = []string{"", "a", "b", "c", "d"}[next(5)]
		values[i] = float64(next(40)) - 20
		if next(10) == 0 {
			values[i] = nan
		}
	}
	s := table.New(table.Text("key", keys), table.Number("value", "", values))
	sums, counts := map[string]float64{}, map[string]int{}
	for i, k := range keys {
		if !math.IsNaN(values[i]) {
			sums[k] += values[i]
			counts[k]++
		}
	}
	summary := s.GroupBy("key").Summary(table.Mean("value").As("mean"), table.Count("value").As("n"))
	for i, k := range summary.Texts("key") {
		if got, want := summary.Numbers("mean")[i], sums[k]/float64(counts[k]); math.Abs(got-want) > 1e-12 {
			t.Errorf("mean of %q is %v, want %v", k, got, want)
		}
	}
	ordered := s.OrderBy("-value").Numbers("value")
	for i := 1; i < n; i++ {
		if ordered[i] > ordered[i-1] || math.IsNaN(ordered[i-1]) && !math.IsNaN(ordered[i]) {
			t.Fatalf("rows %d and %d are out of order: %v, %v", i-1, i, ordered[i-1], ordered[i])
		}
	}
	if got := s.Where("key", "a").Len() + s.Except("key", "a").Len(); got != n {
		t.Errorf("where and except together have %d rows", got)
	}
}

func FuzzDecode(f *testing.F) {
	for _, s := range []table.Table{serves(), serves().First(0), {}} {
		encoded, err := table.Encode(s)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(encoded)
		f.Add(encoded[:len(encoded)/2])
	}
	f.Add([]byte{})
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f})
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := table.Decode(data)
		if err != nil {
			return
		}
		for _, column := range s.Names() {
			readAll(s, column)
		}
		if len(s.Names()) > 0 {
			s.OrderBy(s.Names()[0]).GroupBy(s.Names()[0]).Summary(table.Rows())
		}
		if _, err := table.Encode(s); err != nil {
			t.Errorf("a table that was read cannot be written: %v", err)
		}
	})
}

func BenchmarkKeepAndSummarise(b *testing.B) {
	const n = 100_000
	keys, values := make([]string, n), make([]float64, n)
	for i := range n {
		keys[i], values[i] = []string{"a", "b", "c", "d"}[i%4], float64(i%977)
	}
	s := table.New(table.Text("key", keys), table.Number("value", "", values))
	for b.Loop() {
		s.Keep(func(r table.Row) bool { return r.Number("value") > 100 }).
			GroupBy("key").Summary(table.Mean("value"), table.SD("value"))
	}
	b.ReportMetric(float64(b.N)*n/b.Elapsed().Seconds()/1e6, "Mrows/s")
}

// TestDamagedStreams changes every byte of a stream, in four ways, and reads what still can be read.
func TestDamagedStreams(t *testing.T) {
	encoded, err := table.Encode(serves())
	if err != nil {
		t.Fatal(err)
	}
	refused := 0
	for i := range encoded {
		for _, change := range []byte{0x01, 0x10, 0x80, 0xff} {
			damaged := slices.Clone(encoded)
			damaged[i] ^= change
			s, err := table.Decode(damaged)
			if err != nil {
				refused++
				continue
			}
			for _, column := range s.Names() {
				readAll(s, column)
			}
			s.OrderBy(s.Names()...)
		}
	}
	if refused == 0 {
		t.Error("no damage was noticed")
	}
}

// TestChosenRowsAreLikeCopies applies verbs at random, one after the other, to a table whose verbs build on each other
// and to one that is written out and read back before each.
func TestChosenRowsAreLikeCopies(t *testing.T) {
	verbs := map[string]func(table.Table) table.Table{
		"order":  func(s table.Table) table.Table { return s.OrderBy("-offset_m", "serve") },
		"back":   func(s table.Table) table.Table { return s.OrderBy("at", "first", "-number") },
		"where":  func(s table.Table) table.Table { return s.Where("player", "Ines", "") },
		"except": func(s table.Table) table.Table { return s.Except("player", "Tuva") },
		"keep": func(s table.Table) table.Table {
			return s.Keep(func(r table.Row) bool { return r.Flag("first") || !(r.Number("offset_m") < 0) })
		},
		"present": func(s table.Table) table.Table { return s.Present("session", "offset_m") },
		"first":   func(s table.Table) table.Table { return s.First(4) },
		"last":    func(s table.Table) table.Table { return s.Last(4) },
		"append":  func(s table.Table) table.Table { return s.Append(serves().Drop("at").Last(2)) },
		"join": func(s table.Table) table.Table {
			return s.Drop("session").Join(serves().Pick("serve", "session").OrderBy("-serve").First(4), "serve")
		},
		"with": func(s table.Table) table.Table {
			return s.WithNumber("offset_m", "m", func(r table.Row) float64 { return r.Number("offset_m") - r.Number("number") })
		},
		"group": func(s table.Table) table.Table {
			joined := table.Table{}
			for _, of := range s.GroupBy("first", "session").Tables() {
				joined = joined.Append(of.Last(2))
			}
			return joined
		},
		"summary": func(s table.Table) table.Table {
			of := s.GroupBy("player").Summary(table.Median("offset_m").As("middle"), table.Count("number").As("n"))
			return s.Join(of.Present("player"), "player").Drop("middle", "n")
		},
		"captioned": func(s table.Table) table.Table { return s.Captioned("x").Titled("serve", "Serve") },
	}
	names := slices.Sorted(maps.Keys(verbs))
	random := rand.New(rand.NewPCG(1, 2))
	copied := func(s table.Table) table.Table {
		encoded, err := table.Encode(s)
		if err != nil {
			t.Fatal(err)
		}
		read, err := table.Decode(encoded)
		if err != nil {
			t.Fatal(err)
		}
		return read
	}
	for range 300 {
		chosen, written := serves(), serves()
		var done []string
		for range 6 {
			name := names[random.IntN(len(names))]
			done = append(done, name)
			chosen, written = verbs[name](chosen), verbs[name](copied(written))
			if !slices.Equal(chosen.Names(), written.Names()) || chosen.Len() != written.Len() || chosen.Err() != nil ||
				chosen.Size() != written.Size() {
				t.Fatalf("%v: %d rows of %v, written out %d of %v; %v", done, chosen.Len(), chosen.Names(), written.Len(),
					written.Names(), chosen.Err())
			}
			for _, column := range chosen.Names() {
				if got, want := readAll(chosen, column), readAll(written, column); !reflect.DeepEqual(got, want) {
					t.Fatalf("%v: column %s is %v, written out %v", done, column, got, want)
				}
				if got, want := chosen.Values(column), written.Values(column); !reflect.DeepEqual(got, want) {
					t.Fatalf("%v: values of %s are %v, written out %v", done, column, got, want)
				}
			}
		}
	}
}
