package frames

import (
	"bytes"
	"fmt"
	"math"
	"testing"
)

func TestSignalsReadBack(t *testing.T) {
	nan := float32(math.NaN())
	want := []Signal{
		{Name: "Force.Fz1", Unit: "N", RateHz: 1000, Values: []float32{0, 812.25, nan, -3}},
		{Name: "EMG.Deltoid", RateHz: 2000, Values: []float32{}},
	}
	var buf, again bytes.Buffer
	for _, b := range []*bytes.Buffer{&buf, &again} {
		if err := WriteSignals(b, want); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(buf.Bytes(), again.Bytes()) {
		t.Error("the same signals give other bytes")
	}
	got, err := ReadSignals(buf.Bytes())
	if err != nil || fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("read %v, %v, want %v", got, err, want)
	}
	for name, data := range map[string][]byte{"empty": nil, "text": []byte("hello"), "cut": buf.Bytes()[:buf.Len()/2]} {
		if s, err := ReadSignals(data); err == nil {
			t.Errorf("%s: %v", name, s)
		}
	}
}
