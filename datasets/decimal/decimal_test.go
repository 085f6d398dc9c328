package decimal

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

var cases = []string{
	"0", "-0", "1", "-1", "+1", "3.14159", "-2.5e-3", "1e22", "1e23", "1e-23", "123456789012345678", "0.1",
	"12345678901234567890123", "1.00000000000000000000001", "9007199254740993", "4.9e-324", "1e400", "-1e400",
	"1e-400", ".5", "5.", "00012.5", "0.000000000000000000000000000012345", "1.7976931348623157e308",
	"1424953923781206.2", "1448997445238699", "2.2250738585072011e-308", "1e99999999999", "8.5e", "7e+", "6e-x",
}

func TestScanAgreesWithStrconv(t *testing.T) {
	for _, s := range cases {
		checkScan(t, s)
	}
}

func TestScanStops(t *testing.T) {
	for _, c := range []struct {
		in  string
		v   float64
		len int
	}{
		{"1.5,2", 1.5, 3}, {"1.5.2", 1.5, 3}, {"12e3e4", 12e3, 4}, {"7 ", 7, 1}, {"8.5e", 8.5, 3},
		{"", 0, 0}, {"-", 0, 0}, {".", 0, 0}, {"nan", 0, 0}, {"e5", 0, 0}, {"-.e5", 0, 0}, {"0x10", 0, 1},
	} {
		if v, n := Scan([]byte(c.in)); v != c.v || n != c.len {
			t.Errorf("Scan(%q) = %v, %d; want %v, %d", c.in, v, n, c.v, c.len)
		}
	}
}

// checkScan compares the number at the start of s with what strconv makes of the same bytes, and checks that no
// longer piece would have been a number.
func checkScan(t *testing.T, s string) {
	t.Helper()
	v, n := Scan([]byte(s))
	if n == 0 {
		return
	}
	want, err := strconv.ParseFloat(s[:n], 64)
	if err != nil && !math.IsInf(want, 0) {
		t.Errorf("Scan(%q) took %q, which is no number: %v", s, s[:n], err)
	}
	if math.Float64bits(v) != math.Float64bits(want) {
		t.Errorf("Scan(%q) = %v, want %v", s, v, want)
	}
}

func FuzzScan(f *testing.F) {
	for _, s := range cases {
		f.Add(s)
	}
	f.Fuzz(checkScan)
}

// checkScan32 compares the float32 at the start of s with strconv's.
func checkScan32(t *testing.T, s string) {
	t.Helper()
	padded := append([]byte(s), ",                        "...)
	for _, b := range [][]byte{[]byte(s), padded} {
		v, n := Scan32(b, 0)
		_, n64 := Scan(b)
		if n != n64 {
			t.Errorf("Scan32(%q) took %d bytes, Scan %d", b, n, n64)
		}
		if n == 0 {
			continue
		}
		want, _ := strconv.ParseFloat(string(b[:n]), 32)
		if math.Float32bits(v) != math.Float32bits(float32(want)) {
			t.Errorf("Scan32(%q) = %v, want %v", b, v, float32(want))
		}
	}
}

func TestScan32AgreesWithStrconv(t *testing.T) {
	for _, s := range cases {
		checkScan32(t, s)
	}
}

// TestAgreesOnRandomNumbers prints random numbers the ways data files do and reads them back.
func TestAgreesOnRandomNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 300_000 {
		v := r.NormFloat64() * math.Pow(10, float64(r.IntN(12)-6))
		var s string
		switch r.IntN(5) {
		case 0:
			s = strconv.FormatFloat(v, 'f', r.IntN(10), 64)
		case 1:
			s = strconv.FormatFloat(v, 'g', -1, 64)
		case 2:
			s = strconv.FormatFloat(v, 'e', r.IntN(20), 64)
		case 3:
			s = strconv.FormatFloat(v, 'g', -1, 32)
		case 4: // exactly between two float32 values, or one digit beside
			f := float32(v)
			mid := (float64(f) + float64(math.Nextafter32(f, 2*f))) / 2
			s = strconv.FormatFloat(mid, 'f', 30+r.IntN(30), 64)
		}
		checkScan(t, s)
		checkScan32(t, s)
	}
}

func FuzzScan32(f *testing.F) {
	for _, s := range cases {
		f.Add(s)
	}
	f.Fuzz(checkScan32)
}

func BenchmarkStrconv(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	var texts []string
	n := 0
	for range 10_000 {
		s := strconv.FormatFloat(r.NormFloat64(), 'f', 5, 64)
		texts, n = append(texts, s), n+len(s)+1
	}
	b.SetBytes(int64(n))
	for b.Loop() {
		for _, s := range texts {
			strconv.ParseFloat(s, 32)
		}
	}
}
