package sheet

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"golang.org/x/text/encoding/charmap"

	"tossline/datasets/delimited"
	"tossline/datasets/export"
	"tossline/datasets/recording"
	"tossline/datasets/tablefile"
	"tossline/kernel/arrowstream"
)

// readText reads CSV with any delimiter. It goes over the text twice: the types of columns are known when the last cell
// was seen.
func readText(in recording.Input) (arrow.Record, []string, error) {
	if in.Size > mostText {
		return nil, nil, tooLarge()
	}
	t, err := openText(in)
	if err != nil {
		return nil, nil, err
	}
	if err := t.rows(in, t.look); err != nil {
		return nil, nil, err
	}
	b := t.builder()
	if err := t.rows(in, b.add); err != nil {
		return nil, nil, err
	}
	return b.record(), t.notes(), nil
}

func tooLarge() error {
	return recording.Refuse("leave out columns or rows that no recipe needs", "the table is larger than %d MB",
		tablefile.Largest>>20)
}

// text is a table as CSV.
type text struct {
	form
	header    []cell
	kept      []int    // columns of the file that are columns of the table
	units     []string // from a row of units; nil without
	unitsLine int      // its line

	types  []types // by column
	quoted bool    // quotes say nothing: everything is in quotes
	bare   bool    // a cell that is not empty has no quotes
	cells  int64   // bytes of all cells
	latin  bool    // some text is not UTF-8
}

// cell is one value as it stands in the file.
type cell struct {
	text   []byte
	quoted bool
}

// headLen is how much of a text is looked at for its delimiter.
const headLen = 1 << 18

// openText finds the delimiter and the header.
func openText(in recording.Input) (*text, error) {
	head, err := headOf(in)
	if err != nil {
		return nil, err
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return nil, recording.Refuse("", "this is no table that can be read here: CSV, Arrow or Parquet")
	}
	t := &text{form: formOf(head)}
	p, err := t.parser(bytes.NewReader(head))
	if err != nil {
		return nil, err
	}
	first, err := p.next()
	if err != nil {
		if errors.Is(err, io.EOF) {
			err = recording.Refuse("", "the file has no lines")
		}
		return nil, err
	}
	t.header = clone(first)
	if len(t.header) > arrowstream.MaxColumns {
		return nil, recording.At(p.line, 0, "the table has %d columns; %d are read at most", len(t.header),
			arrowstream.MaxColumns)
	}
	t.quoted = !slices.ContainsFunc(t.header, func(c cell) bool { return !c.quoted }) &&
		slices.ContainsFunc(t.header, func(c cell) bool { return isPlain(c.text) })
	t.types = make([]types, len(t.header))
	for i := range t.types {
		t.types[i] = anyType
	}
	if second, err := p.next(); err == nil {
		t.readUnits(second, p.line)
	}
	return t, nil
}

// form is how a table is written as CSV.
type form struct {
	delimiter byte
	told      bool // the first line says the delimiter
}

func formOf(head []byte) form {
	if delimiter, told := saidDelimiter(head); told {
		return form{delimiter, true}
	}
	return form{delimiter: delimiterOf(head)}
}

// parser begins a text with the header of the table.
func (f form) parser(r io.Reader) (*parser, error) {
	p := newParser(r, f.delimiter)
	if f.told {
		if _, err := p.next(); err != nil {
			return nil, err
		}
		p.width = 0 // of no row of the table
	}
	return p, nil
}

// saidDelimiter reads a first line such as "sep=;", by which spreadsheets are told the delimiter.
func saidDelimiter(head []byte) (delimiter byte, told bool) {
	line, _, _ := bytes.Cut(head, []byte("\n"))
	after, told := bytes.CutPrefix(bytes.TrimSuffix(line, []byte("\r")), []byte("sep="))
	if !told || len(after) != 1 {
		return 0, false
	}
	return after[0], true
}

// headOf gives the start of a text.
func headOf(in recording.Input) ([]byte, error) {
	head := make([]byte, headLen)
	n, err := io.ReadFull(open(in), head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return nil, err
	}
	return head[:n], nil
}

// open gives the text of a file from its start.
func open(in recording.Input) io.Reader {
	return delimited.UTF8(io.NewSectionReader(in.Data, 0, in.Size))
}

func clone(row []cell) []cell {
	out := make([]cell, len(row))
	for i, c := range row {
		out[i] = cell{bytes.Clone(c.text), c.quoted}
	}
	return out
}

// isPlain reports whether our own exports would write a name without quotes.
func isPlain(name []byte) bool {
	return len(name) > 0 && bytes.IndexFunc(name, func(r rune) bool {
		return r != '_' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z')
	}) < 0
}

// delimiterOf is the one that cuts the first rows into as many cells each, the more the better; where none does, the
// one that cuts the header into most.
func delimiterOf(head []byte) byte {
	best, widest := byte(','), 1
	fallback, most := best, 1
	for _, d := range [...]byte{',', ';', '\t', '|'} {
		even, width := widthUnder(head, d)
		if even && width > widest {
			best, widest = d, width
		}
		if width > most {
			fallback, most = d, width
		}
	}
	if even, width := widthUnder(head, ' '); widest == 1 && most == 1 && even && width > 1 {
		return ' '
	}
	if widest == 1 {
		return fallback
	}
	return best
}

// widthUnder is how many cells the header has under a delimiter, and whether the first rows have as many.
func widthUnder(head []byte, delimiter byte) (even bool, width int) {
	const rows = 50
	p := newParser(bytes.NewReader(head), delimiter)
	for range rows {
		row, err := p.next()
		if err != nil || p.in.Buffered() == 0 && len(head) == headLen {
			break // the head may have cut the last one
		}
		if width > 0 && len(row) != width {
			return false, width
		}
		width = len(row)
	}
	return true, width
}

// readUnits takes a row of units, where the row below the header is one.
func (t *text) readUnits(row []cell, line int) {
	units := make([]string, len(t.header))
	some := false
	for i, c := range row {
		unit := strings.Trim(string(c.text), "[]() ")
		if i >= len(units) || c.quoted && !t.quoted || unit != "" && !slices.Contains(unitNames, unit) {
			return
		}
		units[i] = unit
		some = some || unit != ""
	}
	if some {
		t.units, t.unitsLine = units, line
	}
}

// rows gives every row of the table below its header.
func (t *text) rows(in recording.Input, row func([]cell) error) error {
	p, err := t.parser(open(in))
	if err != nil {
		return err
	}
	if _, err := p.next(); err != nil {
		return err
	}
	for {
		cells, err := p.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if p.line == t.unitsLine {
			continue
		}
		if len(cells) != len(t.header) {
			e := recording.At(p.line, 0, "the row has %d values and the header %d names", len(cells), len(t.header))
			e.Remedy = "give every row as many values as there are names"
			return e
		}
		if err := row(cells); err != nil {
			return err
		}
	}
}

// look narrows down the types of the columns.
func (t *text) look(row []cell) error {
	for i, c := range row {
		t.bare = t.bare || !c.quoted && len(c.text) > 0
		t.types[i].narrow(c)
		t.cells += int64(len(c.text)) + 4
		t.latin = t.latin || !utf8.Valid(c.text)
	}
	if t.cells > mostText {
		return tooLarge()
	}
	return nil
}

func (t *text) notes() (notes []string) {
	if t.latin {
		notes = append(notes, "texts that are not UTF-8 were taken for Windows-1252")
	}
	if t.units != nil {
		notes = append(notes, "the row below the header was taken for units")
	}
	if without := len(t.header) - len(t.kept); without > 0 {
		notes = append(notes, "columns without a name and without a value were left out")
	}
	return notes
}

// word is the text of a cell. One that is no UTF-8 is taken for Windows-1252.
func word(field []byte) string {
	if utf8.Valid(field) {
		return string(field)
	}
	decoded, _ := charmap.Windows1252.NewDecoder().Bytes(field)
	return string(decoded)
}

// tableBuilder makes a table of rows.
type tableBuilder struct {
	fields  []arrow.Field
	columns []columnBuilder
	kept    []int
	size    int64
	rows    int64
}

// builder decides the types of the columns.
func (t *text) builder() *tableBuilder {
	quoted := t.quoted && !t.bare
	b := &tableBuilder{}
	for i, h := range t.header {
		if len(h.text) == 0 && !h.quoted && t.types[i].empty() {
			continue
		}
		name := export.Text(word(h.text))
		unit := unitOf(name)
		if t.units != nil {
			unit = t.units[i]
		}
		c := t.types[i].builder(quoted, unit != "")
		field := arrow.Field{Name: name, Type: c.to.Type(), Nullable: true}
		if kind := field.Type.ID(); unit != "" && (kind == arrow.FLOAT64 || kind == arrow.INT64) {
			field.Metadata = arrow.NewMetadata([]string{"unit"}, []string{unit})
		}
		b.fields, b.columns, t.kept = append(b.fields, field), append(b.columns, c), append(t.kept, i)
	}
	b.kept = t.kept
	return b
}

func (b *tableBuilder) add(row []cell) error {
	for k, i := range b.kept {
		b.columns[k].add(row[i])
		b.size += b.columns[k].width + int64(len(row[i].text))*b.columns[k].perByte
	}
	b.rows++
	if b.size > tablefile.Largest {
		return tooLarge()
	}
	return nil
}

func (b *tableBuilder) record() arrow.Record {
	columns := make([]arrow.Array, len(b.columns))
	for i, c := range b.columns {
		columns[i] = c.to.NewArray()
	}
	return array.NewRecord(arrow.NewSchema(b.fields, nil), columns, b.rows)
}

// parser cuts a text into rows of cells, by RFC 4180, but with any delimiter and end of line.
type parser struct {
	in        *bufio.Reader
	delimiter byte
	width     int // of the first row
	line      int // on which the last row began, from 1
	after     int // lines that the last row took
	row       []cell
	text      []byte // of all cells of the row
	ends      []int
}

func newParser(r io.Reader, delimiter byte) *parser {
	p := &parser{in: bufio.NewReaderSize(r, 1<<16), delimiter: delimiter, line: 1}
	if start, _ := p.in.Peek(3); string(start) == "\xef\xbb\xbf" {
		p.in.Discard(3)
	}
	return p
}

// mostCell bounds a cell, in bytes.
const mostCell = 16 << 20

// next gives the next row, io.EOF behind the last; it is reused. Comments in front of the header and blank lines are
// left out, but for those that are a missing value of a table with one column.
func (p *parser) next() ([]cell, error) {
	for {
		p.line += p.after
		p.after = 0
		if p.width == 0 && p.comment() {
			continue
		}
		err := p.cells()
		if err != nil {
			return nil, err
		}
		if blank := len(p.row) == 1 && len(p.row[0].text) == 0 && !p.row[0].quoted; blank && p.width != 1 {
			continue
		}
		if n := len(p.row); p.delimiter == ' ' && n > 1 && len(p.row[n-1].text) == 0 && !p.row[n-1].quoted {
			p.row = p.row[:n-1]
		}
		if p.width == 0 {
			p.width = len(p.row)
		}
		return p.row, nil
	}
}

// comment skips a line that begins with #, and is no header whose first name does.
func (p *parser) comment() bool {
	start, _ := p.in.Peek(2)
	if len(start) == 0 || start[0] != '#' || len(start) == 2 && start[1] == p.delimiter && p.delimiter != ' ' {
		return false
	}
	for {
		c, err := p.in.ReadByte()
		if err != nil || c == '\n' {
			p.after++
			return true
		}
	}
}

// cells reads the cells of one row.
func (p *parser) cells() error {
	p.text, p.ends, p.row = p.text[:0], p.ends[:0], p.row[:0]
	if _, err := p.in.Peek(1); err != nil {
		return err
	}
	for {
		quoted, last, err := p.cell()
		if err != nil {
			return err
		}
		p.ends = append(p.ends, len(p.text))
		p.row = append(p.row, cell{quoted: quoted})
		if last {
			break
		}
	}
	from := 0
	for i, end := range p.ends {
		p.row[i].text = p.text[from:end:end]
		if !p.row[i].quoted {
			p.row[i].text = bytes.TrimRight(p.row[i].text, " \t")
		}
		from = end
	}
	return nil
}

// cell reads one cell into text, and tells whether it is the last of its row.
func (p *parser) cell() (quoted, last bool, err error) {
	start := len(p.text)
	for {
		c, err := p.in.ReadByte()
		if errors.Is(err, io.EOF) {
			return quoted, true, nil
		}
		if err != nil {
			return quoted, true, err
		}
		switch {
		case c == p.delimiter:
			return quoted, false, nil
		case c == '\n' || c == '\r':
			if next, _ := p.in.Peek(1); c == '\r' && len(next) == 1 && next[0] == '\n' {
				p.in.Discard(1)
			}
			p.after++
			return quoted, true, nil
		case (c == ' ' || c == '\t') && (quoted || len(p.text) == start):
			// blanks around a value
		case quoted:
			return quoted, true, p.refuse("something follows a text in quotes; put quotes inside of a text twice")
		case c == '"' && len(p.text) == start:
			quoted = true
			if err := p.quotedText(); err != nil {
				return quoted, true, err
			}
		default:
			p.text = append(p.text, c)
			p.take(func(c byte) bool { return c == p.delimiter || c == '\n' || c == '\r' })
		}
		if len(p.text)-start > mostCell {
			return quoted, true, p.refuse("a value is longer than 16 MB; this is no table, or a quote is missing")
		}
	}
}

// take takes what is buffered up to a byte that ends it.
func (p *parser) take(ends func(byte) bool) {
	rest, _ := p.in.Peek(p.in.Buffered())
	n := 0
	for n < len(rest) && !ends(rest[n]) {
		n++
	}
	p.text = append(p.text, rest[:n]...)
	p.in.Discard(n)
}

// quotedText reads up to the closing quote.
func (p *parser) quotedText() error {
	start := len(p.text)
	for {
		c, err := p.in.ReadByte()
		if errors.Is(err, io.EOF) {
			return p.refuse("a text in quotes has no end; the file is cut short, or a quote is missing")
		}
		if err != nil {
			return err
		}
		if c == '"' {
			if next, _ := p.in.Peek(1); len(next) == 0 || next[0] != '"' {
				return nil
			}
			p.in.Discard(1)
		}
		if c == '\n' {
			p.after++
		}
		if p.text = append(p.text, c); len(p.text)-start > mostCell {
			return p.refuse("a text is longer than 16 MB; this is no table, or a quote is missing")
		}
	}
}

func (p *parser) refuse(what string) error {
	what, remedy, _ := strings.Cut(what, "; ")
	e := recording.At(p.line, 0, "%s", what)
	e.Remedy = remedy
	return e
}
