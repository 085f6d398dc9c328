package result

import (
	"crypto/sha256"
	"encoding/hex"
	"math"

	"tossline/kernel/table"
)

// Encoder is what a type of ours implements so that a step may return it.
type Encoder interface {
	// EncodeResult gives the result and the bytes that it refers to. An error is for the reader of the page.
	EncodeResult() (Result, []Attachment, error)
}

// Attachment is an Arrow IPC stream that travels beside the JSON of a Result.
type Attachment struct {
	Ref   string // Table.Ref: SHA-256 of Bytes, in hexadecimal
	Bytes []byte
}

// Of wraps a table: its description, and the attachment with its rows. A table that is too large is an error.
func Of(t table.Table) (*Table, []Attachment, error) {
	if t.Err() == nil {
		if err := fits(t); err != nil {
			return nil, nil, err
		}
	}
	encoded, err := table.Encode(t)
	if err != nil {
		return nil, nil, err
	}
	sum := sha256.Sum256(encoded)
	ref := hex.EncodeToString(sum[:])
	described := &Table{Ref: ref, Rows: t.Len(), Caption: t.Caption(), Columns: Columns(t)}
	return described, []Attachment{{ref, encoded}}, nil
}

// Columns describes the columns of a table.
func Columns(t table.Table) []Column {
	columns := make([]Column, 0, len(t.Names()))
	for _, name := range t.Names() {
		columns = append(columns, Column{Name: name, Title: t.Title(name), Unit: t.Unit(name), Type: t.Type(name),
			Definition: t.Definition(name)})
	}
	return columns
}

// Finite is a pointer to x, or nil where x is NaN or infinite: what JSON shows as null.
func Finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
