package delimited

import (
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

// peerScript times pandas.read_csv, told no more of a file than it has to be, in an interpreter that has read the file
// once already: the best of several reads, in seconds and in processor seconds.
const peerScript = `
import json, sys, time, pandas
best, cpu = 1e9, 1e9
told = json.loads(sys.argv[3])
pandas.read_csv(sys.argv[1], **told)
for _ in range(int(sys.argv[2])):
    t, c = time.perf_counter(), time.process_time()
    pandas.read_csv(sys.argv[1], **told)
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
	plain := bytes.Clone
	replace := func(pairs ...string) func([]byte) []byte {
		r := strings.NewReplacer(pairs...)
		return func(text []byte) []byte { return []byte(r.Replace(string(text))) }
	}
	quoted := func(text []byte) []byte {
		text = replace(",", `","`, "\n", "\"\n\"")(text)
		return append([]byte{'"'}, text[:len(text)-1]...)
	}
	for _, layout := range []struct {
		name   string
		write  func(frames int) []byte
		row    int // bytes of a frame, about
		change func([]byte) []byte
		told   string
	}{
		{"wide", func(n int) []byte { return wideTable(n, 3) }, 560, plain, `{}`},
		{"wide-6-digits", func(n int) []byte { return wideTable(n, 6) }, 770, plain, `{}`},
		{"wide-shortest", func(n int) []byte { return wideTable(n, -1) }, 1400, plain, `{}`},
		{"wide-semicolons", func(n int) []byte { return wideTable(n, 4) }, 630, replace(",", ";", ".", ","),
			`{"sep": ";", "decimal": ","}`},
		{"wide-gaps", func(n int) []byte { return wideTable(n, 4) }, 560, replace(",-0.1", ",", ",0.2", ","), `{}`},
		{"wide-quotes", func(n int) []byte { return wideTable(n, 4) }, 770, quoted, `{}`},
		{"wide-returns", func(n int) []byte { return wideTable(n, 4) }, 630, replace("\n", "\r\n"), `{}`},
		{"long", longTable, 1000, plain, `{}`},
		{"long-by-landmark", longByLandmark, 1000, plain, `{}`},
	} {
		for _, mb := range []int{largest / 20, largest} {
			b.Run(fmt.Sprintf("%s/%dMB", layout.name, mb), func(b *testing.B) {
				path := filepath.Join(b.TempDir(), "table.csv")
				if err := os.WriteFile(path, layout.change(layout.write(mb*1e6/layout.row)), 0o600); err != nil {
					b.Fatal(err)
				}
				againstPandas(b, path, layout.told)
			})
		}
	}
}

func againstPandas(b *testing.B, path, told string) {
	var wall, cpu float64
	out, err := exec.Command(peerPython, "-c", peerScript, path, "3", told).Output()
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

// wideTable has a row a frame: its time and the coordinates of all points.
func wideTable(frames, digits int) []byte {
	text := []byte("time")
	for p := range peerPoints {
		text = fmt.Appendf(text, ",point%d_x,point%d_y,point%d_z", p, p, p)
	}
	points := newWalk()
	for f := range frames {
		points.step()
		text = strconv.AppendFloat(append(text, '\n'), float64(f)/200, 'f', -1, 64)
		for _, v := range points.at {
			text = strconv.AppendFloat(append(text, ','), v, 'f', digits, 64)
		}
	}
	return append(text, '\n')
}

// longTable has a row for each frame and point.
func longTable(frames int) []byte {
	text := []byte("frame,marker,x,y,z\n")
	points := newWalk()
	for f := range frames {
		points.step()
		for p := range peerPoints {
			text = points.row(text, f, p)
		}
	}
	return text
}

// longByLandmark has all rows of a point before those of the next.
func longByLandmark(frames int) []byte {
	text := []byte("frame,marker,x,y,z\n")
	for p := range peerPoints {
		points := newWalk()
		for f := range frames {
			points.step()
			text = points.row(text, f, p)
		}
	}
	return text
}

// row is the row of a long table.
func (w *walk) row(text []byte, frame, point int) []byte {
	text = strconv.AppendInt(text, int64(frame), 10)
	text = append(append(text, ",point"...), byte('a'+point))
	for _, v := range w.at[3*point:][:3] {
		text = strconv.AppendFloat(append(text, ','), v, 'f', 5, 64)
	}
	return append(text, '\n')
}
