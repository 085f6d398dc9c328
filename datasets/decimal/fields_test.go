package decimal

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// bothWays runs check with and without the vector kernels.
func bothWays(check func()) {
	defer func(before bool) { vectors = before }(vectors)
	for _, on := range []bool{vectors, false} {
		vectors = on
		check()
	}
}

// around puts a text between bytes that look like a part of it.
func around(text string) []byte {
	return []byte("1,2,3\n,1" + text + strings.Repeat("9", Around))[8:][: len(text) : len(text)+Around]
}

// checkSeparators compares what Separators finds with a search byte by byte.
func checkSeparators(t *testing.T, text string) {
	t.Helper()
	for _, delimiter := range []byte{',', ';', '\t'} {
		want := []int32{-1}
		for i := range len(text) {
			if text[i] == delimiter || text[i] == '\n' {
				want = append(want, int32(i))
			}
		}
		bothWays(func() {
			b := around(text)
			if got := Separators(b, delimiter, []int32{-1}); !slices.Equal(got, want) {
				t.Errorf("vectors %v: the separators of %q are at %v, want %v", vectors, text, got, want)
			}
		})
	}
}

func TestSeparators(t *testing.T) {
	for _, text := range []string{"", ",", "\n", "1,2;3\t4\n", strings.Repeat(",", 300), strings.Repeat("a", 300),
		strings.Repeat("-1.234,5\n;", 40), strings.Repeat("\x80\xac\x8a\xff,", 33), strings.Repeat("\x0b-,\x2d\n", 31)} {
		for n := range min(len(text), 70) {
			checkSeparators(t, text[n:])
		}
		checkSeparators(t, text)
	}
}

func FuzzSeparators(f *testing.F) {
	f.Add("time,a_x\n0,1.5\n")
	f.Fuzz(checkSeparators)
}

// checkFields32 reads the fields of a text in runs and compares what comes out with what strconv makes of them.
func checkFields32(t *testing.T, text string, run Run) (read int) {
	t.Helper()
	bothWays(func() {
		b := around(text)
		ends := Separators(b, ',', []int32{-1})
		var want []string
		for at := 0; at+run.Length < len(ends); at += run.Length + run.Skip {
			for k := range run.Length {
				want = append(want, text[ends[at+k]+1:ends[at+k+1]])
			}
		}
		out := make([]float32, len(want)+1)
		out[len(want)] = 12345
		read = Fields32(b[:cap(b)], ends, ends[1:], run, out[:len(want)], 0)
		if read < len(want) && plain(want[read]) {
			t.Errorf("%v, vectors %v: it stopped at %q", run, vectors, want[read])
		}
		for i, field := range want[:read] {
			v, err := strconv.ParseFloat(field, 32)
			if err != nil || math.Float32bits(float32(v)) != math.Float32bits(out[i]) {
				t.Errorf("%v, vectors %v: %q was read as %v, want %v", run, vectors, field, out[i], v)
			}
		}
		again := slices.Clone(out)
		for done := range min(read, 9) {
			clear(again[done:read])
			// What is read together differs, and so does what numbers of rare forms are left out.
			n := Fields32(b[:cap(b)], ends, ends[1:], run, again[:len(want)], done)
			if n = min(n, read); n < done || !slices.Equal(again[:n], out[:n]) {
				t.Errorf("%v, vectors %v: from number %d on it read %v, want %v", run, vectors, done, again[:n], out[:n])
			}
		}
		if out[len(want)] != 12345 {
			t.Errorf("%v, vectors %v: it wrote behind the end", run, vectors)
		}
	})
	return read
}

// plain reports whether Fields32 reads a field in all ways: few digits in front of the point and behind it.
func plain(field string) bool {
	whole, behind, _ := strings.Cut(strings.TrimPrefix(field, "-"), ".")
	digits := strings.Trim(whole+behind, "0123456789") == ""
	return digits && len(whole) > 0 && len(whole) < 7 && len(behind) < 6
}

var runs = []Run{{1, 0}, {3, 2}, {3, 0}, {2, 1}, {5, 1}, {4, 3}, {72, 1}}

func TestFields32(t *testing.T) {
	forms := []string{"0", "-0", "1.5", "-2.25", "1.", "-12345678", "12345678.5", "0.0000001234567890123",
		"0.123456789012345678901234", "-7.000000000000000000000001", "16777217", "16777219.0", "1.00000005960464",
		"1.00000005960465", "1.000000059604644775390625", "0.1", "99999999.999999999999999999999999"}
	others := []string{"", "-", ".", "-.", ".5", "+1", "--1", "1-", "1.5.2", "1e3", "nan", " 1", "1 ", "\"1\"", "1.5\r",
		"123456789", "0.1234567890123456789012345", "1.5\xff", "1:5", "1/5", "\x00", "1\x80", "1_0", "0x10",
		strings.Repeat("1", 40), strings.Repeat("1", 16) + ".5", strings.Repeat("0", 31) + ".5",
		strings.Repeat("0", 60) + ".5"}
	for _, run := range runs {
		for lead := range 5 {
			for _, form := range append(forms, others...) {
				fields := slices.Repeat([]string{"1.5"}, 12)
				fields[lead] = form
				for range run.Length + run.Skip {
					fields = append(fields, "-2.5")
				}
				checkFields32(t, strings.Join(fields, ",")+"\n", run)
			}
		}
		checkFields32(t, strings.Join(forms, ",")+"\n", run)
	}
}

// TestFields32AgreesOnRandomNumbers reads random numbers back.
func TestFields32AgreesOnRandomNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, run := range runs {
		read, all := 0, 0
		for range 300 {
			fields := randomFields(r, 10*(run.Length+run.Skip))
			read += checkFields32(t, strings.Join(fields, ",")+"\n", run)
			all += 10 * run.Length
		}
		if read == 0 || all == 0 {
			t.Errorf("%v: %d of %d numbers were read", run, read, all)
		}
	}
}

func FuzzFields32(f *testing.F) {
	for _, s := range cases {
		f.Add("1,2.5,-3,"+s+","+s+"\n", 1, 0)
	}
	f.Add("0,a,1.5,-2.5,3.25\n0,b,0.1234567890123456,12345678.5,\n", 3, 2)
	f.Fuzz(func(t *testing.T, text string, length, skip int) {
		checkFields32(t, text, Run{1 + length&15, skip & 15})
	})
}

// BenchmarkFields32 reads numbers of a few forms, with the search for their ends.
func BenchmarkFields32(b *testing.B) {
	for _, digits := range []int{3, 6, -1} {
		for _, on := range []bool{vectors, false} {
			b.Run(fmt.Sprintf("%d decimals, vectors %v", digits, on), func(b *testing.B) {
				defer func(before bool) { vectors = before }(vectors)
				vectors = on
				const n = 10_000
				r := rand.New(rand.NewPCG(1, 2))
				var text []byte
				for range n {
					text = append(strconv.AppendFloat(text, r.NormFloat64(), 'f', digits, 64), ',')
				}
				b.SetBytes(int64(len(text)))
				all := append(text, make([]byte, Around)...)
				out := make([]float32, n)
				var ends []int32
				for b.Loop() {
					ends = Separators(all[:len(text)], ',', append(ends[:0], -1))
					for done := 0; done < n; done++ {
						if done = Fields32(all, ends, ends[1:], Run{n, 0}, out, done); done < n {
							out[done], _ = Scan32(text, int(ends[done])+1)
						}
					}
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/number")
			})
		}
	}
}
