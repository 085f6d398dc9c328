package motion

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"

	"tossline/datasets/landmark"
)

// scipySide computes measures of a serve with numpy and scipy, over the whole recording.
const scipySide = `
import sys, json, numpy as np
from scipy import signal, interpolate
q = json.load(sys.stdin); fs = q["rate"]
def low(name, fc):
    x = np.array(q["points"][name], dtype=float)
    w = np.tan(np.pi*fc/fs)/(np.sqrt(2)-1)**.25
    b, a = signal.butter(2, np.arctan(w)*2/np.pi)
    return signal.filtfilt(b, a, x, axis=0)
def angle(u, v):
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(u, v), axis=-1), (u*v).sum(-1)))
def lagrange(x, t):
    i = int(t)-1
    return interpolate.BarycentricInterpolator(np.arange(i, i+4), x[i:i+4])(t)
def vertex(y, k):
    a, b, c = y[k-1:k+2]
    o = (a-c)/(2*(a-2*b+c))
    return b-(a-c)*o/4
release, trophy, contact = (q["events"][k]*fs for k in ("release", "trophy", "contact"))
span = slice(int(np.ceil(release)), int(contact)+1)
out = {}
for side, name in (("left", "front"), ("right", "back")):
    hip, knee, ankle = (low(side+"_"+p, 10) for p in ("hip", "knee", "ankle"))
    bend = angle(knee-hip, ankle-knee)
    k = span.start+bend[span].argmax()
    out[name+"_knee_flexion"] = vertex(bend, k)
    first = int(np.ceil(trophy)); speed = -np.gradient(bend, 1/fs)
    k = first+speed[first:span.stop].argmax()
    out[name+"_knee_extension_speed"] = vertex(speed, k)
ls, rs, lh, rh = (low(p, 10) for p in ("left_shoulder", "right_shoulder", "left_hip", "right_hip"))
for name, t in (("trophy", trophy), ("contact", contact)):
    d = lagrange(ls, t)-lagrange(rs, t)
    out["shoulder_tilt_"+name] = np.degrees(np.arctan2(d[1], np.hypot(d[0], d[2])))
    up = (lagrange(ls, t)+lagrange(rs, t)-lagrange(lh, t)-lagrange(rh, t))/2
    out["trunk_forward_"+name] = np.degrees(np.arctan2(up[0], up[1]))
    out["trunk_sideways_"+name] = np.degrees(np.arctan2(up[2], up[1]))
mid = (lh+rh)/2
out["drift_contact"] = lagrange(mid, contact)[2]-lagrange(mid, trophy)[2]
ball = np.array(q["points"]["ball"], dtype=float); edge = .01*fs
i = np.arange(int(np.ceil(release+edge)), int(contact-edge)+1); t = (i-contact)/fs
path = [np.polyfit(t, ball[i, k], 2) for k in range(3)]
shoulder = lagrange(rs, contact)
out["contact_forward"], out["contact_offset"] = path[0][2]-shoulder[0], path[2][2]-shoulder[2]
out["contact_height"] = path[1][2]
out["toss_apex"] = path[1][2]-path[1][1]**2/(4*path[1][0])
print(json.dumps(out))
`

// Measures computed by scipy in double precision, from the same noisy coordinates over the whole recording: they
// agree to 1e-6, however little of the recording this package filters.
func TestMeasuresAgainstScipy(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy.signal").Run() != nil {
		t.Skip("no scipy here")
	}
	c := withNoise(newBody().clip(200), 0.003, rand.New(rand.NewPCG(31, 32)))
	query := struct {
		Rate   float64                     `json:"rate"`
		Events map[EventKind]float64       `json:"events"`
		Points map[landmark.Name][]*[3]any `json:"points"`
	}{c.Rate, map[EventKind]float64{}, map[landmark.Name][]*[3]any{}}
	for kind, e := range c.Events {
		query.Events[kind] = e.TimeS
	}
	for i := 0; i < len(c.Frames); i += 3 {
		var xyz [3]any
		for k := range xyz {
			if v := float64(c.Frames[i+k]); v == v {
				xyz[k] = v
			}
		}
		name := c.Layout.Names()[i/3%c.Layout.Len()]
		query.Points[name] = append(query.Points[name], &xyz)
	}
	input, err := json.Marshal(query)
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(python, "-c", scipySide)
	command.Stdin = bytes.NewReader(input)
	output, err := command.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]float64
	if err := json.Unmarshal(output, &want); err != nil {
		t.Fatal(err)
	}
	for id, number := range want {
		got := Compute(c, byID[id].Measure)[0]
		if !(math.Abs(got.Number-number) <= 1e-6*max(1, math.Abs(number))) {
			t.Errorf("%s = %.9f (%s), scipy %.9f", id, got.Number, got.Missing, number)
		}
	}
}

// A measure asked for alone is computed from less of the recording than when it is asked for with all others: it is the
// same to 1e-6.
func TestMeasuresAloneAndTogether(t *testing.T) {
	c := withNoise(newBody().clip(200), 0.003, rand.New(rand.NewPCG(33, 34)))
	together := Compute(c, All()...)
	for k, m := range All() {
		alone := Compute(c, m)[0]
		if d := math.Abs(alone.Number - together[k].Number); !(d <= 1e-6*max(1, math.Abs(alone.Number))) {
			t.Errorf("%s = %.9f alone, %.9f with the others", m.ID, alone.Number, together[k].Number)
		}
	}
}
