package table

import (
	"fmt"
	"strings"

	"tossline/kernel/spelling"
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
	if near := spelling.Nearest(column, names); near != "" {
		return errorf("there is no column %q; did you mean %q?", column, near)
	}
	const show = 12
	if len(names) > show {
		return errorf("there is no column %q; the %d columns begin with %s",
			column, len(names), strings.Join(names[:show], ", "))
	}
	return errorf("there is no column %q; the columns are %s", column, strings.Join(names, ", "))
}
