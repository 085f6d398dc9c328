package c3d

import "math"

// Frames in our own form say so in a group of parameters of their own: X in the direction of the serve, Y up, the court
// at height 0, points named as landmarks.
const (
	ownGroup = "TOSSLINE"
	ownFrame = "global"
)

// Own is a recording in the form of this program, to be written as C3D.
type Own struct {
	Landmarks             []string
	XYZ                   []float32 // as in motion.Take: metres, NaN where missing
	RateHz                float64
	Player, Session, Hand string
	Events                []Event // in the order of time
}

// New makes a file of a recording: reals of Intel processors. What is read again is identical.
func New(o Own) *File {
	f := &File{Processor: Intel, Scale: -1, RateHz: o.RateHz, First: 1, Labels: o.Landmarks, GenScale: 1,
		XYZ: make([]float32, len(o.XYZ)), Fourth: make([]float32, len(o.XYZ)/3)}
	for i := range f.Fourth {
		from, to := o.XYZ[3*i:3*i+3], f.XYZ[3*i:3*i+3]
		if finite(from) {
			copy(to, from)
		} else {
			f.Fourth[i] = -1
		}
	}
	g := groupList{&f.Groups}
	g.set("POINT", "UNITS", texts("m"))
	g.set("POINT", "X_SCREEN", texts("+X"))
	g.set("POINT", "Y_SCREEN", texts("+Y"))
	g.set(ownGroup, "FRAME", texts(ownFrame))
	for name, value := range map[string]string{"SESSION": o.Session, "HAND": o.Hand} {
		if value != "" {
			g.set(ownGroup, name, texts(value))
		}
	}
	if o.Player != "" {
		g.set("SUBJECTS", "USED", integers(1))
		g.set("SUBJECTS", "NAMES", texts(o.Player))
	}
	f.setEvents(o.Events)
	return f
}

// mostTimes is how many events the parameters count.
const mostTimes = 255

func (f *File) setEvents(events []Event) {
	events = events[:min(len(events), mostTimes)]
	if len(events) == 0 {
		return
	}
	var labels, contexts []string
	times := Parameter{Type: Real, Dims: []int{2, len(events)}}
	for _, e := range events {
		labels, contexts = append(labels, e.Label), append(contexts, e.Context)
		minutes := math.Floor(e.TimeS / 60)
		times.Reals = append(times.Reals, float32(minutes), float32(e.TimeS-60*minutes))
	}
	g := groupList{&f.Groups}
	g.set("EVENT", "USED", integers(len(events)))
	g.set("EVENT", "LABELS", texts(labels...))
	g.set("EVENT", "CONTEXTS", texts(contexts...))
	g.set("EVENT", "TIMES", times)
}

// AddChannels gives the file analog channels: values has perFrame samples of each for every frame, NaN where missing,
// channel by channel. Those that are shorter than the frames are filled up with NaN.
func (f *File) AddChannels(channels []Channel, perFrame int, values [][]float32) {
	f.Channels, f.PerFrame = channels, perFrame
	f.Analog = make([]float32, f.Frames()*perFrame*len(channels))
	for c := range channels {
		f.Channels[c].Scale, f.Channels[c].Offset = 1, 0
		for i := range f.Frames() * perFrame {
			v := float32(math.NaN())
			if i < len(values[c]) {
				v = values[c][i]
			}
			f.Analog[i*len(channels)+c] = v
		}
	}
}
