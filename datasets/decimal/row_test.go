package decimal

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

func TestRow32(t *testing.T) {
	nan := float32(math.NaN())
	for _, c := range []struct {
		name string
		in   string
		want []float32 // as many as are asked for, NaN for those that are not read
		next string    // what begins where it stopped
	}{
		{"numbers", "1.5,-2.25,0.001\n", []float32{1.5, -2.25, 0.001}, "\n"},
		{"more than asked for", "1.5,2.5,3.5\n", []float32{1.5, 2.5}, ",3.5\n"},
		{"whole", "0,-12,1234567\r\n", []float32{0, -12, 1234567}, "\r\n"},
		{"a point at the end", "1.,-2.,3.\n", []float32{1, -2, 3}, "\n"},
		{"minus zero", "-0,-0.0\n", []float32{float32(math.Copysign(0, -1)), float32(math.Copysign(0, -1))}, "\n"},
		{"eight digits", "1.2345678,123.45678\n", []float32{1.2345678, 123.45678}, "\n"},
		{"sixteen digits", "1.234567890123456,-0.1234567890123456\n", []float32{1.2345679, -0.12345679}, "\n"},
		{"eighteen digits", "1.23456789012345678,123.123456789012345\n", []float32{1.2345679, 123.12346}, "\n"},
		{"nineteen digits", "1.234567890123456789\n", []float32{nan}, "1.234567890123456789\n"},
		{"leading zeros", "0.0000001234567890123\n", []float32{1.2345679e-7}, "\n"},
		{"empty", "1,,3\n", []float32{1, nan, nan}, ",3\n"},
		{"a word", "1,nan,3\n", []float32{1, nan, nan}, "nan,3\n"},
		{"an exponent", "1,2.5e3,3\n", []float32{1, nan, nan}, "2.5e3,3\n"},
		{"a plus", "+1,2\n", []float32{nan, nan}, "+1,2\n"},
		{"no digit before the point", ".5,2\n", []float32{nan, nan}, ".5,2\n"},
		{"two points", "1.5.2,2\n", []float32{nan, nan}, "1.5.2,2\n"},
		{"two signs", "--1,2\n", []float32{nan, nan}, "--1,2\n"},
		{"a blank", "1 ,2\n", []float32{nan, nan}, "1 ,2\n"},
		{"the line ends early", "1,2\n", []float32{1, nan, nan}, "2\n"},
		{"bytes beyond ASCII", "1.5\xff\xff,2\n", []float32{nan, nan}, "1.5\xff\xff,2\n"},
		{"a sign alone", "-,2\n", []float32{nan, nan}, "-,2\n"},
		{"nothing", "", []float32{nan}, ""},
		{"beside the middle of two", "1.00000005960464,1.00000005960465\n", []float32{1, 1.0000001}, "\n"},
		{"at the middle of two", "1.000000059604644775\n", []float32{nan}, "1.000000059604644775\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := append([]byte(c.in), make([]byte, Ahead)...)
			got := make([]float32, len(c.want))
			n, next := Row32(b, 0, ',', got)
			for i := range got {
				if i >= n {
					got[i] = nan
				}
				if math.Float32bits(got[i]) != math.Float32bits(c.want[i]) {
					t.Errorf("number %d is %v, want %v", i, got[i], c.want[i])
				}
			}
			if rest := string(b[next : len(b)-Ahead]); rest != c.next {
				t.Errorf("it stopped at %q, want %q", rest, c.next)
			}
		})
	}
}

// checkRow32 compares what Row32 reads of a line with what strconv makes of its fields.
func checkRow32(t *testing.T, line string) {
	t.Helper()
	for _, delimiter := range []byte{',', ';', '\t'} {
		b := append([]byte(line), make([]byte, Ahead)...)
		out := make([]float32, bytes.Count(b, []byte{delimiter})+1)
		n, next := Row32(b, 0, delimiter, out)
		if n < 0 || n > len(out) || next < 0 || next > len(line) {
			t.Fatalf("Row32(%q) gave %d and %d", line, n, next)
		}
		fields := strings.Split(line, string(delimiter))
		for i, v := range out[:n] {
			field := fields[i]
			if i == len(out)-1 {
				field = field[:strings.IndexAny(field, "\r\n")]
			}
			want, err := strconv.ParseFloat(field, 32)
			if err != nil || math.Float32bits(v) != math.Float32bits(float32(want)) {
				t.Fatalf("Row32(%q) gave %v for %q, want %v (%v)", line, v, field, want, err)
			}
		}
	}
}

// randomFields prints random numbers the ways data files do.
func randomFields(r *rand.Rand, count int) []string {
	fields := make([]string, count)
	for i := range fields {
		v := r.NormFloat64() * math.Pow(10, float64(r.IntN(8)-4))
		switch r.IntN(4) {
		case 0:
			fields[i] = strconv.FormatFloat(v, 'f', r.IntN(12), 64)
		case 1:
			fields[i] = strconv.FormatFloat(v, 'f', -1, 64)
		case 2:
			fields[i] = strconv.FormatFloat(v, 'f', -1, 32)
		case 3: // beside the middle of two float32 values
			f := float32(v)
			mid := (float64(f) + float64(math.Nextafter32(f, 2*f))) / 2
			fields[i] = strconv.FormatFloat(mid, 'f', 10+r.IntN(20), 64)
		}
	}
	return fields
}

// TestRow32AgreesOnRandomNumbers reads random numbers back.
func TestRow32AgreesOnRandomNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	read := 0
	for range 20_000 {
		line := strings.Join(randomFields(r, 10), ",") + "\n"
		checkRow32(t, line)
		n, _ := Row32(append([]byte(line), make([]byte, Ahead)...), 0, ',', make([]float32, 10))
		read += n
	}
	if read < 70_000 {
		t.Errorf("only %d of 200,000 numbers were read", read)
	}
}

func FuzzRow32(f *testing.F) {
	for _, s := range cases {
		f.Add(s + "," + s + "\n")
	}
	f.Add("1.5,-2.25;3\t0.1234567890123456\r\n")
	f.Fuzz(checkRow32)
}
