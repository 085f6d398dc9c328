package columnar

import (
	"fmt"
	"math"
	"time"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"

	"tossline/kernel/arrowstream"
)

// canRead reports whether valuesOf reads a type.
func canRead(t arrow.DataType) bool {
	if d, ok := t.(*arrow.DictionaryType); ok {
		t = d.ValueType
	}
	switch t.ID() {
	case arrow.FLOAT16, arrow.FLOAT32, arrow.FLOAT64, arrow.INT8, arrow.INT16, arrow.INT32, arrow.INT64,
		arrow.UINT8, arrow.UINT16, arrow.UINT32, arrow.UINT64, arrow.BOOL, arrow.STRING, arrow.LARGE_STRING,
		arrow.DATE32, arrow.TIMESTAMP, arrow.DURATION, arrow.TIME32, arrow.TIME64:
		return true
	}
	return false
}

// valuesOf gives the values of a column as numbers or texts, once its buffers were checked. Times are in seconds.
func valuesOf(values arrow.Array) (numbers []float64, texts []string, err error) {
	if d, ok := values.(*array.Dictionary); ok {
		return dictionaryValues(d)
	}
	if err := arrowstream.CheckBuffers(values.Data()); err != nil {
		return nil, nil, err
	}
	switch a := values.(type) {
	case *array.String:
		texts, err = textsOf(a, a.ValueOffset64, arrowstream.TextLen(a.Data()))
		return nil, texts, err
	case *array.LargeString:
		texts, err = textsOf(a, a.ValueOffset64, arrowstream.TextLen(a.Data()))
		return nil, texts, err
	case *array.Date32:
		texts = make([]string, a.Len())
		for i := range texts {
			if a.IsValid(i) {
				texts[i] = a.Value(i).ToTime().Format(time.DateOnly)
			}
		}
		return nil, texts, nil
	}
	at, err := numberAt(values)
	if err != nil {
		return nil, nil, err
	}
	numbers = make([]float64, values.Len())
	for i := range numbers {
		numbers[i] = math.NaN()
		if values.IsValid(i) {
			numbers[i] = at(i)
		}
	}
	return numbers, nil, nil
}

// numberAt gives the function that reads a value.
func numberAt(values arrow.Array) (func(int) float64, error) {
	switch a := values.(type) {
	case *array.Float64:
		return a.Value, nil
	case *array.Float32:
		return func(i int) float64 { return float64(a.Value(i)) }, nil
	case *array.Float16:
		return func(i int) float64 { return float64(a.Value(i).Float32()) }, nil
	case *array.Int8:
		return whole(a.Int8Values()), nil
	case *array.Int16:
		return whole(a.Int16Values()), nil
	case *array.Int32:
		return whole(a.Int32Values()), nil
	case *array.Int64:
		return whole(a.Int64Values()), nil
	case *array.Uint8:
		return whole(a.Uint8Values()), nil
	case *array.Uint16:
		return whole(a.Uint16Values()), nil
	case *array.Uint32:
		return whole(a.Uint32Values()), nil
	case *array.Uint64:
		return whole(a.Uint64Values()), nil
	case *array.Boolean:
		return func(i int) float64 {
			if a.Value(i) {
				return 1
			}
			return 0
		}, nil
	case *array.Timestamp:
		return inSeconds(a.TimestampValues(), a.DataType().(*arrow.TimestampType).Unit), nil
	case *array.Duration:
		return inSeconds(a.DurationValues(), a.DataType().(*arrow.DurationType).Unit), nil
	case *array.Time32:
		return inSeconds(a.Time32Values(), a.DataType().(*arrow.Time32Type).Unit), nil
	case *array.Time64:
		return inSeconds(a.Time64Values(), a.DataType().(*arrow.Time64Type).Unit), nil
	}
	return nil, fmt.Errorf("values of type %s are not read", values.DataType())
}

type integer interface {
	~int8 | ~int16 | ~int32 | ~int64 | ~uint8 | ~uint16 | ~uint32 | ~uint64
}

func whole[T integer](values []T) func(int) float64 {
	return func(i int) float64 { return float64(values[i]) }
}

func inSeconds[T integer](values []T, unit arrow.TimeUnit) func(int) float64 {
	perSecond := float64(time.Second) / float64(unit.Multiplier())
	return func(i int) float64 { return float64(values[i]) / perSecond }
}

// textsOf reads texts whose places are checked one by one.
func textsOf(a interface {
	arrow.Array
	Value(int) string
}, offset func(int) int64, size int64) ([]string, error) {
	out := make([]string, a.Len())
	for i := range out {
		from, to := offset(i), offset(i+1)
		if from < 0 || from > to || to > size {
			return nil, fmt.Errorf("the text of row %d lies outside the column", i)
		}
		if a.IsNull(i) {
			continue
		}
		if out[i] = a.Value(i); !utf8.ValidString(out[i]) {
			return nil, fmt.Errorf("the text of row %d is not UTF-8", i)
		}
	}
	return out, nil
}

// dictionaryValues spreads the entries of a dictionary over the rows.
func dictionaryValues(d *array.Dictionary) (numbers []float64, texts []string, err error) {
	if err := arrowstream.CheckBuffers(d.Indices().Data()); err != nil {
		return nil, nil, err
	}
	ofNumbers, ofTexts, err := valuesOf(d.Dictionary())
	if err != nil {
		return nil, nil, err
	}
	entries := len(ofNumbers) + len(ofTexts)
	if ofTexts != nil {
		texts = make([]string, d.Len())
	} else {
		numbers = make([]float64, d.Len())
	}
	for i := range d.Len() {
		entry := -1
		if d.IsValid(i) {
			if entry = d.GetValueIndex(i); entry < 0 || entry >= entries {
				return nil, nil, fmt.Errorf("row %d names an entry that does not exist", i)
			}
		}
		switch {
		case texts != nil && entry >= 0:
			texts[i] = ofTexts[entry]
		case texts == nil && entry >= 0:
			numbers[i] = ofNumbers[entry]
		case texts == nil:
			numbers[i] = math.NaN()
		}
	}
	return numbers, texts, nil
}
