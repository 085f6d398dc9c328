package signal

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// scipySide computes with scipy what this package computes, from a series on its input.
const scipySide = `
import sys, json, numpy as np
from scipy import signal, interpolate
q = json.load(sys.stdin); x = np.array(q["x"]); out = {}
for fs, fc in q["designs"]:
    w = np.tan(np.pi*fc/fs)/(np.sqrt(2)-1)**.25
    b, a = signal.butter(2, np.arctan(w)*2/np.pi)
    out.setdefault("filtered", []).append(signal.filtfilt(b, a, x).tolist())
t = np.array(q["knots"]); v = np.array(q["values"])
out["spline"] = interpolate.CubicSpline(t, v)(np.array(q["at"])).tolist()
out["slope"] = interpolate.CubicSpline(t, v)(np.array(q["at"]), 1).tolist()
out["gradient"] = np.gradient(x, 1/200).tolist()
n = np.arange(len(x))
out["resampled"] = interpolate.CubicSpline(n, x)(np.linspace(3.3, 612.9, 101)).tolist()
for first, end in q["gaps"]:
    near = np.r_[first-8:first, end:end+8]
    out.setdefault("bridged", []).append(interpolate.CubicSpline(near, x[near])(np.arange(first, end)).tolist())
print(json.dumps(out))
`

// Random series against scipy, where /usr/bin/python3 has it: 1e-9 is asked for, 1e-11 is met.
func TestAgainstScipy(t *testing.T) {
	python := "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy.signal").Run() != nil {
		t.Skip("no scipy here")
	}
	random := rand.New(rand.NewPCG(11, 12))
	type query struct {
		X       []float64    `json:"x"`
		Designs [][2]float64 `json:"designs"`
		Knots   []float64    `json:"knots"`
		Values  []float64    `json:"values"`
		At      []float64    `json:"at"`
		Gaps    [][2]int     `json:"gaps"`
	}
	q := query{Designs: [][2]float64{{50, 12}, {100, 6}, {200, 12}, {250, 20}, {500, 10}},
		Gaps: [][2]int{{40, 41}, {100, 104}, {200, 220}, {400, 480}}}
	for at := 0.0; len(q.X) < 700; at += 0.1 + random.Float64() {
		q.X = append(q.X, math.Sin(float64(len(q.X))/15)+0.02*random.NormFloat64())
		q.Knots, q.Values = append(q.Knots, at), append(q.Values, random.NormFloat64())
	}
	for range 200 {
		q.At = append(q.At, random.Float64()*q.Knots[len(q.Knots)-1])
	}
	input, _ := json.Marshal(q)
	command := exec.Command(python, "-c", scipySide)
	command.Stdin = bytes.NewReader(input)
	output, err := command.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Filtered                [][]float64
		Spline, Slope, Gradient []float64
		Resampled               []float64
		Bridged                 [][]float64
	}
	if err := json.Unmarshal(output, &want); err != nil {
		t.Fatal(err)
	}
	got := make([]float64, len(q.X))
	for k, d := range q.Designs {
		DualPass(d[1], d[0]).ZeroPhaseTo(got, q.X)
		agree(t, "filtfilt", got, want.Filtered[k], 1e-11)
	}
	DerivativeTo(got, q.X, 200)
	agree(t, "gradient", got, want.Gradient, 1e-9)
	resampled := make([]float64, 101)
	ResampleTo(resampled, q.X, 3.3, 612.9, 5)
	agree(t, "resampled", resampled, want.Resampled, 1e-9)
	holed := append([]float64(nil), q.X...)
	for _, gap := range q.Gaps {
		for i := gap[0]; i < gap[1]; i++ {
			holed[i] = math.NaN()
		}
	}
	FillGaps(holed, 100)
	for k, gap := range q.Gaps {
		agree(t, "filled gap", holed[gap[0]:gap[1]], want.Bridged[k], 1e-8)
	}
	spline := NewSpline(q.Knots, q.Values)
	for i, at := range q.At {
		agree(t, "CubicSpline", []float64{spline.At(at)}, want.Spline[i:i+1], 1e-9)
		agree(t, "CubicSpline slope", []float64{spline.Slope(at)}, want.Slope[i:i+1], 1e-8)
	}
}

// scipy 1.10.1: root mean square of x - filtfilt(butter(2, fc/50), x) for the example series.
func TestResidual(t *testing.T) {
	want := []float64{0.3682636610191304, 0.3367961422481273, 0.25830980699338807, 0.19497194684321154,
		0.16754566904019813,
		0.15695658651091415}
	var got []float64
	for hz := 2.0; hz <= 12; hz += 2 {
		filtered := make([]float64, len(example))
		Butterworth(hz, 100).ZeroPhaseTo(filtered, example)
		got = append(got, rootMeanSquare(example, filtered))
	}
	agree(t, "residual", got, want, 1e-13)
}

// A movement of known highest frequency in white noise: the cutoff lies above the movement, and nearer to it the
// larger the noise.
func TestResidualCutoff(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 3))
	last := math.Inf(1)
	for _, noise := range []float64{0.0003, 0.003, 0.03} {
		x := make([]float64, 2000)
		for i := range x {
			s := float64(i) / 200
			x[i] = math.Sin(2*math.Pi*0.7*s) + 0.2*math.Sin(2*math.Pi*4*s) + noise*random.NormFloat64()
		}
		hz := ResidualCutoff(x, 200)
		if hz < 4 || hz > 25 || hz > last {
			t.Errorf("noise %g: cutoff %g Hz", noise, hz)
		}
		last = hz
	}
	if !math.IsNaN(ResidualCutoff(make([]float64, 10), 200)) {
		t.Error("ten samples tell a cutoff")
	}
}
