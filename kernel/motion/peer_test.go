package motion_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
	"unsafe"

	"tossline/datasets/catalogue"
	"tossline/datasets/landmark"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// The peer measures the same serves with numpy and scipy: see testdata/peer. Its work per serve: fill the gaps of 72
// channels, filter them, 24 peak speeds, two events, seven measures; then means by player.
const (
	peerPython  = "/usr/bin/python3"
	trialFrames = 600
	trialRate   = 200
	trialBytes  = trialFrames * 72 * 4
	perTake     = 100 // serves of a recording: 17 MB of frames
)

// trialLandmarks are the points of the peer's trials, in its order.
var trialLandmarks = landmark.NewLayout([]landmark.Name{
	landmark.Head, landmark.C7, landmark.LeftShoulder, landmark.RightShoulder, landmark.LeftElbow, landmark.RightElbow,
	landmark.LeftWrist, landmark.RightWrist, landmark.LeftHand, landmark.RightHand, landmark.LeftHip, landmark.RightHip,
	landmark.LeftKnee, landmark.RightKnee, landmark.LeftAnkle, landmark.RightAnkle, landmark.LeftToe, landmark.RightToe,
	landmark.RacketGrip, landmark.RacketThroat, landmark.RacketLeft, landmark.RacketRight, landmark.RacketTip,
	landmark.Ball,
})

// shelf is what the three recipes of the shelf ask for, one after the other.
var shelf = [][]motion.Measure{
	{motion.ContactOffset, motion.ContactForward, motion.ContactHeight},
	{motion.FrontKneeFlexion, motion.BackKneeFlexion},
	{motion.DropDepth},
}

// BenchmarkPeer sets the program's whole path, from the folder of a season on the disk to the table of its measures,
// against that of the peer, from the arrays on the disk to the table of means, in one run on the same cores: the
// expert's script filters by a banded operator. x_ is the ratio of serves a second to the script's, x_one-core to those
// on one core, and of-mmap how fast frames are gone over against a scan of the mapped frames on as many cores, where
// each list of measures goes over them once. The ratios of processor time (cpu-x) hold on a machine that does other
// things as well. With TOSSLINE_BENCH_SERVES another number of serves than 1,000 is measured; with
// GODEBUG=cpu.avx2=off there are no vector kernels.
func BenchmarkPeer(b *testing.B) {
	serves := 1000
	if n, err := strconv.Atoi(os.Getenv("TOSSLINE_BENCH_SERVES")); err == nil {
		serves = n
	}
	p := newPeer(b, serves)
	p.makeSeason(b, serves)
	scripts := map[string]speed{}
	for _, script := range []struct{ name, mode string }{{"batched", "batch+mp"}, {"expert", "band+mp"}} {
		b.Run("script/"+script.name, func(b *testing.B) {
			for b.Loop() {
				s := p.script(b, script.mode)
				if s.each > scripts[script.name].each {
					scripts[script.name] = s
				}
			}
			b.ReportMetric(scripts[script.name].each, "serves/s")
			b.ReportMetric(1e6*scripts[script.name].cpu, "cpu-us/serve")
		})
	}
	scans := map[int]float64{}
	cores := []int{1, runtime.NumCPU()}
	for _, n := range cores {
		b.Run(fmt.Sprintf("scan/cores=%d", n), func(b *testing.B) {
			scans[n] = p.scan(b, n)
			b.ReportMetric(scans[n]/1e6, "MB/s")
		})
	}
	run := func(b *testing.B, lists [][]motion.Measure) speed {
		us := p.run(b, lists)
		for name, them := range scripts {
			b.ReportMetric(us.each/them.each, "x_"+name)
			if us.cpu > 0 {
				b.ReportMetric(them.cpu/us.cpu, "cpu-x_"+name)
			}
		}
		return us
	}
	for _, work := range []struct {
		name  string
		lists [][]motion.Measure
	}{{"shelf", shelf}, {"all", [][]motion.Measure{motion.All()}}} {
		one := 0.0
		for _, n := range cores {
			b.Run(fmt.Sprintf("%s/cores=%d", work.name, n), func(b *testing.B) {
				defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(n))
				us := run(b, work.lists)
				if n == 1 {
					one = us.each
				} else if one > 0 {
					b.ReportMetric(us.each/one, "x_one-core")
				}
				if scans[n] > 0 {
					b.ReportMetric(us.each*trialBytes*float64(len(work.lists))/scans[n], "of-mmap")
				}
			})
		}
	}
	p.keep(b, shelf)
	b.Run("shelf/cached", func(b *testing.B) { run(b, shelf) })
}

// BenchmarkSize is the cost of a serve by the size of the season, from its folder to the tables, and the largest
// anonymous memory of the process meanwhile. The season holds the same trials over and over, of which there are more
// than caches hold. With TOSSLINE_BENCH_LARGE set there is one of 60,000 serves too.
func BenchmarkSize(b *testing.B) {
	sizes := []int{1000, 6000}
	if os.Getenv("TOSSLINE_BENCH_LARGE") != "" {
		sizes = append(sizes, 60_000)
	}
	p := newPeer(b, sizes[0])
	for _, serves := range sizes {
		p.makeSeason(b, serves)
		for _, work := range []struct {
			name  string
			lists [][]motion.Measure
		}{{"shelf", shelf}, {"all", [][]motion.Measure{motion.All()}}} {
			b.Run(fmt.Sprintf("%s/serves=%d", work.name, serves), func(b *testing.B) {
				debug.FreeOSMemory()
				watched := watchMemory()
				p.run(b, work.lists)
				b.ReportMetric(watched(), "MB-anonymous")
			})
		}
	}
}

// run measures the season over and over, and gives how fast.
func (p *peer) run(b *testing.B, lists [][]motion.Measure) speed {
	before := cpuSeconds()
	for b.Loop() {
		p.measure(b, lists)
	}
	us := speed{float64(p.serves*b.N) / b.Elapsed().Seconds(), (cpuSeconds() - before) / float64(p.serves*b.N)}
	b.ReportMetric(us.each, "serves/s")
	b.ReportMetric(us.each*trialBytes/1e6, "MB/s")
	b.ReportMetric(1e6*us.cpu, "cpu-us/serve")
	return us
}

// scan reads a value of every cache line of the mapped frames on so many cores, and gives how many bytes that are a
// second.
func (p *peer) scan(b *testing.B, cores int) float64 {
	s, c := p.open(b)
	defer s.Close()
	var total atomic.Uint32
	for b.Loop() {
		var next atomic.Int64
		var workers sync.WaitGroup
		for range cores {
			workers.Go(func() {
				sum := float32(0)
				for k := int(next.Add(1)) - 1; k < len(c.Recordings()); k = int(next.Add(1)) - 1 {
					for xyz := c.Frames(k).XYZ(); len(xyz) >= 64; xyz = xyz[64:] {
						sum += xyz[0] + xyz[16] + xyz[32] + xyz[48]
					}
				}
				total.Add(math.Float32bits(sum))
			})
		}
		workers.Wait()
	}
	return float64(p.serves*b.N) * trialBytes / b.Elapsed().Seconds()
}

// watchMemory notes the anonymous memory of the process a hundred times a second, and gives its largest when asked.
func watchMemory() func() float64 {
	stop, largest := make(chan struct{}), make(chan float64)
	go func() {
		most := 0.0
		for {
			most = max(most, residentMB())
			select {
			case <-time.After(10 * time.Millisecond):
			case <-stop:
				largest <- most
				return
			}
		}
	}()
	return func() float64 { close(stop); return <-largest }
}

// speed is serves a second, and seconds of all processors together for one.
type speed struct{ each, cpu float64 }

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

// residentMB is the memory of this process that is in RAM, without mapped files; 0 where the system does not say.
func residentMB() float64 {
	status, _ := os.ReadFile("/proc/self/status")
	match := regexp.MustCompile(`RssAnon:\s+(\d+) kB`).FindSubmatch(status)
	if match == nil {
		return 0
	}
	kB, _ := strconv.ParseFloat(string(match[1]), 64)
	return kB / 1024
}

// peer is trials that both sides measure.
type peer struct {
	dir    string
	arrays string // prefix of the script's files
	folder string // season folder
	trials int    // of the arrays
	serves int    // of the season
}

func newPeer(b *testing.B, serves int) *peer {
	b.Helper()
	if exec.Command(peerPython, "-c", "import scipy.signal, pandas").Run() != nil {
		b.Skip("no python3 with scipy and pandas here")
	}
	dir := b.TempDir()
	p := &peer{dir: dir, arrays: filepath.Join(dir, "peer"), trials: serves}
	if out, err := exec.Command(peerPython, "testdata/peer/gen.py", strconv.Itoa(serves),
		p.arrays).CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	return p
}

// makeSeason makes a season of so many serves of the trials, over and over: a whole number of times.
func (p *peer) makeSeason(b *testing.B, serves int) {
	b.Helper()
	players, hands := p.array(b, "_player"), p.array(b, "_hand")
	frames := floatsOf(p.array(b, "_x"))
	p.serves, p.folder = 0, filepath.Join(p.dir, fmt.Sprint("season of ", serves))
	w, err := season.Create(p.folder, "benchmark")
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	byPlayer := map[int][]int{}
	for k := range p.trials {
		player := int(binary.LittleEndian.Uint32(players[4*k:]))
		byPlayer[player] = append(byPlayer[player], k)
	}
	for player, trials := range byPlayer {
		for from := 0; from < len(trials); from += perTake {
			imp := trialsImport(frames, trials[from:min(from+perTake, len(trials))], int8(hands[trials[from]]))
			imp.Player = fmt.Sprint("player ", player)
			for copy := range serves / p.trials {
				imp.File = fmt.Sprintf("%d-%d-%d.npy", player, from, copy)
				imp.SourceSHA256 = fmt.Sprintf("%06x%06x%052d", 1000*player+from, copy, 0)
				p.serves += len(imp.Serves)
				if _, err := w.AddRecording(context.Background(), imp); err != nil {
					b.Fatal(err)
				}
			}
		}
	}
	if p.serves != serves {
		b.Fatalf("%d serves were found in %d trials", p.serves, serves)
	}
}

// array reads the values of an array file of the script.
func (p *peer) array(b *testing.B, suffix string) []byte {
	data, err := os.ReadFile(p.arrays + suffix + ".npy")
	if err != nil {
		b.Fatal(err)
	}
	return data[10+int(binary.LittleEndian.Uint16(data[8:])):]
}

func floatsOf(data []byte) []float32 {
	return unsafe.Slice((*float32)(unsafe.Pointer(unsafe.SliceData(data))), len(data)/4)
}

// trialsImport makes a recording of trials, one after the other, turned from the script's frame (lateral, forward, up)
// into that of this program. The events are those that Cut finds, or where it finds none, at fixed times.
func trialsImport(frames []float32, trials []int, hand int8) season.Import {
	imp := season.Import{Format: "npy", RateHz: trialRate, Layout: trialLandmarks, Hand: motion.HandRight, HeightM: 1.8}
	if hand < 0 {
		imp.Hand = motion.HandLeft
	}
	for n, k := range trials {
		const values = trialFrames * 72
		trial := frames[k*values : (k+1)*values]
		for i := 0; i < values; i += 3 {
			imp.Frames = append(imp.Frames, trial[i+1], trial[i+2], trial[i])
		}
		imp.Serves = append(imp.Serves, trialServe(imp, n))
	}
	return imp
}

func trialServe(imp season.Import, n int) motion.Serve {
	take := motion.Take{Rate: imp.RateHz, Layout: imp.Layout, Hand: imp.Hand, Frames: imp.Frames[n*trialFrames*72:]}
	s := motion.Serve{Events: motion.Events{}}
	for kind, at := range map[motion.EventKind]float64{motion.Start: 0.5, motion.Release: 1.2, motion.Trophy: 1.45,
		motion.LowPoint: 1.75, motion.Takeoff: 1.75, motion.Contact: 1.88, motion.Landing: 2.1, motion.Finish: 2.5} {
		s.Events[kind] = motion.Event{TimeS: at, Method: "fixed"}
	}
	if found := motion.Cut(take).Serves; len(found) == 1 && !found[0].CutOff {
		s.Events = found[0].Events
	}
	for kind, e := range s.Events {
		e.TimeS += float64(n*trialFrames) / trialRate
		s.Events[kind] = e
	}
	s.First, s.Last = n*trialFrames, (n+1)*trialFrames-1
	return s
}

var said = regexp.MustCompile(`([0-9.]+) cpu-s ([0-9.]+) trials/s`)

// script runs the peer and gives the speed that it reports; its start is not counted.
func (p *peer) script(b *testing.B, mode string) speed {
	var out bytes.Buffer
	command := exec.Command(peerPython, "testdata/peer/peer.py", p.arrays, mode)
	command.Stdout, command.Stderr = &out, &out
	if err := command.Run(); err != nil {
		b.Fatalf("%v: %s", err, &out)
	}
	match := said.FindSubmatch(out.Bytes())
	if match == nil {
		b.Fatalf("the script says %s", &out)
	}
	seconds, _ := strconv.ParseFloat(string(match[1]), 64)
	each, _ := strconv.ParseFloat(string(match[2]), 64)
	return speed{each, seconds / float64(p.trials)}
}

// measure opens the folder and measures its serves, once for each list.
func (p *peer) measure(b *testing.B, lists [][]motion.Measure) {
	s, c := p.open(b)
	defer s.Close()
	for _, list := range lists {
		t, err := motion.NewSeason(context.Background(), c, nil).Measure(list...)
		if err != nil || t.Len() != p.serves {
			b.Fatal(t.Len(), err)
		}
	}
}

func (p *peer) open(b *testing.B) (*season.Season, *catalogue.Catalogue) {
	s, err := season.Open(p.folder)
	if err != nil {
		b.Fatal(err)
	}
	c, err := s.Snapshot(context.Background())
	if err != nil || c.Len() != p.serves {
		b.Fatal(c, err)
	}
	return s, c
}

// keep measures every serve and keeps the values in the season's cache.
func (p *peer) keep(b *testing.B, lists [][]motion.Measure) {
	s, c := p.open(b)
	defer s.Close()
	for _, list := range lists {
		if _, err := motion.NewSeason(context.Background(), c, nil).Measure(list...); err != nil {
			b.Fatal(err)
		}
	}
	if err := s.KeepMeasured(context.Background(), slices.Collect(c.TakeKept())...); err != nil {
		b.Fatal(err)
	}
}

// BenchmarkMeasure is the cost of one serve on one core, by what is asked.
func BenchmarkMeasure(b *testing.B) {
	clips := peerClips(b, 64)
	for _, list := range []struct {
		name     string
		measures []motion.Measure
	}{
		{"shelf", []motion.Measure{motion.ContactOffset, motion.ContactForward, motion.ContactHeight,
			motion.FrontKneeFlexion,
			motion.BackKneeFlexion, motion.DropDepth}},
		{"all", motion.All()},
	} {
		b.Run(list.name, func(b *testing.B) {
			compute := motion.NewMeasurer(list.measures...)
			values := make([]motion.Value, len(list.measures))
			i, start := 0, time.Now()
			b.ReportAllocs()
			for b.Loop() {
				compute(&clips[i%len(clips)], values)
				i++
			}
			b.ReportMetric(float64(i)/time.Since(start).Seconds(), "serves/s")
		})
	}
}

func peerClips(b *testing.B, n int) []motion.Clip {
	p := newPeer(b, n)
	p.makeSeason(b, n)
	s, err := season.Open(p.folder)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	var c *catalogue.Catalogue
	if c, err = s.Snapshot(context.Background()); err != nil {
		b.Fatal(err)
	}
	clips := make([]motion.Clip, n)
	for i := range clips {
		if clips[i], err = c.Clip(i); err != nil {
			b.Fatal(err)
		}
	}
	missing := 0
	for _, v := range motion.Compute(clips[0], motion.All()...) {
		if math.IsNaN(v.Number) {
			missing++
		}
	}
	b.Logf("%d of %d measures missing in the first serve", missing, len(motion.All()))
	return clips
}
