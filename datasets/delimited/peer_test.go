package delimited

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// peerPython is the interpreter that has pandas.
const peerPython = "/usr/bin/python3"

// peerScript times pandas.read_csv as it is by default, in an interpreter that has read the file once already: the
// best of several reads, in seconds and in processor seconds.
const peerScript = `
import sys, time, pandas
best, cpu = 1e9, 1e9
pandas.read_csv(sys.argv[1])
for _ in range(int(sys.argv[2])):
    t, c = time.perf_counter(), time.process_time()
    pandas.read_csv(sys.argv[1])
    best, cpu = min(best, time.perf_counter() - t), min(cpu, time.process_time() - c)
print(best, cpu)
`

// BenchmarkPandas sets reading a table against pandas.read_csv of the same file, in one run on the same cores: x is the
// ratio of the best times, and cpu-x that of the processor times, which holds on a machine that does other things as
// well. TOSSLINE_BENCH_MB is the size of the largest files.
func BenchmarkPandas(b *testing.B) {
	if exec.Command(peerPython, "-c", "import pandas").Run() != nil {
		b.Skip("no python3 with pandas here")
	}
	largest := 100
	if n, err := strconv.Atoi(os.Getenv("TOSSLINE_BENCH_MB")); err == nil {
		largest = n
	}
	for _, layout := range []struct {
		name  string
		write func(w io.Writer, frames int)
		row   int // bytes of a frame, about
	}{
		{"wide", func(w io.Writer, frames int) { wideTable(w, frames, 3) }, 560},
		{"wide-6-digits", func(w io.Writer, frames int) { wideTable(w, frames, 6) }, 770},
		{"wide-shortest", func(w io.Writer, frames int) { wideTable(w, frames, -1) }, 1400},
		{"long", longTable, 1000},
	} {
		for _, mb := range []int{largest / 20, largest} {
			b.Run(fmt.Sprintf("%s/%dMB", layout.name, mb), func(b *testing.B) {
				path := filepath.Join(b.TempDir(), "table.csv")
				f, err := os.Create(path)
				if err != nil {
					b.Fatal(err)
				}
				out := bufio.NewWriterSize(f, 1<<20)
				layout.write(out, mb*1e6/layout.row)
				if err := out.Flush(); err != nil {
					b.Fatal(err)
				}
				f.Close()
				againstPandas(b, path)
			})
		}
	}
}

func againstPandas(b *testing.B, path string) {
	var wall, cpu float64
	out, err := exec.Command(peerPython, "-c", peerScript, path, "3").Output()
	if _, scanErr := fmt.Sscan(string(out), &wall, &cpu); err != nil || scanErr != nil {
		b.Fatalf("%v %v: %s", err, scanErr, out)
	}
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(info.Size())
	best := time.Hour
	before := cpuSeconds()
	for b.Loop() {
		began := time.Now()
		f, err := os.Open(path)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := Read(io.NewSectionReader(f, 0, info.Size())); err != nil {
			b.Fatal(err)
		}
		f.Close()
		best = min(best, time.Since(began))
	}
	own := (cpuSeconds() - before) / float64(b.N)
	b.ReportMetric(wall/best.Seconds(), "x")
	b.ReportMetric(float64(info.Size())/1e6/wall, "pandas-MB/s")
	if own > 0 {
		b.ReportMetric(cpu/own, "cpu-x")
	}
}

// cpuSeconds is the time that processors have spent on this process, in steps of a hundredth; 0 where the system does
// not say.
func cpuSeconds() float64 {
	stat, _ := os.ReadFile("/proc/self/stat")
	fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
	if len(fields) < 13 {
		return 0
	}
	user, _ := strconv.ParseFloat(fields[11], 64)
	system, _ := strconv.ParseFloat(fields[12], 64)
	return (user + system) / 100
}

// peerPoints is how many points the tables have.
const peerPoints = 24

// walk gives the coordinates of a point that wanders, in metres.
type walk struct {
	random *rand.Rand
	at     [3 * peerPoints]float64
}

func newWalk() *walk { return &walk{random: rand.New(rand.NewPCG(1, 2))} }

func (w *walk) step() {
	for i := range w.at {
		w.at[i] += w.random.NormFloat64() * 0.01
	}
}

// wideTable writes a row a frame: its time and the coordinates of all points.
func wideTable(w io.Writer, frames, digits int) {
	fmt.Fprint(w, "time")
	for p := range peerPoints {
		fmt.Fprintf(w, ",point%d_x,point%d_y,point%d_z", p, p, p)
	}
	points := newWalk()
	var row []byte
	for f := range frames {
		points.step()
		row = strconv.AppendFloat(append(row[:0], '\n'), float64(f)/200, 'f', -1, 64)
		for _, v := range points.at {
			row = strconv.AppendFloat(append(row, ','), v, 'f', digits, 64)
		}
		w.Write(row)
	}
	fmt.Fprintln(w)
}

// longTable writes a row for each frame and point.
func longTable(w io.Writer, frames int) {
	fmt.Fprint(w, "frame,marker,x,y,z")
	points := newWalk()
	var row []byte
	for f := range frames {
		points.step()
		row = row[:0]
		for p := range peerPoints {
			row = strconv.AppendInt(append(row, '\n'), int64(f), 10)
			row = append(append(row, ",point"...), byte('a'+p))
			for _, v := range points.at[3*p:][:3] {
				row = strconv.AppendFloat(append(row, ','), v, 'f', 5, 64)
			}
		}
		w.Write(row)
	}
	fmt.Fprintln(w)
}
