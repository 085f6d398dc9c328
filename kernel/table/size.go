package table

import "github.com/apache/arrow/go/v17/arrow/array"

// Size is the number of bytes that the values take, nulls and all.
func (t Table) Size() int64 {
	n := 8 * int64(t.rows) * int64(len(t.columns))
	for _, c := range t.columns {
		if texts, ok := c.array.(*array.String); ok {
			for i := range t.rows {
				if !c.missing(i) {
					n += int64(texts.ValueLen(c.at(i)))
				}
			}
		}
	}
	return n
}
