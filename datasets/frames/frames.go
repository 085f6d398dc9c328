// Package frames reads and writes the file in which a season keeps the frames of one recording.
//
// A frames file is an Arrow IPC file, so that any general tool opens it. It has one record batch with one column,
// xyz: a nullable FixedSizeList<float32> of three values for each landmark, one row a frame, metres in the global
// frame of package motion; NaN where a coordinate is missing, never null. (The field is nullable because arrow v17
// turns a list that is not into nulls when it writes Parquet.) What the numbers are stands in the metadata of the
// schema:
//
//	tossline.format  1
//	rate_hz          frames a second, shortest decimal form
//	landmarks        names in the order of the channels, joined by commas
//	source_sha256    of the file that was imported, lower-case hex
//
// Files are written once, under the SHA-256 of their bytes, and never changed.
//
// Signals that were recorded beside the points are in a file of their own (WriteSignals), named in the same way.
//
// # Reading
//
// Open maps a file and checks its structure once: about a hundred bytes at either end are read, whatever its length.
// File.XYZ is then a view of the mapped pages; slicing a serve out of it copies nothing. The reader is our own because
// the library's copies, and panics on damaged files. It accepts exactly the files that Write makes: little-endian, one
// batch, no compression.
package frames

import (
	"fmt"
	"strings"

	"tossline/datasets/landmark"
)

// Facts says what the numbers of a frames file are.
type Facts struct {
	RateHz       float64
	Landmarks    []landmark.Name
	SourceSHA256 string
}

// The keys of the schema's metadata.
const (
	keyFormat    = "tossline.format"
	keyRate      = "rate_hz"
	keyLandmarks = "landmarks"
	keySource    = "source_sha256"

	formatVersion = "1"
	column        = "xyz"
)

// Extension ends the name of every frames file.
const Extension = ".arrow"

// FileName is the name of the frames file whose bytes have the given SHA-256.
func FileName(sha256 string) string { return sha256 + Extension }

// check says what is wrong with the facts, or with a number of values that does not fill whole frames.
func (f Facts) check(values int) error {
	if !(f.RateHz > 0) || f.RateHz > 1e6 {
		return fmt.Errorf("a frame rate of %v Hz: expected a number above 0", f.RateHz)
	}
	if len(f.Landmarks) == 0 {
		return fmt.Errorf("no landmarks")
	}
	seen := make(map[landmark.Name]bool, len(f.Landmarks))
	for _, n := range f.Landmarks {
		if n == "" || strings.ContainsRune(string(n), ',') {
			return fmt.Errorf("landmark name %q: expected a name without commas", n)
		}
		if seen[n] {
			return fmt.Errorf("landmark %s appears twice", n)
		}
		seen[n] = true
	}
	if values == 0 {
		return fmt.Errorf("no frames")
	}
	if width := 3 * len(f.Landmarks); values%width != 0 {
		return fmt.Errorf("%d values are not whole frames of %d landmarks", values, len(f.Landmarks))
	}
	return nil
}
