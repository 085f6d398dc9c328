package tabular

import (
	"bytes"
	"math"
	"strconv"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// Batch is a stretch of rows by column, of a table without lines. A column has numbers, with NaN for missing, or texts,
// with "" for missing; one that has neither is not used.
type Batch struct {
	Rows    int
	Numbers [][]float64
	Texts   [][]string
}

// AddBatch adds rows; first is the number of the first of them, from 1.
func (c *Collector) AddBatch(b Batch, first int) error {
	values := make([]float32, b.Rows*c.Width)
	for column, to := range c.Dest {
		if to < 0 {
			continue
		}
		if err := c.coordinates(b, column, first, values[to:]); err != nil {
			return err
		}
	}
	keys, err := c.keysOf(b, first)
	if err != nil {
		return err
	}
	// Rows with the same particulars go together.
	about, next := make([]string, len(c.About)), make([]string, len(c.About))
	for start := 0; start < b.Rows; {
		b.about(c.About, start, about)
		end := start + 1
		for end < b.Rows {
			if b.about(c.About, end, next); !sameTexts(about, next) {
				break
			}
			end++
		}
		r := &Rows{Values: values[start*c.Width : end*c.Width], About: about}
		if c.Long {
			c.putPoints(r, b, keys, start, end)
		} else {
			for i := start; i < end; i++ {
				r.Places = append(r.Places, int32(i-start))
			}
			if keys != nil {
				r.Keys = keys[start:end]
			}
		}
		if err := c.Add(r, first+start); err != nil {
			return err
		}
		start = end
	}
	return nil
}

// coordinates puts a column of coordinates into its places.
func (c *Collector) coordinates(b Batch, column, first int, to []float32) error {
	if numbers := b.Numbers[column]; numbers != nil {
		for i, v := range numbers {
			if to[i*c.Width] = float32(v); math.IsInf(float64(to[i*c.Width]), 0) {
				return c.at(first+i, "", "column %s has %v, which is no place", c.Columns[column].Title, v)
			}
		}
		return nil
	}
	texts := b.Texts[column]
	if texts == nil {
		return recording.Refuse("write it as numbers", "column %s is of a type that cannot be read", c.Columns[column].Title)
	}
	for i, text := range texts {
		v, n := decimal.Scan32([]byte(text), 0)
		if text == "" {
			v, n = missing, 0
		}
		if n != len(text) || math.IsInf(float64(v), 0) {
			return c.at(first+i, "", "expected a number for %s, found %s", c.Columns[column].Title, recording.Quote(text))
		}
		to[i*c.Width] = v
	}
	return nil
}

// keysOf gives the values of the column that orders the rows.
func (c *Collector) keysOf(b Batch, first int) ([]float64, error) {
	if c.Key < 0 {
		return nil, nil
	}
	title := c.Columns[c.Key].Title
	keys := b.Numbers[c.Key]
	if keys == nil && b.Texts[c.Key] != nil {
		keys = make([]float64, b.Rows)
		for i, text := range b.Texts[c.Key] {
			v, ok := ParseKey([]byte(text), c.Columns[c.Key].IsClock())
			if !ok {
				return nil, c.at(first+i, "", "expected a number in column %s, found %s", title, recording.Quote(text))
			}
			keys[i] = v
		}
	}
	if keys == nil {
		return nil, recording.Refuse("write it as numbers", "column %s is of a type that cannot be read", title)
	}
	for i, v := range keys {
		if v-v != 0 {
			return nil, c.at(first+i, "", "column %s has no value", title)
		}
	}
	return keys, nil
}

// ParseKey reads a time or the number of a frame: a number, or for times 12:30:05.25 with or without a date before it.
func ParseKey(field []byte, clock bool) (float64, bool) {
	v, n := decimal.Scan(field)
	if n == len(field) && n > 0 && !math.IsInf(v, 0) {
		return v, true
	}
	if !clock {
		return 0, false
	}
	return clockTime(field)
}

// clockTime reads 12:30:05.25 or a date with such a time behind it, as seconds of the day.
func clockTime(field []byte) (float64, bool) {
	if i := bytes.LastIndexAny(field, "T "); i >= 0 {
		field = field[i+1:]
	}
	field = bytes.TrimSuffix(field, []byte("Z"))
	parts := bytes.Split(field, []byte(":"))
	if len(parts) < 2 || len(parts) > 3 {
		return 0, false
	}
	seconds := 0.0
	for _, part := range parts {
		v, n := decimal.Scan(part)
		if n == 0 || n != len(part) || v < 0 {
			return 0, false
		}
		seconds = seconds*60 + v
	}
	return seconds, true
}

// about writes the particulars of a row into to.
func (b Batch) about(columns []int, row int, to []string) {
	for i, column := range columns {
		to[i] = b.text(column, row)
	}
}

// text is a value as a text, "" where it is missing.
func (b Batch) text(column, row int) string {
	switch {
	case b.Texts[column] != nil:
		return b.Texts[column][row]
	case b.Numbers[column] != nil && b.Numbers[column][row] == b.Numbers[column][row]:
		return strconv.FormatFloat(b.Numbers[column][row], 'f', -1, 64)
	}
	return ""
}

// putPoints puts the rows of a long table behind one another.
func (c *Collector) putPoints(r *Rows, b Batch, keys []float64, start, end int) {
	column := 0
	for i := range c.Columns {
		if c.Columns[i].IsName() {
			column = i
		}
	}
	known := map[string]int32{}
	for row := start; row < end; row++ {
		name := b.text(column, row)
		id, ok := known[name]
		if !ok {
			id = int32(len(r.Names))
			known[name] = id
			r.Names = append(r.Names, name)
		}
		key := 0.0
		if keys != nil {
			key = keys[row]
		}
		r.Put(key, int32(row-start), id)
	}
}
