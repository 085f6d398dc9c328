package engine

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"reflect"
	"strings"
	"testing"
)

// wire makes the bytes of a frame by hand: what its lengths claim, and what follows.
func wire(textLen uint32, rest uint64, text string, parts string) []byte {
	b := binary.LittleEndian.AppendUint32(nil, textLen)
	b = binary.LittleEndian.AppendUint64(b, rest)
	return append(append(b, text...), parts...)
}

// honest makes the bytes of a frame whose lengths are right.
func honest(text, parts string) []byte {
	return wire(uint32(len(text)), uint64(len(parts)), text, parts)
}

func TestFramesComeBackAsTheyWere(t *testing.T) {
	long := bytes.Repeat([]byte("serve "), 700_000)
	frames := []Frame{
		{Kind: KindCancel, ID: 7},
		{Kind: KindRun, ID: 1<<64 - 1, Body: []byte(`{"file":"contact_offset.go"}`)},
		{Kind: KindStep, ID: 2, Body: []byte(`{"name":"Spread"}`), Parts: []Part{{"a", []byte("one")}, {"b", []byte{}},
			{"c", long}}},
	}
	var pipe bytes.Buffer
	w, r := NewWriter(&pipe), NewReader(&pipe, MaxAnswer)
	for _, f := range frames {
		if err := w.Write(f); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range frames {
		got, err := r.Read()
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%s came back as %.80v, %v", want.Kind, got, err)
		}
	}
	if _, err := r.Read(); err != io.EOF {
		t.Errorf("at the end: %v", err)
	}
}

func TestGarbageIsRefused(t *testing.T) {
	for _, c := range []struct {
		name, says string
		bytes      []byte
	}{
		{"half a prefix", "unexpected EOF", []byte{1, 0}},
		{"a head cut off", "unexpected EOF", wire(100, 0, `{"kind":`, "")},
		{"a giant head", "the most is", wire(1<<31, 0, "", "")},
		{"giant parts", "the most is", wire(10, 1<<62, "", "")},
		{"parts of which none comes", "unexpected EOF",
			wire(51, 90<<20, `{"kind":"x","parts":[{"name":"a","size":94371840}]}`, "")},
		{"not JSON", "invalid character", honest("hello, world", "")},
		{"no kind", "without a kind", honest(`{}`, "")},
		{"a negative part", "a part of -1 bytes",
			honest(`{"kind":"x","parts":[{"name":"a","size":-1},{"name":"b","size":4}]}`, "abc")},
		{"parts that overflow", "a part of", honest(`{"kind":"x","parts":[{"size":9223372036854775807},{"size":9223372036854775807}]}`, "abc")},
		{"parts too long", "a part of 4 bytes where 3 are left", honest(`{"kind":"x","parts":[{"size":4}]}`, "abc")},
		{"bytes left over", "belong to no part", honest(`{"kind":"x","parts":[{"size":2}]}`, "abc")},
		{"too many parts", "the most is 4096", honest(`{"kind":"x","parts":[`+strings.Repeat(`{},`, 5000)+`{}]}`, "")},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := NewReader(bytes.NewReader(c.bytes), MaxAnswer).Read()
			if err == nil || !strings.Contains(err.Error(), c.says) &&
				!(c.says == "unexpected EOF" && errors.Is(err, io.ErrUnexpectedEOF)) {
				t.Errorf("got %v, want an error that says %q", err, c.says)
			}
		})
	}
}

func TestTooLargeAHeadIsNotWritten(t *testing.T) {
	var pipe bytes.Buffer
	err := NewWriter(&pipe).Write(Frame{Kind: KindLog, Body: []byte(`"` + strings.Repeat("x", MaxHead) + `"`)})
	if err == nil || pipe.Len() != 0 {
		t.Errorf("wrote %d bytes, error %v", pipe.Len(), err)
	}
}

// Whatever comes in, reading ends, in memory bounded by what came in, and what is read can be written and read again.
func FuzzRead(f *testing.F) {
	f.Add(honest(`{"kind":"step","id":3,"body":{"name":"Spread"},"parts":[{"name":"a","size":3}]}`, "abc"))
	f.Add(append(honest(`{"kind":"ready"}`, ""), honest(`{"kind":"done","id":1}`, "")...))
	f.Add(wire(1<<31, 1<<60, `{"kind":"x"}`, ""))
	f.Add(honest(`{"kind":"x","parts":[{"size":4},{"size":-1}]}`, "abc"))
	f.Fuzz(func(t *testing.T, b []byte) {
		r := NewReader(bytes.NewReader(b), MaxAnswer)
		for {
			got, err := r.Read()
			if err != nil {
				return
			}
			var pipe bytes.Buffer
			if err := NewWriter(&pipe).Write(got); err != nil {
				t.Fatal(err)
			}
			again, err := NewReader(&pipe, MaxAnswer).Read()
			if err != nil || again.Kind != got.Kind || again.ID != got.ID || len(again.Parts) != len(got.Parts) {
				t.Fatalf("%v came back as %v, %v", got, again, err)
			}
		}
	})
}

func BenchmarkFrame(b *testing.B) {
	part := make([]byte, 8<<20)
	var pipe bytes.Buffer
	b.SetBytes(int64(len(part)))
	for b.Loop() {
		pipe.Reset()
		NewWriter(&pipe).Write(Frame{Kind: KindStep, Parts: []Part{{"t", part}}})
		if _, err := NewReader(&pipe, MaxAnswer).Read(); err != nil {
			b.Fatal(err)
		}
	}
}
