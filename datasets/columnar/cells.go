package columnar

import (
	"io"
	"math"
	"strconv"

	"tossline/datasets/tabular"
	"tossline/kernel/arrowstream"
)

// Cells gives a table of any content as texts: the names of its columns, then its rows, counted from 1. Numbers are the
// shortest decimal text that reads back to the same value, flags are 1 and 0, and what is missing is empty. Rows are
// reused once row returns. found is false where the file is neither an Arrow file nor a Parquet file.
func Cells(r io.ReaderAt, size int64, row func(number int, cells []string) error) (found bool, err error) {
	format, err := formatOf(r, size)
	if err != nil {
		return false, err
	}
	open := func(h tabular.Header, _ []string) (*table, error) {
		cells := append([]string(nil), h.Titles...)
		if err := row(0, cells); err != nil {
			return nil, err
		}
		return &table{add: func(b tabular.Batch, first int) error {
			for i := range b.Rows {
				for k := range cells {
					cells[k] = cell(b, k, i)
				}
				if err := row(first+i, cells); err != nil {
					return err
				}
			}
			return nil
		}}, nil
	}
	switch format {
	case ArrowName:
		err = guard(func() error {
			_, broken, err := readArrow(io.NewSectionReader(r, 0, size), open, arrowstream.Flat)
			if err == nil && broken != errUnended {
				err = broken
			}
			return err
		})
	case ParquetName:
		err = guard(func() error { return readParquet(r, size, open) })
	default:
		return false, nil
	}
	return true, err
}

func cell(b tabular.Batch, column, row int) string {
	if texts := b.Texts[column]; texts != nil {
		return texts[row]
	}
	if numbers := b.Numbers[column]; numbers != nil && numbers[row] == numbers[row] {
		if v := numbers[row]; v == math.Trunc(v) && math.Abs(v) < 1e15 { // a frame, a year: never with an exponent
			return strconv.FormatFloat(v, 'f', -1, 64)
		}
		return strconv.FormatFloat(numbers[row], 'g', -1, 64)
	}
	return ""
}
