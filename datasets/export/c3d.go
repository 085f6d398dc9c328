package export

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"unicode"

	"tossline/datasets/c3d"
	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
	"tossline/kernel/motion"
)

// C3D makes a C3D file of a recording: its frames in metres, the events of its serves, what is known of the player, and
// the signals that were recorded beside the points. C3D counts analog samples by the frame, so that only signals fit of
// one rate which is a multiple of that of the frames: those of the most common one are taken, and the names of the
// others are given.
func C3D(c *catalogue.Catalogue, recording int, signals []frames.Signal) (file *c3d.File, left []string, err error) {
	take, err := c.Take(recording)
	if err != nil {
		return nil, nil, err
	}
	r := c.Recordings()[recording]
	own := c3d.Own{RateHz: take.Rate, Player: r.Player, Session: r.Session, Hand: string(r.Hand),
		Events: eventsOf(c, recording)}
	for _, n := range take.Layout.Names() {
		own.Landmarks = append(own.Landmarks, string(n))
	}
	err = frames.Guard(func() error {
		own.XYZ = take.Frames
		file = c3d.New(own)
		return nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("recording %s: %w", r.ID, err)
	}
	perFrame := commonRate(signals, take.Rate)
	var channels []c3d.Channel
	var values [][]float32
	for _, s := range signals {
		if perFrame == 0 || samplesPerFrame(s, take.Rate) != perFrame {
			left = append(left, s.Name)
			continue
		}
		channels, values = append(channels, c3d.Channel{Name: s.Name, Unit: s.Unit}), append(values, s.Values)
	}
	if len(channels) > 0 {
		file.AddChannels(channels, perFrame, values)
	}
	return file, left, nil
}

// samplesPerFrame is 0 where that is no whole number.
func samplesPerFrame(s frames.Signal, rate float64) int {
	n := s.RateHz / rate
	if whole := math.Round(n); whole >= 1 && whole < 1<<15 && math.Abs(n-whole) < 1e-6*n {
		return int(whole)
	}
	return 0
}

func commonRate(signals []frames.Signal, rate float64) int {
	count, best := map[int]int{}, 0
	for _, s := range signals {
		n := samplesPerFrame(s, rate)
		if count[n]++; n > 0 && (count[n] > count[best] || best == 0) {
			best = n
		}
	}
	return best
}

// eventsOf lists the events of all serves of a recording in the order of time.
func eventsOf(c *catalogue.Catalogue, recording int) []c3d.Event {
	var events []c3d.Event
	for row := range c.Rows() {
		s := c.Row(row)
		if s.Recording != recording {
			continue
		}
		for _, kind := range motion.EventKinds {
			if e, ok := s.Events[kind]; ok {
				events = append(events, c3d.Event{Label: string(kind), Context: "General", TimeS: e.TimeS})
			}
		}
	}
	sort.SliceStable(events, func(i, j int) bool { return events[i].TimeS < events[j].TimeS })
	return events
}

// SaveC3D writes every recording whose frames can be read to a C3D file of its name in a folder, and gives their paths
// and what does not fit into C3D.
func SaveC3D(folder string, c *catalogue.Catalogue, signalsOf func(recording string) ([]frames.Signal, error)) (paths,
	left []string, err error) {
	names := c3dFiles(c.Recordings())
	for i, r := range c.Recordings() {
		if c.Damaged(i) != "" {
			continue
		}
		signals, err := signalsOf(r.ID)
		if err != nil {
			return paths, left, err
		}
		file, without, err := C3D(c, i, signals)
		if err != nil {
			return paths, left, err
		}
		if len(without) > 0 {
			left = append(left, fmt.Sprintf("signals of recording %s: %s", r.ID, strings.Join(without, ", ")))
		}
		path := filepath.Join(folder, names[i])
		if err := SaveWith(path, func(w io.Writer) error { return file.Encode(w) }); err != nil {
			return paths, left, err
		}
		paths = append(paths, path)
	}
	return paths, left, nil
}

// reserved are the names that Windows keeps for devices, whatever they end in.
var reserved = regexp.MustCompile(`(?i)^(con|prn|aux|nul|com\d|lpt\d)(\.|$)`)

// C3DName is what the C3D file of a recording of a file is called, without its ending, on every system. The part of the
// file that the recording is stands behind its name: "day.csv: noon" becomes "day noon".
func C3DName(file string) string {
	own, part, _ := strings.Cut(file, ": ")
	if filepath.Ext(own) == "" { // the file's own name has a colon
		own, part = file, ""
	}
	own = strings.TrimSuffix(own, ".gz")
	name := strings.Map(func(c rune) rune {
		if strings.ContainsRune(`/\:*?"<>|`, c) || unicode.IsControl(c) {
			return '_'
		}
		return c
	}, strings.TrimSuffix(own, filepath.Ext(own))+" "+part)
	name = strings.TrimLeft(strings.TrimSpace(name), ".")
	if reserved.MatchString(name) {
		name = "_" + name
	}
	const longest = 200 // bytes, of the 255 that most systems take
	return strings.ToValidUTF8(name[:min(len(name), longest)], "")
}

// c3dFiles gives each recording the name of its own file with another ending; those that would be called the same, or
// nothing, have their ids in it.
func c3dFiles(recordings []catalogue.Recording) []string {
	names, called := make([]string, len(recordings)), map[string]int{}
	for i, r := range recordings {
		names[i] = C3DName(r.File)
		called[strings.ToLower(names[i])]++
	}
	for i, r := range recordings {
		if names[i] == "" || called[strings.ToLower(names[i])] > 1 {
			names[i] += "-" + r.ID
		}
		names[i] += ".c3d"
	}
	return names
}
