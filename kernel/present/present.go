// Package present turns whatever a step of a recipe returned into a result for the page.
package present

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"time"

	"tossline/kernel/chart/option"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

const (
	maxList  = 50       // results in one list; more of them are a table's work
	maxAll   = 200      // results in all lists of a value
	maxDepth = 4        // of lists in lists and pointers to pointers
	maxSize  = 96 << 20 // bytes of one value, tables and all
)

// Encode gives the result for a value that a step returned, and the tables that travel beside it. It knows
// result.Encoder (charts, figures), table.Table, the charts of go-echarts, estimates of stats, numbers, texts, and
// slices of these. What is too large is refused, as far as possible before anything is made of it. Its errors are for
// the reader of the page.
func Encode(value any) (result.Result, []result.Attachment, error) {
	var e encoder
	return e.encode(value, 0)
}

// encoder counts what has become of one value so far.
type encoder struct {
	results int
	size    int64 // of these
}

func (e *encoder) encode(value any, depth int) (result.Result, []result.Attachment, error) {
	if depth > maxDepth {
		return result.Result{}, nil, fmt.Errorf("the result is nested too deeply; does it contain itself?")
	}
	if e.results++; e.results > maxAll {
		return result.Result{}, nil, fmt.Errorf("the lists hold more than %d results; return a table", maxAll)
	}
	r, attached, err := e.one(value, depth)
	if err != nil || r.Kind == result.KindList { // whose items have been counted
		return r, attached, err
	}
	e.size += r.Size()
	for _, a := range attached {
		e.size += int64(len(a.Bytes))
	}
	if e.size > maxSize {
		return result.Result{}, nil, fmt.Errorf("the result takes more than %d MB; return less of it", maxSize>>20)
	}
	return r, attached, nil
}

func (e *encoder) one(value any, depth int) (result.Result, []result.Attachment, error) {
	switch v := value.(type) {
	case nil:
		return result.Result{}, nil, fmt.Errorf("the step returned nothing; return a table, a chart, a figure, " +
			"a number or a text")
	case result.Encoder:
		return v.EncodeResult()
	case table.Table:
		return encodeTable(v)
	case option.Chart:
		return encodeChart(v)
	case time.Time:
		return text(v.Format("2 January 2006 15:04"))
	case fmt.Stringer:
		return text(v.String())
	}
	if pointed, ok := addressed(value).(option.Chart); ok {
		return encodeChart(pointed)
	}
	return e.plain(reflect.ValueOf(value), depth)
}

// addressed is a pointer to a copy of a value: the methods of go-echarts' charts are those of pointers.
func addressed(value any) any {
	p := reflect.New(reflect.TypeOf(value))
	p.Elem().Set(reflect.ValueOf(value))
	return p.Interface()
}

func (e *encoder) plain(v reflect.Value, depth int) (result.Result, []result.Attachment, error) {
	switch {
	case v.CanFloat():
		return number(v.Float()), nil, nil
	case v.CanInt():
		return number(float64(v.Int())), nil, nil
	case v.CanUint():
		return number(float64(v.Uint())), nil, nil
	case v.Kind() == reflect.Bool:
		return text(map[bool]string{true: "yes", false: "no"}[v.Bool()])
	case v.Kind() == reflect.String:
		return text(v.String())
	case v.Kind() == reflect.Slice || v.Kind() == reflect.Array:
		return e.slice(v, depth)
	case v.Kind() == reflect.Pointer && !v.IsNil():
		return e.encode(v.Elem().Interface(), depth+1)
	}
	return result.Result{}, nil, fmt.Errorf("a %s cannot be shown; return a table, a chart, a figure, an estimate, "+
		"a number, a text, or a slice of these", kindInWords(v))
}

func kindInWords(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Map:
		return "map"
	case reflect.Func:
		return "function"
	case reflect.Chan:
		return "channel"
	case reflect.Struct:
		return "struct"
	case reflect.Complex64, reflect.Complex128:
		return "complex number"
	}
	return "value of this kind"
}

func number(x float64) result.Result {
	return result.Result{Kind: result.KindNumber, Number: &result.Number{Value: result.Finite(x)}}
}

func text(s string) (result.Result, []result.Attachment, error) {
	if len(s) > result.MaxText {
		return result.Result{}, nil, fmt.Errorf("a text of %d KB is too long to read; the most is %d KB",
			len(s)>>10, result.MaxText>>10)
	}
	return result.Result{Kind: result.KindText, Text: strings.ToValidUTF8(s, "\uFFFD")}, nil, nil
}

// slice makes a table of a slice of numbers or texts, and a list of results of any other.
func (e *encoder) slice(v reflect.Value, depth int) (result.Result, []result.Attachment, error) {
	if v.Len() > result.MaxRows {
		return result.Result{}, nil, fmt.Errorf("a list of %d values is too long to show; the most is %d",
			v.Len(), result.MaxRows)
	}
	if t, ok := columnOf(v); ok {
		return encodeTable(t)
	}
	if v.Len() > maxList {
		return result.Result{}, nil, fmt.Errorf("a list of %d results is too long to read; the most is %d",
			v.Len(), maxList)
	}
	out := result.Result{Kind: result.KindList, List: []result.Result{}}
	var attached []result.Attachment
	for i := range v.Len() {
		item, more, err := e.encode(v.Index(i).Interface(), depth+1)
		if err != nil {
			return result.Result{}, nil, fmt.Errorf("item %d of the list: %w", i+1, err)
		}
		out.List = append(out.List, item)
		attached = append(attached, more...)
	}
	return out, attached, nil
}

// columnOf makes a one-column table of a slice of numbers or texts.
func columnOf(v reflect.Value) (table.Table, bool) {
	element := reflect.Zero(v.Type().Elem())
	switch {
	case element.Kind() == reflect.String:
		words := make([]string, v.Len())
		for i := range words {
			words[i] = v.Index(i).String()
		}
		return table.New(table.Text("value", words)), true
	case element.CanFloat(), element.CanInt(), element.CanUint():
		values := make([]float64, v.Len())
		for i := range values {
			values[i] = asFloat(v.Index(i))
		}
		return table.New(table.Number("value", "", values)), true
	}
	return table.Table{}, false
}

func asFloat(v reflect.Value) float64 {
	switch {
	case v.CanFloat():
		return v.Float()
	case v.CanInt():
		return float64(v.Int())
	case v.CanUint():
		return float64(v.Uint())
	}
	return math.NaN()
}

func encodeTable(t table.Table) (result.Result, []result.Attachment, error) {
	described, attached, err := result.Of(t)
	if err != nil {
		return result.Result{}, nil, err
	}
	r := result.Result{Kind: result.KindTable, Table: described}
	if t.Has("serve") {
		r.Serves = t.Len()
		r.LeftOut = leftOut(t)
	}
	return r, attached, nil
}

// leftOut counts the serves without a value, by measure and reason, from the columns that end in _missing.
func leftOut(t table.Table) []result.LeftOut {
	var list []result.LeftOut
	serves := t.Texts("serve")
	for _, column := range t.Names() {
		id, ok := strings.CutSuffix(column, "_missing")
		if !ok || t.Type(column) != "text" {
			continue
		}
		place := map[string]int{}
		for i, reason := range t.Texts(column) {
			if reason == "" {
				continue
			}
			k, seen := place[reason]
			if !seen {
				k = len(list)
				place[reason] = k
				list = append(list, result.LeftOut{Reason: strings.ReplaceAll(id, "_", " ") + ": " + reason})
			}
			list[k].Serves = append(list[k].Serves, serves[i])
		}
	}
	return list
}

func encodeChart(c option.Chart) (result.Result, []result.Attachment, error) {
	plain, err := option.Plain(c)
	if err != nil {
		return result.Result{}, nil, err
	}
	encoded, err := option.Encode(plain)
	if err != nil {
		return result.Result{}, nil, err
	}
	return result.Result{Kind: result.KindChart, Chart: &result.Chart{Option: encoded, HeightP: 360,
		Summary: summary(c.Type(), plain)}}, nil, nil
}

// summary says in a sentence what a chart of go-echarts holds, for those who cannot see it.
func summary(kind string, plain map[string]any) string {
	series, _ := plain["series"].([]any)
	points := 0
	for _, s := range series {
		if one, ok := s.(map[string]any); ok {
			data, _ := one["data"].([]any)
			points += len(data)
		}
	}
	name := ""
	if title, ok := plain["title"].(map[string]any); ok {
		name, _ = title["text"].(string)
	}
	said := fmt.Sprintf("Chart of type %s with %d series and %d values.", kind, len(series), points)
	if name != "" {
		return name + ". " + said
	}
	return said
}
