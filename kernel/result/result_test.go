package result_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"tossline/kernel/result"
	"tossline/kernel/table"
)

func TestTablesTravelByTheHashOfTheirContent(t *testing.T) {
	offsets := func(values ...float64) table.Table {
		return table.New(table.Number("offset", "m", values).Titled("Offset").Defined("beside the shoulder")).
			Captioned("Offsets")
	}
	first, attached, err := result.Of(offsets(0.1, math.NaN()))
	if err != nil || len(attached) != 1 {
		t.Fatalf("%d attachments: %v", len(attached), err)
	}
	sum := sha256.Sum256(attached[0].Bytes)
	if want := hex.EncodeToString(sum[:]); first.Ref != want || attached[0].Ref != want {
		t.Errorf("ref %s, attached as %s, the content's hash is %s", first.Ref, attached[0].Ref, want)
	}
	same, _, err := result.Of(offsets(0.1, math.NaN()))
	if err != nil || same.Ref != first.Ref {
		t.Errorf("the same table again: ref %s, before %s: %v", same.Ref, first.Ref, err)
	}
	other, _, err := result.Of(offsets(0.1, 0.2))
	if err != nil || other.Ref == first.Ref {
		t.Errorf("another table has the same ref: %v", err)
	}
	want := result.Table{Ref: first.Ref, Rows: 2, Caption: "Offsets", Columns: []result.Column{
		{Name: "offset", Title: "Offset", Unit: "m", Type: "number", Definition: "beside the shoulder"}}}
	if !reflect.DeepEqual(*first, want) {
		t.Errorf("described as %+v", *first)
	}
	back, err := table.Decode(attached[0].Bytes)
	if err != nil || back.Len() != 2 || back.Numbers("offset")[0] != 0.1 || !math.IsNaN(back.Numbers("offset")[1]) {
		t.Errorf("decoded again: %v, %v", back, err)
	}
}

func TestTablesThatAreTooLarge(t *testing.T) {
	for _, c := range []struct {
		name  string
		table table.Table
		want  string
	}{
		{"rows", table.New(table.Flag("in", make([]bool, result.MaxRows+1))), "2000001 rows"},
		{"bytes", table.New(table.Text("what", []string{strings.Repeat("a", result.MaxTable+1)})), "64 MB"},
		{"titles", table.New(table.Number("x", "", nil).Titled(strings.Repeat("a", result.MaxText))), "1024 KB"},
		{"definitions", table.New(table.Number("x", "", nil).Defined(strings.Repeat("a", result.MaxText))), "1024 KB"},
	} {
		described, attached, err := result.Of(c.table)
		if err == nil || !strings.Contains(err.Error(), c.want) || described != nil || attached != nil {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
	if _, _, err := result.Of(table.New(table.Flag("in", make([]bool, result.MaxRows)))); err != nil {
		t.Errorf("the most rows there may be: %v", err)
	}
}

func TestATableInErrorTellsIt(t *testing.T) {
	wrong := table.New(table.Number("x", "", []float64{1})).Pick("y")
	if _, _, err := result.Of(wrong); err == nil || err.Error() != wrong.Err().Error() {
		t.Errorf("%v, want %v", err, wrong.Err())
	}
}

func TestFinite(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if p := result.Finite(x); p != nil {
			t.Errorf("%g gives %g", x, *p)
		}
	}
	for _, x := range []float64{0, -1.5, math.MaxFloat64, math.SmallestNonzeroFloat64} {
		if p := result.Finite(x); p == nil || *p != x {
			t.Errorf("%g is lost", x)
		}
	}
}

// Size is what limits go by: it must not be smaller than what is sent, by more than escapes can add.
func TestSizeHoldsTheWholeResult(t *testing.T) {
	long := strings.Repeat("a", 10_000)
	described := &result.Table{Ref: strings.Repeat("0", 64), Rows: 3, Caption: long,
		Columns: []result.Column{{Name: long, Title: long, Unit: "m", Type: "number", Definition: long}}}
	option, err := json.Marshal(map[string]string{"title": long})
	if err != nil {
		t.Fatal(err)
	}
	ids := make([]string, 500)
	for i := range ids {
		ids[i] = "3f9a2c41b07d-00226"
	}
	chart := &result.Chart{Option: option, Summary: long, Serves: [][]string{ids, nil}, Data: described}
	for _, r := range []result.Result{
		{Kind: result.KindText, Text: long},
		{Kind: result.KindFigure, Figure: option},
		{Kind: result.KindTable, Table: described},
		{Kind: result.KindChart, Chart: chart, LeftOut: []result.LeftOut{{Reason: long, Serves: ids}}},
		{Kind: result.KindNumber, Number: &result.Number{Value: result.Finite(-math.Pi), Unit: long, Label: long}},
		{Kind: result.KindEstimate, Estimate: &result.Estimate{Name: long, Value: result.Finite(-math.Pi),
			Low: result.Finite(-math.MaxFloat64), High: result.Finite(math.MaxFloat64), Level: 0.95, Unit: long,
			N: 1000, Sentence: long}},
		{Kind: result.KindList, List: []result.Result{{Kind: result.KindText, Text: long},
			{Kind: result.KindTable, Table: described}}},
	} {
		sent, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if size := r.Size(); size < int64(len(sent)) || size > int64(len(sent))+1000 {
			t.Errorf("%s: size %d, sent as %d bytes", r.Kind, size, len(sent))
		}
	}
}
