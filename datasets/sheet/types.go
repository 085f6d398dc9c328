package sheet

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/decimal"
	"tossline/datasets/export"
	"tossline/kernel/arrowstream"
)

// kind is a set of types that the cells of a column may have.
type kind uint8

const (
	whole kind = 1 << iota
	number
	commaNumber // with a decimal comma
	flag
	date
	instant
	some // of any type: there was a value
)

const anyKind = whole | number | commaNumber | flag | date | instant

// types are the types that a column may have. A text in quotes is a text, unless everything is in quotes.
type types struct{ bare, quoted kind }

var anyType = types{anyKind, anyKind}

// narrow takes out the types that a cell doesn't have.
func (t *types) narrow(c cell) {
	if isMissing(c.text) {
		if c.quoted {
			t.bare = some
		}
		return
	}
	of := kindsOf(c.text)
	t.quoted = t.quoted&of | some
	if c.quoted {
		of = 0
	}
	t.bare = t.bare&of | some
}

// empty reports whether a column has no value.
func (t types) empty() bool { return (t.bare|t.quoted)&some == 0 }

// isMissing knows the words by which programs write a missing value.
func isMissing(text []byte) bool {
	switch string(text) {
	case "", "NA", "N/A", "#N/A", "NaN", "nan", "NULL", "null":
		return true
	}
	return false
}

// kindsOf gives the types that a text may have.
func kindsOf(text []byte) (k kind) {
	switch c := text[0]; {
	case c >= '0' && c <= '9' || c == '-' || c == '+' || c == '.' || c == ',':
		return numericKinds(text)
	case len(text) > 5:
		return 0
	}
	switch strings.ToLower(string(text)) {
	case "true", "false":
		return flag
	case "inf":
		return number | commaNumber
	}
	return 0
}

func numericKinds(text []byte) (k kind) {
	digits := bytes.TrimLeft(text, "+-")
	if string(digits) == "Inf" || string(digits) == "inf" {
		return number | commaNumber
	}
	if len(text) >= len("2006-01-02") && text[4] == '-' {
		return dateKinds(string(text))
	}
	if len(digits) > 1 && digits[0] == '0' && digits[1] >= '0' && digits[1] <= '9' {
		return 0 // such as 007: a name, not a number
	}
	if isNumber(text) {
		k = number
		if !bytes.ContainsRune(text, '.') {
			k |= commaNumber
		}
		if bytes.IndexAny(text, ".eE") < 0 {
			_, err := strconv.ParseInt(string(text), 10, 64)
			switch {
			case err != nil:
				return 0 // more digits than a number holds: a name
			case text[0] != '+' && string(text) != "-0":
				k |= whole
			}
		}
	} else if at := bytes.IndexByte(text, ','); at >= 0 && bytes.IndexByte(text, '.') < 0 && isNumber(withDot(text)) {
		k = commaNumber
	}
	return k
}

// isNumber reports whether a text is a decimal number and nothing else.
func isNumber(text []byte) bool {
	_, n := decimal.Scan(text)
	return n == len(text) && n > 0
}

func withDot(text []byte) []byte { return bytes.Replace(text, []byte{','}, []byte{'.'}, 1) }

func dateKinds(text string) (k kind) {
	if _, err := time.Parse(time.DateOnly, text); err == nil {
		return date
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil || t.Nanosecond()%1000 != 0 {
		return 0 // or finer than an instant is kept
	}
	return instant
}

// columnBuilder takes the cells of a column.
type columnBuilder struct {
	to      array.Builder
	add     func(cell)
	width   int64 // bytes of a value
	perByte int64 // bytes of a value for each byte of its cell
}

// builder decides the type of a column: everything is in quotes, or quotes make texts; and it has a unit, or not, which
// tells what a column without a value holds.
func (t types) builder(allQuoted, hasUnit bool) columnBuilder {
	k := t.bare
	if allQuoted {
		k = t.quoted
	}
	if k&some == 0 {
		if k = 0; hasUnit {
			k = number
		}
	}
	mem := memory.DefaultAllocator
	switch {
	case k&whole != 0:
		b := array.NewInt64Builder(mem)
		return columnOf(b, 8, func(text []byte) { v, _ := strconv.ParseInt(string(text), 10, 64); b.Append(v) })
	case k&number != 0:
		b := array.NewFloat64Builder(mem)
		return columnOf(b, 8, func(text []byte) { b.Append(parse(text)) })
	case k&commaNumber != 0:
		b := array.NewFloat64Builder(mem)
		return columnOf(b, 8, func(text []byte) { b.Append(parse(withDot(text))) })
	case k&flag != 0:
		b := array.NewBooleanBuilder(mem)
		return columnOf(b, 1, func(text []byte) { b.Append(text[0] == 't' || text[0] == 'T') })
	case k&date != 0:
		b := array.NewDate32Builder(mem)
		return columnOf(b, 4, func(text []byte) {
			day, _ := time.Parse(time.DateOnly, string(text))
			b.Append(arrow.Date32FromTime(day))
		})
	case k&instant != 0:
		b := array.NewTimestampBuilder(mem, arrowstream.Instant)
		return columnOf(b, 8, func(text []byte) {
			at, _ := time.Parse(time.RFC3339Nano, string(text))
			b.Append(arrow.Timestamp(at.UnixMicro()))
		})
	}
	return textColumn(array.NewStringBuilder(mem), allQuoted)
}

func parse(text []byte) float64 {
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil && !math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}

// columnOf is a column whose missing values are empty, or words for missing.
func columnOf(to array.Builder, width int64, value func([]byte)) columnBuilder {
	return columnBuilder{to: to, width: width, add: func(c cell) {
		if isMissing(c.text) {
			to.AppendNull()
		} else {
			value(c.text)
		}
	}}
}

// textColumn is a column of texts, in which "" is an empty one unless everything is in quotes.
func textColumn(to *array.StringBuilder, allQuoted bool) columnBuilder {
	return columnBuilder{to: to, width: 4, perByte: 1, add: func(c cell) {
		if missing := !c.quoted && isMissing(c.text); missing || allQuoted && len(c.text) == 0 {
			to.AppendNull()
		} else {
			to.Append(export.Text(word(c.text)))
		}
	}}
}
