// Package table holds Arrow tables as recipes use them: immutable values with verbs that can be chained.
package table

import "github.com/apache/arrow/go/v17/arrow"

// Table is an immutable table over one Arrow record. The zero Table has no rows and no columns.
type Table struct {
	record arrow.Record
	err    error
}
