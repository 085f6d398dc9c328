package arrowstream

import (
	"errors"
	"fmt"
	"math"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// Instant is the type of columns of instants.
var Instant = &arrow.TimestampType{Unit: arrow.Microsecond, TimeZone: "UTC"}

// Plain checks an array that came from elsewhere, so that reading it cannot fail later, and gives its values in one of
// seven types: float64, float32, int64, utf8, bool, date32, and timestamp[us, UTC]. Whole numbers become int64, and
// decimals, durations and times of day float64, the latter two in seconds; what a dictionary stands for takes the
// place of its keys; NaN becomes null. Lists, structs and bytes are an error. Some damage makes the library panic: who
// hands over what came from elsewhere recovers.
func Plain(values arrow.Array) (arrow.Array, error) {
	if d, ok := values.(*array.Dictionary); ok {
		return plainDictionary(d)
	}
	if err := check(values.Data()); err != nil {
		return nil, err
	}
	switch a := values.(type) {
	case *array.Float64:
		return withoutNaN(a, a.Float64Values()), nil
	case *array.Float32:
		return withoutNaN(a, a.Float32Values()), nil
	case *array.Int64, *array.Date32, *array.Boolean:
		return values, nil
	case *array.String:
		return values, checkTexts(a, a.ValueOffset64)
	case *array.LargeString:
		return texts(a)
	case *array.StringView:
		return viewedTexts(a)
	case *array.Timestamp:
		return instants(a), nil
	case *array.Date64:
		const day = 86_400_000
		return eachOf(a, array.NewDate32Builder(memory.DefaultAllocator), func(i int) arrow.Date32 {
			return arrow.Date32(math.Floor(float64(a.Value(i)) / day))
		}), nil
	case *array.Null:
		return array.MakeArrayOfNull(memory.DefaultAllocator, arrow.BinaryTypes.String, a.Len()), nil
	}
	if whole, err := wholeNumbers(values); whole != nil || err != nil {
		return whole, err
	}
	if numbers := otherNumbers(values); numbers != nil {
		return numbers, nil
	}
	return nil, fmt.Errorf("has the type %s, which a table doesn't hold", values.DataType())
}

var errShort = errors.New("its buffers are shorter than its rows")

// CheckBuffers compares the buffers of an array with its length; Arrow trusts them when reading. Where the texts of an
// array lie is not looked at.
func CheckBuffers(data arrow.ArrayData) error {
	end := int64(data.Offset()) + int64(data.Len())
	if data.Len() < 0 || data.Offset() < 0 {
		return errors.New("its length is below zero")
	}
	if valid := bufferLen(data, 0); valid*8 < end && valid > 0 {
		return errShort
	}
	if end == 0 {
		return nil
	}
	switch t := data.DataType().(type) {
	case arrow.FixedWidthDataType:
		if bufferLen(data, 1)*8 < end*int64(t.BitWidth()) {
			return errShort
		}
	case arrow.OffsetsDataType:
		if bufferLen(data, 1) < (end+1)*int64(t.OffsetTypeTraits().BytesRequired(1)) {
			return errShort
		}
	}
	return nil
}

// TextLen is how many bytes of text an array has.
func TextLen(data arrow.ArrayData) int64 { return bufferLen(data, 2) }

func bufferLen(data arrow.ArrayData, i int) int64 {
	if buffers := data.Buffers(); i < len(buffers) && buffers[i] != nil {
		return int64(buffers[i].Len())
	}
	return 0
}

// check is CheckBuffers for what is kept, which has no marks of missing values without a length either.
func check(data arrow.ArrayData) error {
	err := CheckBuffers(data)
	if buffers := data.Buffers(); len(buffers) > 0 && buffers[0] != nil && buffers[0].Len() == 0 &&
		data.Offset()+data.Len() > 0 {
		err = errShort
	}
	if err != nil {
		return fmt.Errorf("is damaged: %w", err)
	}
	return nil
}

// manyTexts is an array of texts with short or long positions.
type manyTexts interface {
	arrow.Array
	Value(int) string
}

func checkTexts(a manyTexts, position func(int) int64) error {
	size := TextLen(a.Data())
	for i := range a.Len() {
		from, to := position(i), position(i+1)
		if from < 0 || from > to || to > size {
			return fmt.Errorf("is damaged: the text of row %d lies outside the column", i+1)
		}
		if !utf8.ValidString(a.Value(i)) {
			return fmt.Errorf("is damaged: the text of row %d is not UTF-8", i+1)
		}
	}
	return nil
}

// texts gives texts with long positions short ones.
func texts(a *array.LargeString) (arrow.Array, error) {
	if err := checkTexts(a, a.ValueOffset64); err != nil {
		return nil, err
	}
	if a.Len() > 0 && a.ValueOffset64(a.Len())-a.ValueOffset64(0) > math.MaxInt32 {
		return nil, errors.New("has more than 2 GB of text, which a table doesn't hold")
	}
	return eachOf(a, array.NewStringBuilder(memory.DefaultAllocator), a.Value), nil
}

// viewedTexts gives texts that lie in several buffers one buffer. A place outside of them makes the library panic.
func viewedTexts(a *array.StringView) (arrow.Array, error) {
	plain := eachOf(a, array.NewStringBuilder(memory.DefaultAllocator), a.Value).(*array.String)
	return plain, checkTexts(plain, plain.ValueOffset64)
}

func plainDictionary(d *array.Dictionary) (arrow.Array, error) {
	words, err := Plain(d.Dictionary())
	if err != nil {
		return nil, err
	}
	if err := check(d.Indices().Data()); err != nil {
		return nil, err
	}
	b := array.NewBuilder(memory.DefaultAllocator, words.DataType())
	b.Reserve(d.Len())
	add := adder(b, words)
	for i := range d.Len() {
		if d.IsNull(i) {
			b.AppendNull()
			continue
		}
		at := d.GetValueIndex(i)
		if at < 0 || at >= words.Len() {
			return nil, fmt.Errorf("is damaged: row %d names an entry that doesn't exist", i+1)
		}
		if words.IsNull(at) {
			b.AppendNull()
		} else {
			add(at)
		}
	}
	return b.NewArray(), nil
}

// adder gives the function that adds a value of a plain array to a builder of its type.
func adder(b array.Builder, words arrow.Array) func(at int) {
	switch w := words.(type) {
	case *array.Float64:
		return func(at int) { b.(*array.Float64Builder).Append(w.Value(at)) }
	case *array.Float32:
		return func(at int) { b.(*array.Float32Builder).Append(w.Value(at)) }
	case *array.Int64:
		return func(at int) { b.(*array.Int64Builder).Append(w.Value(at)) }
	case *array.Boolean:
		return func(at int) { b.(*array.BooleanBuilder).Append(w.Value(at)) }
	case *array.Date32:
		return func(at int) { b.(*array.Date32Builder).Append(w.Value(at)) }
	case *array.Timestamp:
		return func(at int) { b.(*array.TimestampBuilder).Append(w.Value(at)) }
	}
	return func(at int) { b.(*array.StringBuilder).Append(words.(*array.String).Value(at)) }
}

// builder takes values of one type.
type builder[T any] interface {
	array.Builder
	Append(T)
}

// eachOf makes an array of what value gives for the rows of a that are not null.
func eachOf[T any](a arrow.Array, b builder[T], value func(i int) T) arrow.Array {
	b.Reserve(a.Len())
	for i := range a.Len() {
		if a.IsNull(i) {
			b.AppendNull()
		} else {
			b.Append(value(i))
		}
	}
	return b.NewArray()
}

// withoutNaN is the array itself, or one with nulls where it holds NaN.
func withoutNaN[T float32 | float64](a arrow.Array, values []T) arrow.Array {
	for k, v := range values {
		if v != v && a.IsValid(k) {
			b := array.NewBuilder(memory.DefaultAllocator, a.DataType())
			b.Reserve(len(values))
			to := b.(builder[T])
			for i, v := range values {
				if v != v || a.IsNull(i) {
					b.AppendNull()
				} else {
					to.Append(v)
				}
			}
			return b.NewArray()
		}
	}
	return a
}

// instants gives instants in microseconds; what is finer is cut off.
func instants(a *array.Timestamp) arrow.Array {
	t := a.DataType().(*arrow.TimestampType)
	if arrow.TypeEqual(t, Instant) {
		return a
	}
	return eachOf(a, array.NewTimestampBuilder(memory.DefaultAllocator, Instant), func(i int) arrow.Timestamp {
		v := a.Value(i)
		switch t.Unit {
		case arrow.Second:
			return v * 1e6
		case arrow.Millisecond:
			return v * 1e3
		case arrow.Nanosecond:
			return (v - (v%1e3+1e3)%1e3) / 1e3 // downwards, before 1970 too
		}
		return v
	})
}

// wholeNumbers gives whole numbers of any width; nil where the array holds something else.
func wholeNumbers(values arrow.Array) (arrow.Array, error) {
	switch a := values.(type) {
	case *array.Int8:
		return widened(a, a.Int8Values()), nil
	case *array.Int16:
		return widened(a, a.Int16Values()), nil
	case *array.Int32:
		return widened(a, a.Int32Values()), nil
	case *array.Uint8:
		return widened(a, a.Uint8Values()), nil
	case *array.Uint16:
		return widened(a, a.Uint16Values()), nil
	case *array.Uint32:
		return widened(a, a.Uint32Values()), nil
	case *array.Uint64:
		for i, v := range a.Uint64Values() {
			if v > math.MaxInt64 && a.IsValid(i) {
				return nil, fmt.Errorf("has the whole number %d in row %d, which is larger than a table holds", v, i+1)
			}
		}
		return widened(a, a.Uint64Values()), nil
	}
	return nil, nil
}

func widened[T int8 | int16 | int32 | uint8 | uint16 | uint32 | uint64](a arrow.Array, from []T) arrow.Array {
	return eachOf(a, array.NewInt64Builder(memory.DefaultAllocator), func(i int) int64 { return int64(from[i]) })
}

// otherNumbers gives numbers of the less common types; nil where the array holds something else.
func otherNumbers(values arrow.Array) arrow.Array {
	var value func(i int) float64
	perSecond := func(u arrow.TimeUnit) float64 { return 1e9 / float64(u.Multiplier()) }
	switch a := values.(type) {
	case *array.Float16:
		value = func(i int) float64 { return float64(a.Value(i).Float32()) }
	case *array.Decimal128:
		scale := a.DataType().(*arrow.Decimal128Type).Scale
		value = func(i int) float64 { return a.Value(i).ToFloat64(scale) }
	case *array.Decimal256:
		scale := a.DataType().(*arrow.Decimal256Type).Scale
		value = func(i int) float64 { return a.Value(i).ToFloat64(scale) }
	case *array.Duration:
		n := perSecond(a.DataType().(*arrow.DurationType).Unit)
		value = func(i int) float64 { return float64(a.Value(i)) / n }
	case *array.Time32:
		n := perSecond(a.DataType().(*arrow.Time32Type).Unit)
		value = func(i int) float64 { return float64(a.Value(i)) / n }
	case *array.Time64:
		n := perSecond(a.DataType().(*arrow.Time64Type).Unit)
		value = func(i int) float64 { return float64(a.Value(i)) / n }
	default:
		return nil
	}
	numbers := eachOf(values, array.NewFloat64Builder(memory.DefaultAllocator), value).(*array.Float64)
	return withoutNaN(numbers, numbers.Float64Values())
}
