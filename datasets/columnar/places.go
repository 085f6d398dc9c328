package columnar

import (
	"fmt"
	"math"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"

	"tossline/datasets/recording"
	"tossline/kernel/arrowstream"
)

// A column may hold the coordinates of a point together: a list of x, y and z, or a struct with fields of these names.
// It is taken for three columns.

// axes are the coordinates in a list.
var axes = [...]string{"x", "y", "z"}

// partTitles gives the titles of the columns that a nested field of a schema stands for; nil where it is none.
func partTitles(f arrow.Field) []string {
	var titles []string
	switch t := f.Type.(type) {
	case *arrow.StructType:
		for _, part := range t.Fields() {
			if !canRead(part.Type) {
				return nil
			}
			titles = append(titles, f.Name+"."+part.Name)
		}
	case *arrow.ListType, *arrow.LargeListType, *arrow.FixedSizeListType:
		if !isNumber(t.(arrow.ListLikeType).Elem()) {
			return nil
		}
		for _, axis := range axes {
			titles = append(titles, f.Name+"."+axis)
		}
	}
	return titles
}

func isNumber(t arrow.DataType) bool {
	return arrow.IsFloating(t.ID()) || arrow.IsInteger(t.ID())
}

// fieldOf gives the values of a part of a struct; those of rows without a struct are missing.
func fieldOf(a *array.Struct, part int) (numbers []float64, texts []string, err error) {
	if err := arrowstream.CheckBuffers(a.Data()); err != nil {
		return nil, nil, err
	}
	if numbers, texts, err = valuesOf(a.Field(part)); err != nil || a.NullN() == 0 {
		return numbers, texts, err
	}
	for i := range a.Len() {
		switch {
		case a.IsValid(i):
		case i < len(numbers):
			numbers[i] = math.NaN()
		case i < len(texts):
			texts[i] = ""
		}
	}
	return numbers, texts, nil
}

// placesOf gives x, y and z of lists; those of rows without a list, or with one of nothing, are missing.
func placesOf(a array.ListLike) ([][]float64, error) {
	if err := arrowstream.CheckBuffers(a.Data()); err != nil {
		return nil, err
	}
	values := a.ListValues()
	low, high := int64(values.Len()), int64(0)
	for i := range a.Len() {
		from, to := a.ValueOffsets(i)
		switch {
		case from < 0 || from > to || to > int64(values.Len()):
			return nil, fmt.Errorf("the list of row %d lies outside the column", i)
		case a.IsNull(i) || from == to:
		case to-from != int64(len(axes)):
			return nil, wrongLength(to - from)
		default:
			low, high = min(low, from), max(high, to)
		}
	}
	places := missingPlaces(a.Len())
	if low >= high {
		return places, nil
	}
	numbers, _, err := valuesOf(array.NewSlice(values, low, high))
	if err != nil {
		return nil, err
	}
	for i := range a.Len() {
		if from, to := a.ValueOffsets(i); a.IsValid(i) && from < to {
			for k := range axes {
				places[k][i] = numbers[from-low+int64(k)]
			}
		}
	}
	return places, nil
}

func missingPlaces(rows int) [][]float64 {
	places := make([][]float64, len(axes))
	for k := range places {
		places[k] = make([]float64, rows)
		for i := range places[k] {
			places[k][i] = math.NaN()
		}
	}
	return places
}

func wrongLength[N int | int64](n N) error {
	return recording.Refuse("", "a list has %d numbers, where x, y and z are expected", n)
}

// listName is the name of a column of lists of numbers; ok is false for other columns.
func listName(c *schema.Column) (name string, ok bool) {
	switch c.PhysicalType() {
	case parquet.Types.Float, parquet.Types.Double, parquet.Types.Int32, parquet.Types.Int64:
	default:
		return "", false
	}
	path := c.ColumnPath()
	if c.MaxRepetitionLevel() != 1 || len(path) > 3 {
		return "", false
	}
	return path[0], true
}

// lists reads a column of lists of x, y and z.
type lists struct {
	reader file.ColumnChunkReader
	full   int16 // definition level of a number
	kept   []listEntry
	ended  bool
}

// listEntry is a number of a list, or what stands for a list that is missing or empty.
type listEntry struct {
	value  float64
	begins bool // a row
	none   bool
}

// rows reads n rows.
func (l *lists) rows(n int) ([][]float64, error) {
	places := missingPlaces(n)
	at := 0
	for row := range n {
		end := at + 1
		for ; ; end++ {
			for end >= len(l.kept) && !l.ended {
				if err := l.more(); err != nil {
					return nil, err
				}
			}
			if end >= len(l.kept) || l.kept[end].begins {
				break
			}
			if end-at > len(axes) {
				return nil, wrongLength(end - at + 1)
			}
		}
		if at >= len(l.kept) {
			return nil, recording.Refuse("copy it again", "it ends before the others")
		}
		list := l.kept[at:end]
		at = end
		if len(list) == 1 && list[0].none {
			continue
		}
		if len(list) != len(axes) {
			return nil, wrongLength(len(list))
		}
		for k := range list {
			places[k][row] = list[k].value
		}
	}
	l.kept = append(l.kept[:0], l.kept[at:]...)
	return places, nil
}

// more reads some numbers.
func (l *lists) more() error {
	switch r := l.reader.(type) {
	case *file.Float32ColumnChunkReader:
		return entries(l, r.ReadBatch)
	case *file.Float64ColumnChunkReader:
		return entries(l, r.ReadBatch)
	case *file.Int32ColumnChunkReader:
		return entries(l, r.ReadBatch)
	case *file.Int64ColumnChunkReader:
		return entries(l, r.ReadBatch)
	}
	l.ended = true
	return nil
}

func entries[V float32 | float64 | int32 | int64](l *lists,
	read func(int64, []V, []int16, []int16) (int64, int, error)) error {
	values := make([]V, mostRows)
	defined, repeated := make([]int16, mostRows), make([]int16, mostRows)
	total, got, err := read(mostRows, values, defined, repeated)
	if err != nil {
		return err
	}
	l.ended = total <= 0
	next := 0
	for i := range int(total) {
		e := listEntry{value: math.NaN(), begins: repeated[i] == 0, none: defined[i] < l.full}
		if !e.none && next < got {
			e.value = float64(values[next])
			next++
		}
		l.kept = append(l.kept, e)
	}
	return nil
}
