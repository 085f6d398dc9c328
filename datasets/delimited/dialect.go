package delimited

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// dialect is how a file writes its table.
type dialect struct {
	delimiter    byte
	spaces       bool // runs of blanks separate the columns; they are turned into delimiters as they are read
	decimalComma bool
	header       [][]string        // the rows of titles, all as wide as the table
	said         map[string]string // what comment and preamble lines say: "rate" to "120"
	rateAlone    string            // the rate, where it is a number alone on its line
	bytes        int               // length of everything before the first row of numbers
	lines        int               // lines in that
}

// delimiters are tried in this order; the one that gives most columns wins. A blank stands for runs of them.
var delimiters = [...]byte{',', ';', '\t', '|', blank}

const blank = ' '

// maxHeaderRows is how many rows a header may have: names, coordinates, units and a few more.
const maxHeaderRows = 8

// headLine is one line of the head with its fields under one delimiter.
type headLine struct {
	text   []byte
	number int // of the line, from 1
	start  int // byte offset
}

// sniff finds out the dialect from the head of a file.
func sniff(head []byte) (dialect, error) {
	bom := 0
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		bom = 3
	}
	lines, said := headLines(head, bom)
	if len(lines) == 0 {
		return dialect{}, recording.Refuse("", "the file has no lines")
	}
	var best dialect
	for _, d := range delimiters {
		if found, ok := tryDelimiter(lines, d); ok && len(found.header[0]) > columnsOf(best) {
			best = found
		}
	}
	if columnsOf(best) == 0 {
		return dialect{}, noTable(lines)
	}
	best.said = said
	best.sayFacts(lines)
	return best, nil
}

func columnsOf(d dialect) int {
	if len(d.header) == 0 {
		return 0
	}
	return len(d.header[0])
}

// noTable says what is missing for a table.
func noTable(lines []headLine) error {
	for _, d := range delimiters {
		fields := splitLine(lines[0].text, d)
		if len(fields) > 1 && numeric(fields, d != ',') {
			e := recording.At(lines[0].number, 0, "the table has no header: the first line already holds numbers")
			e.Remedy = "put a line with the names of the columns in front"
			return e
		}
	}
	if l := lines[0].text; len(lines) == 1 && len(splitLine(l, ','))+len(splitLine(l, ';'))+len(splitLine(l, '\t')) > 5 {
		return recording.At(lines[0].number, 0, "the file ends after its first line: there are no rows of numbers")
	}
	for _, l := range lines {
		if openQuote(l.text) {
			e := recording.At(l.number, 0, "no table of points was found: a quoted text goes on in the next line")
			e.Remedy = closeQuote
			return e
		}
	}
	return recording.At(lines[0].number, 0, "no table of points was found: expected a line of column names and then "+
		"lines of as many numbers, separated by comma, semicolon, tab, blanks or |")
}

// openQuote reports whether a quoted text begins in a line and does not end in it.
func openQuote(line []byte) bool { return bytes.Count(line, []byte{'"'})%2 == 1 }

const closeQuote = "texts of several lines are not read: put each on one line"

// headLines gives the lines of the head that are neither blank nor comments, without a last one that the head may
// have cut, and what the comments say.
func headLines(head []byte, start int) (lines []headLine, said map[string]string) {
	said = map[string]string{}
	for number := 1; start < len(head); number++ {
		end := bytes.IndexByte(head[start:], '\n')
		next := start + end + 1
		if end < 0 && len(head) == headLen {
			break
		}
		if end < 0 {
			end, next = len(head)-start, len(head)
		}
		text := bytes.TrimRight(head[start:start+end], "\r")
		if comment, ok := bytes.CutPrefix(bytes.TrimSpace(text), []byte{'#'}); ok {
			sayPair(said, string(comment))
		} else if len(bytes.TrimSpace(text)) > 0 {
			lines = append(lines, headLine{text, number, start})
		}
		start = next
		if len(lines) > 64 {
			break
		}
	}
	return lines, said
}

// sayFacts keeps what the lines in front of the rows say, "Rate,50,Units,mm". A number alone on its line is taken for
// the rate, if it is the only one and may be one.
func (d *dialect) sayFacts(lines []headLine) {
	var alone []string
	for _, l := range lines {
		if l.start >= d.bytes {
			break
		}
		fields := trimRow(splitLine(l.text, d.delimiter))
		switch {
		case len(fields) == 1 && isRate(fields[0]):
			alone = append(alone, fields[0])
		case len(fields) <= 2:
			sayPair(d.said, strings.Join(fields, "="))
		case isFacts(fields):
			for i := 0; i+1 < len(fields); i += 2 {
				sayPair(d.said, fields[i]+"="+fields[i+1])
			}
		}
	}
	if len(alone) == 1 && d.said["rate"] == "" {
		d.said["rate"], d.rateAlone = alone[0], alone[0]
	}
}

// isRate reports whether a text may be frames a second.
func isRate(field string) bool {
	v, n := decimal.Scan([]byte(field))
	return n == len(field) && v >= 10 && v <= 5000
}

// isFacts reports whether names and values alternate in a row, with numbers among the values.
func isFacts(fields []string) bool {
	numbers := 0
	for i, f := range fields {
		if _, n := decimal.Scan([]byte(f)); n == len(f) && f != "" {
			if i%2 == 0 {
				return false
			}
			numbers++
		}
	}
	return numbers > 0 && len(fields)%2 == 0
}

// sayPair keeps "rate: 120" and "units = mm".
func sayPair(said map[string]string, text string) {
	i := strings.IndexAny(text, ":=")
	if i <= 0 {
		return
	}
	key := strings.ToLower(strings.TrimSpace(text[:i]))
	value := strings.Trim(strings.TrimSpace(text[i+1:]), `="`)
	if _, ok := said[key]; !ok && len(key) < 40 && value != "" {
		said[key] = strings.TrimSpace(value)
	}
}

// tryDelimiter looks for rows of titles followed by a row of numbers. Where there are several such places, as when a
// small table of facts stands in front, the widest is meant.
func tryDelimiter(lines []headLine, d byte) (best dialect, ok bool) {
	rows := make([][]string, len(lines))
	for i, l := range lines {
		rows[i] = trimRow(splitLine(l.text, d))
	}
	comma := decimalComma(rows) // of a table with commas between the columns, in quotes
	for i := 1; i < len(rows); i++ {
		if !numeric(rows[i], comma) || numeric(rows[i-1], comma) {
			continue
		}
		header := titleRows(rows[:i], comma)
		if len(header) == 0 { // facts alone stand in front
			continue
		}
		if width := len(header[0]); width < 2 || width <= columnsOf(best) || d == blank && !strict(rows[i], width) {
			continue
		}
		best = dialect{delimiter: d, decimalComma: comma && d != ',', header: header, bytes: lines[i].start,
			lines: lines[i].number - 1}
		if d == blank {
			best.delimiter, best.spaces = '\t', true
		}
	}
	return best, columnsOf(best) > 0
}

// trimRow drops empty fields from the end of a row.
func trimRow(row []string) []string {
	for len(row) > 0 && row[len(row)-1] == "" {
		row = row[:len(row)-1]
	}
	return row
}

// titleRows gives the last rows that hold no numbers, all as wide as the widest.
func titleRows(rows [][]string, comma bool) [][]string {
	first, width := len(rows), 0
	for first > 0 && len(rows)-first < maxHeaderRows && !numeric(rows[first-1], comma) && !isFacts(rows[first-1]) {
		first--
		width = max(width, len(rows[first]))
	}
	var out [][]string
	for _, row := range rows[first:] {
		out = append(out, append(row[:len(row):len(row)], make([]string, width-len(row))...))
	}
	return out
}

// splitLine splits a line into fields, trimmed and without quotes.
func splitLine(text []byte, d byte) []string {
	var out []string
	if d == blank {
		for _, field := range bytes.FieldsFunc(text, func(r rune) bool { return r == blank }) {
			out = append(out, string(bytes.Trim(field, `"`)))
		}
		return out
	}
	out = make([]string, 0, 1+bytes.Count(text, []byte{d}))
	for i := 0; ; {
		field, end := cutField(text, i, d)
		out = append(out, name(field))
		if end >= len(text) {
			return out
		}
		i = end + 1
	}
}

// name is a text of the file. One that is no UTF-8 is taken for Windows-1252, which has the letters of Latin-1.
func name(field []byte) string {
	if utf8.Valid(field) {
		return string(field)
	}
	text, _ := charmap.Windows1252.NewDecoder().Bytes(field)
	return string(text)
}

// cutField gives the field that starts at b[i], trimmed and unquoted, and the index of the delimiter or line end
// after it. Doubled quotes inside quotes stay doubled: no number or name has any.
func cutField(b []byte, i int, d byte) ([]byte, int) {
	for i < len(b) && (b[i] == ' ' || b[i] == '\t' && d != '\t') {
		i++
	}
	if i < len(b) && b[i] == '"' {
		if n := bytes.IndexByte(b[i+1:], '"'); n >= 0 && bytes.IndexByte(b[i+1:i+1+n], '\n') < 0 {
			end := i + 1 + n + 1
			for end < len(b) && b[end] != d && b[end] != '\n' && b[end] != '\r' {
				end++
			}
			return bytes.TrimSpace(b[i+1 : i+1+n]), end
		}
	}
	end := i
	for end < len(b) && b[end] != d && b[end] != '\n' && b[end] != '\r' {
		end++
	}
	return bytes.TrimRight(b[i:end], " \t"), end
}

// numeric reports whether a row holds numbers: more of them than words, or three. Missing values are neither.
func numeric(fields []string, comma bool) bool {
	numbers, words := 0, 0
	for _, f := range fields {
		if comma {
			f = strings.Replace(f, ",", ".", 1)
		}
		switch _, n := decimal.Scan([]byte(f)); {
		case f == "" || isMissing([]byte(f)):
		case n == len(f):
			numbers++
		default:
			words++
		}
	}
	return numbers > words || numbers >= 3
}

// strict reports whether a row has as many fields as the header and no word among them: sentences have blanks too.
func strict(fields []string, width int) bool {
	for _, f := range fields {
		if _, n := decimal.Scan([]byte(f)); n != len(f) && !isMissing([]byte(f)) {
			return false
		}
	}
	return len(fields) == width
}

// decimalComma reports whether fields look like 1,25 and none like 1.25.
func decimalComma(rows [][]string) bool {
	commas := 0
	for _, row := range rows {
		for _, f := range row {
			whole, part, ok := strings.Cut(f, ",")
			if !ok {
				if _, n := decimal.Scan([]byte(f)); n == len(f) && strings.Contains(f, ".") {
					return false
				}
				continue
			}
			whole = strings.TrimPrefix(whole, "-")
			if _, n := decimal.Scan([]byte(whole + "." + part)); n == len(whole)+1+len(part) && n > 1 {
				commas++
			}
		}
	}
	return commas > 0
}

// missingWords stand for a missing value.
var missingWords = [...]string{"nan", "na", "n/a", "null", "none", "-", "--", ".", "#n/a", "nil", "missing", "-nan",
	"nan(ind)", "-nan(ind)"}

func isMissing(field []byte) bool {
	if len(field) == 0 {
		return true
	}
	for _, w := range missingWords {
		if len(field) == len(w) && strings.EqualFold(string(field), w) {
			return true
		}
	}
	return false
}
