package table

import (
	"math"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/kernel/arrowstream"
)

// Column is one named column, made by Number, Integer, Text, Date, Time or Flag for [New] and [Table.With].
type Column struct {
	field arrow.Field
	given values
}

// values is what the column holds; the zero Column is an empty number column.
func (c Column) values() values {
	if c.given.array == nil {
		return values{array: nulls(arrow.PrimitiveTypes.Float64, 0)}
	}
	return c.given
}

// Number makes a column of numbers in a unit ("" for none). NaN becomes null. The values are copied.
func Number(name, unit string, values []float64) Column {
	c := Column{field: arrow.Field{Name: name, Nullable: true}}
	c.given.array = numberArray(values)
	return c.set("unit", unit)
}

// Integer makes a column of whole numbers. The values are copied.
func Integer(name string, values []int64) Column {
	b := array.NewInt64Builder(memory.DefaultAllocator)
	b.AppendValues(values, nil)
	return column(name, b)
}

// Text makes a column of texts. "" becomes null. The values are copied.
func Text(name string, values []string) Column {
	if c, ok := wordColumn(name, values); ok {
		return c
	}
	b := array.NewStringBuilder(memory.DefaultAllocator)
	b.Reserve(len(values))
	size := 0
	for _, v := range values {
		size += len(v)
	}
	b.ReserveData(size)
	for _, v := range values {
		if v == "" {
			b.AppendNull()
		} else {
			b.Append(v)
		}
	}
	return column(name, b)
}

// Date makes a column of days, from the year, month and day of each value in its own zone. The zero time becomes null.
func Date(name string, values []time.Time) Column {
	b := array.NewDate32Builder(memory.DefaultAllocator)
	for _, v := range values {
		if v.IsZero() {
			b.AppendNull()
			continue
		}
		day := time.Date(v.Year(), v.Month(), v.Day(), 0, 0, 0, 0, time.UTC)
		b.Append(arrow.Date32(math.Floor(float64(day.Unix()) / secondsADay)))
	}
	return column(name, b)
}

// Time makes a column of instants, to the microsecond. The zero time becomes null.
func Time(name string, values []time.Time) Column {
	b := array.NewTimestampBuilder(memory.DefaultAllocator, timestampType)
	for _, v := range values {
		if v.IsZero() {
			b.AppendNull()
		} else {
			b.Append(arrow.Timestamp(v.UnixMicro()))
		}
	}
	return column(name, b)
}

// Flag makes a column of true and false. The values are copied.
func Flag(name string, values []bool) Column {
	b := array.NewBooleanBuilder(memory.DefaultAllocator)
	b.AppendValues(values, nil)
	return column(name, b)
}

// Titled gives the column the words that a reader sees in place of its name.
func (c Column) Titled(title string) Column { return c.set("title", title) }

// Defined says in a sentence or two what the column means.
func (c Column) Defined(definition string) Column { return c.set("definition", definition) }

const secondsADay = 86400

var timestampType = arrowstream.Instant

func column(name string, b array.Builder) Column {
	c := Column{field: arrow.Field{Name: name, Type: b.Type(), Nullable: true}}
	c.given.array = b.NewArray()
	return c
}

// maxWords is how many texts a column of words has at most.
const maxWords = 255

// wordColumn makes a column of texts of which there are few: a byte for each row, where a season's table of measures
// has a hundred such columns.
func wordColumn(name string, texts []string) (Column, bool) {
	list := array.NewStringBuilder(memory.DefaultAllocator)
	known := map[string]byte{"": 0}
	words := make([]byte, len(texts))
	for i, text := range texts {
		if i > 0 && text == texts[i-1] {
			words[i] = words[i-1]
			continue
		}
		word, ok := known[text]
		if !ok {
			if len(known) > maxWords {
				return Column{}, false
			}
			word = byte(len(known))
			known[text] = word
			list.Append(text)
		}
		words[i] = word
	}
	c := column(name, list)
	c.given.words = words
	return c, true
}

func (c Column) set(key, value string) Column {
	c.field.Type = c.values().array.DataType()
	c.field.Metadata = withMeta(c.field.Metadata, key, value)
	return c
}

func numberArray(values []float64) arrow.Array {
	buffer := make([]float64, len(values))
	valid := newBits(len(values))
	for i, v := range values {
		buffer[i] = v
		if v != v {
			valid.clear(i)
		}
	}
	return fixed(arrow.PrimitiveTypes.Float64, arrow.Float64Traits.CastToBytes(buffer), valid)
}

// bits is a validity bitmap under construction, least significant bit first as in Arrow; all valid at first.
type bits struct {
	set   []byte
	n     int
	nulls int
}

func newBits(n int) *bits {
	b := &bits{set: make([]byte, (n+7)/8), n: n}
	for i := range b.set {
		b.set[i] = 0xff
	}
	return b
}

// clear makes value i null; it may be called once for each i.
func (b *bits) clear(i int) {
	b.set[i>>3] &^= 1 << (i & 7)
	b.nulls++
}

// fixed makes an array of a fixed-width type over the bytes of its values.
func fixed(dt arrow.DataType, values []byte, valid *bits) arrow.Array {
	return array.MakeFromData(array.NewData(dt, valid.n,
		[]*memory.Buffer{valid.buffer(), memory.NewBufferBytes(values)}, nil, valid.nulls, 0))
}

func (b *bits) buffer() *memory.Buffer {
	if b.nulls == 0 {
		return nil
	}
	return memory.NewBufferBytes(b.set)
}

// nulls is an array of n nulls.
func nulls(dt arrow.DataType, n int) arrow.Array {
	return array.MakeArrayOfNull(memory.DefaultAllocator, dt, n)
}
