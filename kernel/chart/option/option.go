// Package option turns a go-echarts chart into a plain ECharts option: JSON values and nothing that could run.
//
// go-echarts can put JavaScript into a page in several ways. What cannot be shown without it is refused, with its place
// in the option; what merely decorates is left out: links, formatters of tooltips (ECharts treats them as HTML), images
// from addresses, extra CSS, toolboxes.
package option

import (
	"encoding"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
)

// Chart is what every go-echarts chart offers.
type Chart interface {
	Type() string
	Validate()
	JSON() map[string]any
}

// The most that a chart may hold. More than this no page draws, and no reader sees.
const (
	MaxPoints = 200_000
	MaxSeries = 200
	MaxBytes  = 32 << 20
)

const (
	maxDepth = 48      // of nesting; a tree chart may contain itself
	funcMark = "__f__" // around code, in go-echarts' strings
)

// Plain gives the chart's option with NaN and infinities as null. The chart itself is not changed but for what its own
// Validate does. The error is for the reader of the page.
func Plain(c Chart) (map[string]any, error) {
	if code := carried(c); code != "" {
		return nil, fmt.Errorf("the chart carries %s, which cannot run on the page; leave them out", code)
	}
	keepAxisData(c, c.Validate)
	w := walker{}
	tree, err := w.walk(reflect.ValueOf(c.JSON()), "", 0)
	if err != nil {
		return nil, err
	}
	plain := tree.(map[string]any)
	if err := checkSeries(plain); err != nil {
		return nil, err
	}
	return plain, nil
}

// Encode writes a plain option as JSON, within MaxBytes.
func Encode(plain map[string]any) (json.RawMessage, error) {
	var out strings.Builder
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(plain); err != nil {
		return nil, fmt.Errorf("writing the chart: %w", err)
	}
	if out.Len() > MaxBytes {
		return nil, fmt.Errorf("the chart is %d MB large; the most is %d MB: draw fewer points, or a summary",
			out.Len()>>20, MaxBytes>>20)
	}
	return json.RawMessage(strings.TrimSpace(out.String())), nil
}

// carried names the code that the chart has outside of its option, or "".
func carried(c Chart) string {
	v := reflect.Indirect(reflect.ValueOf(c))
	if v.Kind() != reflect.Struct {
		return ""
	}
	if f := v.FieldByName("JSFunctions"); f.IsValid() && f.FieldByName("Fns").Len() > 0 {
		return "JavaScript functions"
	}
	if f := v.FieldByName("EventListeners"); f.IsValid() && f.Len() > 0 {
		return "event listeners"
	}
	return ""
}

// keepAxisData runs validate and puts back the data of the first x axis where validate lost it: go-echarts 2.6.7
// overwrites what was given in XAxis{Data: ...} by what SetXAxis was given, even when that is nothing.
func keepAxisData(c Chart, validate func()) {
	axis := func() reflect.Value {
		v := reflect.Indirect(reflect.ValueOf(c))
		if v.Kind() != reflect.Struct {
			return reflect.Value{}
		}
		list := v.FieldByName("XAxisList")
		if !list.IsValid() || list.Len() == 0 {
			return reflect.Value{}
		}
		return list.Index(0).FieldByName("Data")
	}
	var before any
	if a := axis(); a.IsValid() {
		before = a.Interface()
	}
	validate()
	if a := axis(); before != nil && a.IsValid() && a.IsNil() {
		a.Set(reflect.ValueOf(before))
	}
}

// checkSeries refuses what ECharts itself cannot draw, and what is too much.
func checkSeries(plain map[string]any) error {
	series, _ := plain["series"].([]any)
	if len(series) > MaxSeries {
		return fmt.Errorf("the chart has %d series; the most is %d", len(series), MaxSeries)
	}
	points := 0
	for _, s := range series {
		one, _ := s.(map[string]any)
		switch kind, _ := one["type"].(string); kind {
		case "scatter3D", "bar3D", "line3D", "surface", "liquidFill", "wordCloud", "map", "custom":
			return fmt.Errorf("charts of type %q cannot be shown here; lines, bars, scatters, box plots, heat maps, "+
				"pies, radars, trees and their like can", kind)
		}
		data, _ := one["data"].([]any)
		points += len(data)
	}
	if points > MaxPoints {
		return fmt.Errorf("the chart has %d points; the most is %d: draw fewer, or a summary", points, MaxPoints)
	}
	return nil
}

// dropped are the keys that decorate with links, HTML, images or handlers.
var dropped = map[string]bool{
	"link": true, "sublink": true, "target": true, "subtarget": true, "renderItem": true, "extraCssText": true,
	"renderMode": true, "className": true, "appendTo": true, "appendToBody": true, "graphic": true, "toolbox": true,
	"image": true, "onclick": true, "media": true,
}

// walker rebuilds a value of Go as JSON values, by the rules of encoding/json.
type walker struct {
	values int
	bytes  int // of texts
}

func (w *walker) walk(v reflect.Value, path string, depth int) (any, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("the chart is nested too deeply at %s; does it contain itself?", firstSteps(path))
	}
	w.values++
	if err := w.room(0); err != nil {
		return nil, err
	}
	if !v.IsValid() {
		return nil, nil
	}
	if v.Kind() == reflect.Pointer || v.Kind() == reflect.Interface {
		if v.IsNil() {
			return nil, nil
		}
		if v.Kind() == reflect.Interface || !marshals(v) {
			return w.walk(v.Elem(), path, depth+1)
		}
	}
	if marshals(v) {
		return w.marshalled(v, path, depth)
	}
	switch v.Kind() {
	case reflect.Struct:
		return w.fields(v, path, depth)
	case reflect.Map:
		return w.entries(v, path, depth)
	case reflect.Slice, reflect.Array:
		return w.items(v, path, depth)
	}
	return w.scalar(v, path)
}

// room refuses a number of values before anything is made of them.
func (w *walker) room(more int) error {
	if w.values+more > 8*MaxPoints {
		return fmt.Errorf("the chart holds too many values; the most is %d points", MaxPoints)
	}
	return nil
}

func (w *walker) scalar(v reflect.Value, path string) (any, error) {
	switch v.Kind() {
	case reflect.Float32, reflect.Float64:
		if f := v.Float(); !math.IsNaN(f) && !math.IsInf(f, 0) {
			return f, nil
		}
		return nil, nil
	case reflect.Bool:
		return v.Bool(), nil
	case reflect.String:
		return w.text(v.String(), path)
	}
	if v.CanInt() {
		return v.Int(), nil
	}
	if v.CanUint() {
		return v.Uint(), nil
	}
	return nil, fmt.Errorf("the chart has something at %s that is no number, text or list", path)
}

func (w *walker) text(s, path string) (any, error) {
	if w.bytes += len(s); w.bytes > MaxBytes {
		return nil, fmt.Errorf("the chart's texts take more than %d MB", MaxBytes>>20)
	}
	if strings.HasPrefix(s, funcMark) && strings.HasSuffix(s, funcMark) && len(s) > 2*len(funcMark) {
		return nil, fmt.Errorf("the chart has a JavaScript function at %s, which cannot run on the page; "+
			"use a text template such as \"{b}: {c}\", or leave it out", path)
	}
	return strings.ReplaceAll(s, funcMark, ""), nil
}

func marshals(v reflect.Value) bool {
	if !v.CanInterface() {
		return false
	}
	switch v.Interface().(type) {
	case json.Marshaler, encoding.TextMarshaler:
		return true
	}
	return false
}

func (w *walker) marshalled(v reflect.Value, path string, depth int) (any, error) {
	encoded, err := json.Marshal(v.Interface())
	if err != nil {
		return nil, fmt.Errorf("the chart has a value at %s that cannot be written: %w", path, err)
	}
	var plain any
	if err := json.Unmarshal(encoded, &plain); err != nil {
		return nil, fmt.Errorf("the chart has a value at %s that cannot be read back: %w", path, err)
	}
	return w.walk(reflect.ValueOf(plain), path, depth+1)
}

func (w *walker) items(v reflect.Value, path string, depth int) (any, error) {
	if v.Kind() == reflect.Slice && v.IsNil() {
		return nil, nil
	}
	if err := w.room(v.Len()); err != nil {
		return nil, err
	}
	list := make([]any, v.Len())
	for i := range list {
		item, err := w.walk(v.Index(i), path+"["+strconv.Itoa(i)+"]", depth+1)
		if err != nil {
			return nil, err
		}
		list[i] = item
	}
	return list, nil
}

func (w *walker) entries(v reflect.Value, path string, depth int) (any, error) {
	out := make(map[string]any, v.Len())
	for it := v.MapRange(); it.Next(); {
		if err := w.put(out, fmt.Sprint(it.Key().Interface()), it.Value(), path, depth); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (w *walker) fields(v reflect.Value, path string, depth int) (any, error) {
	out := map[string]any{}
	for i := range v.NumField() {
		field := v.Type().Field(i)
		name, settings, _ := strings.Cut(field.Tag.Get("json"), ",")
		if name == "-" || !field.IsExported() && !field.Anonymous {
			continue
		}
		if strings.Contains(settings, "omitempty") && isEmpty(v.Field(i)) {
			continue
		}
		if field.Anonymous && name == "" {
			if err := w.embed(out, v.Field(i), path, depth); err != nil {
				return nil, err
			}
			continue
		}
		if name == "" {
			name = field.Name
		}
		if err := w.put(out, name, v.Field(i), path, depth); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (w *walker) embed(out map[string]any, v reflect.Value, path string, depth int) error {
	inner, err := w.walk(v, path, depth+1)
	if err != nil {
		return err
	}
	if fields, ok := inner.(map[string]any); ok {
		for name, value := range fields {
			if _, outer := out[name]; !outer {
				out[name] = value
			}
		}
	}
	return nil
}

// put adds one entry to out, unless its key is one that is left out.
func (w *walker) put(out map[string]any, key string, v reflect.Value, path string, depth int) error {
	inTooltip := strings.HasSuffix(path, "tooltip")
	if path != "" {
		path += "."
	}
	value, err := w.walk(v, path+key, depth+1)
	if err != nil {
		return err
	}
	if dropped[key] || inTooltip && key == "formatter" {
		return nil
	}
	if s, ok := value.(string); ok && (strings.HasPrefix(s, "image://") || strings.Contains(s, "url(")) {
		return nil
	}
	out[key] = value
	return nil
}

// isEmpty is the rule of encoding/json's omitempty.
func isEmpty(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Array, reflect.Map, reflect.Slice, reflect.String:
		return v.Len() == 0
	case reflect.Struct:
		return false
	}
	return v.IsZero()
}

func firstSteps(path string) string {
	if len(path) > 60 {
		return path[:60] + "..."
	}
	return path
}
