package table

import (
	"fmt"
	"strings"
)

// Error says what was asked of a table that it cannot give. Its text is for the reader of the page.
type Error struct{ text string }

func (e *Error) Error() string { return e.text }

func failed(format string, args ...any) Table { return Table{err: errorf(format, args...)} }

func errorf(format string, args ...any) *Error { return &Error{fmt.Sprintf(format, args...)} }

// unknown is the error for a column that the table doesn't have, with the nearest name or all of them.
func (t Table) unknown(column string) error {
	if t.err != nil {
		return t.err
	}
	names := t.Names()
	if len(names) == 0 {
		return errorf("there is no column %q: the table has no columns", column)
	}
	if near := nearest(column, names); near != "" {
		return errorf("there is no column %q; did you mean %q?", column, near)
	}
	const show = 12
	if len(names) > show {
		return errorf("there is no column %q; the %d columns begin with %s",
			column, len(names), strings.Join(names[:show], ", "))
	}
	return errorf("there is no column %q; the columns are %s", column, strings.Join(names, ", "))
}

// nearest is the name closest to word: one that it begins, or one within a third of its letters; else "".
func nearest(word string, names []string) string {
	best, least := "", len(word)/3+1
	for _, name := range names {
		if len(word) > 2 && strings.HasPrefix(name, word) {
			return name
		}
		if d := distance(word, name); d < least {
			best, least = name, d
		}
	}
	return best
}

// distance counts the letters to insert, delete or replace between a and b (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], cost
		}
	}
	return row[len(b)]
}
