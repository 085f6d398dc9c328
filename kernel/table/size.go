package table

import "github.com/apache/arrow/go/v17/arrow/array"

// Size is the number of bytes that the values take, nulls and all.
func (t Table) Size() int64 {
	if t.record == nil {
		return 0
	}
	n := int64(0)
	for _, column := range t.record.Columns() {
		if texts, ok := column.(*array.String); ok && texts.Len() > 0 {
			n += int64(texts.ValueOffset(texts.Len()) - texts.ValueOffset(0))
		}
		n += 8 * int64(column.Len())
	}
	return n
}
