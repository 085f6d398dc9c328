// Package coco reads landmarks found in pictures, as lists of keypoints in the JSON of the COCO data set (T. Lin et
// al., "Microsoft COCO: Common Objects in Context", ECCV 2014; cocodataset.org, "Data format" and "Results format").
//
// Either form is read: a list of results, or an object with annotations, which may name its keypoints in categories.
// Without names there are the data set's own seventeen; 26 and 133 keypoints a person, as larger models give, begin
// with the same. Every picture is a frame, in the order of image_id. A keypoint with a score or a visibility of 0 is
// missing. Where pictures show several people, the one with the best score is followed from picture to picture.
package coco

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"sort"
	"strconv"
	"strings"

	"tossline/datasets/recording"
)

// Name is the name of the format.
const Name = "coco"

func init() {
	recording.Register(recording.Format{Name: Name, Title: "COCO keypoints (JSON)", Rank: 30, Probe: Probe, Read: Read})
}

// Probe reports whether a file is JSON that speaks of keypoints.
func Probe(head []byte) bool {
	head = bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n")
	return len(head) > 0 && (head[0] == '[' || head[0] == '{') && bytes.Contains(head, []byte(`"keypoints"`))
}

// own are the keypoints of the data set.
var own = []string{"nose", "left_eye", "right_eye", "left_ear", "right_ear", "left_shoulder", "right_shoulder",
	"left_elbow", "right_elbow", "left_wrist", "right_wrist", "left_hip", "right_hip", "left_knee", "right_knee",
	"left_ankle", "right_ankle"}

// further are the keypoints that follow those in larger models, by how many there are in all: 26 of the whole body, and
// 133 with feet, face and hands, of which the first six are of the feet.
var further = map[int][]string{
	26: {"head_top", "neck", "pelvis", "left_big_toe", "right_big_toe", "left_small_toe", "right_small_toe", "left_heel",
		"right_heel"},
	133: {"left_big_toe", "left_small_toe", "left_heel", "right_big_toe", "right_small_toe", "right_heel"},
}

// Limits of what is believed.
const (
	mostKeypoints = 1000
	mostPeople    = 100_000_000
)

// found is one person in one picture.
type found struct {
	Image     id        `json:"image_id"`
	Keypoints []float64 `json:"keypoints"`
	Score     *float64  `json:"score"`
	Category  int       `json:"category_id"`
}

// id is the number of a picture: a number, or a name with a number in it, such as "frame_000012.jpg".
type id float64

// UnmarshalJSON reads a number or a text.
func (i *id) UnmarshalJSON(b []byte) error {
	var n float64
	if err := json.Unmarshal(b, &n); err == nil {
		*i = id(n)
		return nil
	}
	var name string
	if err := json.Unmarshal(b, &name); err != nil {
		return fmt.Errorf("the image_id %s is no number and no name", recording.Quote(string(b)))
	}
	n, ok := lastNumber(name)
	if !ok {
		return fmt.Errorf("the image_id %s has no number in it", recording.Quote(name))
	}
	*i = id(n)
	return nil
}

func lastNumber(name string) (float64, bool) {
	if dot := strings.LastIndexByte(name, '.'); dot > 0 {
		name = name[:dot]
	}
	digit := func(r rune) bool { return r >= '0' && r <= '9' }
	end := strings.LastIndexFunc(name, digit) + 1
	start := strings.LastIndexFunc(name[:end], func(r rune) bool { return !digit(r) }) + 1
	n, err := strconv.ParseFloat(name[start:end], 64)
	return n, err == nil
}

// content is what a file holds.
type content struct {
	people []found
	names  []string
	rate   float64
}

// Read reads a whole file.
func Read(r io.Reader) (*recording.Raw, error) {
	start := make([]byte, 3)
	n, _ := io.ReadFull(r, start)
	in := json.NewDecoder(io.MultiReader(bytes.NewReader(bytes.TrimPrefix(start[:n], []byte("\xef\xbb\xbf"))), r))
	var c content
	if err := c.read(in); err != nil {
		return nil, refusal(in, err)
	}
	return c.raw()
}

// refusal puts the place on an error.
func refusal(in *json.Decoder, err error) error {
	var already *recording.Error
	if errors.As(err, &already) {
		return err
	}
	e := &recording.Error{Offset: in.InputOffset(), Text: strings.TrimPrefix(err.Error(), "json: "), Cause: err}
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		e.Offset = syntax.Offset
	case errors.As(err, &kind):
		e.Text = fmt.Sprintf("expected %s in %s, found a %s", wanted(kind.Type), kind.Field, kind.Value)
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		e.Text, e.Remedy = "the file ends in the middle", "copy it again"
	}
	return e
}

// wanted is a type as JSON has it.
func wanted(t reflect.Type) string {
	switch t.Kind() {
	case reflect.String:
		return "a text"
	case reflect.Slice, reflect.Array:
		return "a list"
	case reflect.Struct, reflect.Map:
		return "an object"
	case reflect.Bool:
		return "true or false"
	}
	return "a number"
}

func (c *content) read(in *json.Decoder) error {
	first, err := in.Token()
	if err != nil {
		return err
	}
	switch first {
	case json.Delim('['):
		return c.list(in)
	case json.Delim('{'):
		return c.object(in)
	}
	return recording.Refuse("", "expected a list of results or an object with annotations")
}

// list reads people, up to the end of a list that has begun.
func (c *content) list(in *json.Decoder) error {
	for in.More() {
		var one found
		if err := in.Decode(&one); err != nil {
			return err
		}
		if len(one.Keypoints) == 0 {
			continue
		}
		if len(one.Keypoints)%3 != 0 || len(one.Keypoints) > 3*mostKeypoints {
			return &recording.Error{Offset: in.InputOffset(), Text: fmt.Sprintf(
				"expected x, y and a score for each keypoint, found %d numbers", len(one.Keypoints))}
		}
		if n := len(c.people); n > 0 && len(one.Keypoints) != len(c.people[0].Keypoints) {
			return &recording.Error{Offset: in.InputOffset(), Text: fmt.Sprintf("expected %d keypoints as before, found %d",
				len(c.people[0].Keypoints)/3, len(one.Keypoints)/3)}
		}
		if len(c.people) >= mostPeople {
			return recording.Refuse("split the file", "the file holds more than %d people", mostPeople)
		}
		c.people = append(c.people, one)
	}
	_, err := in.Token()
	return err
}

// object reads the form with annotations.
func (c *content) object(in *json.Decoder) error {
	for in.More() {
		key, err := in.Token()
		if err != nil {
			return err
		}
		switch key {
		case "annotations":
			if start, err := in.Token(); err != nil || start != json.Delim('[') {
				return recording.Refuse("", "expected a list of annotations")
			}
			err = c.list(in)
		case "categories":
			var all []struct {
				Keypoints []string `json:"keypoints"`
			}
			err = in.Decode(&all)
			for _, one := range all {
				if len(c.names) == 0 {
					c.names = one.Keypoints
				}
			}
		case "info":
			var info struct {
				FPS float64 `json:"fps"`
			}
			var text json.RawMessage
			if err = in.Decode(&text); err == nil && json.Unmarshal(text, &info) == nil {
				c.rate = info.FPS
			}
		default:
			var skip json.RawMessage
			err = in.Decode(&skip)
		}
		if err != nil {
			return err
		}
	}
	_, err := in.Token()
	return err
}

// raw makes a recording of the people.
func (c *content) raw() (*recording.Raw, error) {
	if len(c.people) == 0 {
		return nil, recording.Refuse("", "the file holds no keypoints")
	}
	raw := &recording.Raw{Format: Name, Planar: true, Points: c.points(), UpIs: "-y"}
	if c.rate > 0 && c.rate < 1e5 {
		raw.RateHz = c.rate
	}
	chain, crowded := c.follow()
	if crowded > 0 {
		raw.Notes = append(raw.Notes, recording.Note{Severity: recording.Warn, Text: fmt.Sprintf(
			"%d pictures show more than one person: the one with the best score in the first is followed", crowded)})
	}
	step := 1.0
	if len(chain) > 1 {
		step = math.Inf(1)
		for i := 1; i < len(chain); i++ {
			step = min(step, float64(chain[i].Image-chain[i-1].Image))
		}
	}
	return raw, fill(raw, chain, step)
}

// mostFill is how many times the pictures present may be added as missing ones.
const mostFill = 20

// fill writes the frames, with empty ones where pictures are left out.
func fill(raw *recording.Raw, chain []found, step float64) error {
	first := float64(chain[0].Image)
	frames := (float64(chain[len(chain)-1].Image)-first)/step + 1
	if !(frames <= float64(mostFill*len(chain)+1000)) {
		return recording.Refuse("number the pictures one after the other", "the %d pictures are numbered from %v to %v",
			len(chain), chain[0].Image, chain[len(chain)-1].Image)
	}
	nan := float32(math.NaN())
	width := 3 * len(raw.Points)
	raw.XYZ = make([]float32, int(math.Round(frames))*width)
	for i := range raw.XYZ {
		raw.XYZ[i] = nan
	}
	for _, one := range chain {
		at := int(math.Round((float64(one.Image) - first) / step))
		for k := 0; k < width; k += 3 {
			x, y, score := float32(one.Keypoints[k]), float32(one.Keypoints[k+1]), one.Keypoints[k+2]
			if score > 0 && x-x == 0 && y-y == 0 {
				copy(raw.XYZ[at*width+k:], []float32{x, y, 0})
			}
		}
	}
	if lost := int(math.Round(frames)) - len(chain); lost > 0 {
		raw.Notes = append(raw.Notes, recording.Note{Severity: recording.Warn,
			Text: fmt.Sprintf("%d pictures show nobody, or are left out: they are missing", lost)})
	}
	return nil
}

// points names the keypoints.
func (c *content) points() []string {
	n := len(c.people[0].Keypoints) / 3
	names := append(append([]string(nil), own...), further[n]...)
	if len(c.names) == n {
		names = c.names
	}
	out := make([]string, n)
	for i := range out {
		if out[i] = "keypoint " + strconv.Itoa(i+1); i < len(names) && names[i] != "" {
			out[i] = names[i]
		}
	}
	return out
}

// follow picks one person a picture, in the order of pictures: the best in the first, then the one whose keypoints are
// nearest to those before. It tells how many pictures show more than one.
func (c *content) follow() (chain []found, crowded int) {
	sort.SliceStable(c.people, func(i, j int) bool { return c.people[i].Image < c.people[j].Image })
	for i := 0; i < len(c.people); {
		end := i + 1
		for end < len(c.people) && c.people[end].Image == c.people[i].Image {
			end++
		}
		if end > i+1 {
			crowded++
		}
		best := i
		for k := i + 1; k < end; k++ {
			if len(chain) == 0 && score(c.people[k]) > score(c.people[best]) || len(chain) > 0 &&
				distance(c.people[k], chain[len(chain)-1]) < distance(c.people[best], chain[len(chain)-1]) {
				best = k
			}
		}
		chain = append(chain, c.people[best])
		i = end
	}
	return chain, crowded
}

// score is how sure it is that a person is one: the score of the result, else the mean of the keypoints'.
func score(f found) float64 {
	if f.Score != nil {
		return *f.Score
	}
	sum := 0.0
	for k := 2; k < len(f.Keypoints); k += 3 {
		sum += f.Keypoints[k]
	}
	return sum / float64(len(f.Keypoints)/3)
}

// distance is the mean distance of the keypoints that both have; infinite where there are none.
func distance(a, b found) float64 {
	sum, n := 0.0, 0
	for k := 0; k < len(a.Keypoints); k += 3 {
		if a.Keypoints[k+2] > 0 && b.Keypoints[k+2] > 0 {
			sum += math.Hypot(a.Keypoints[k]-b.Keypoints[k], a.Keypoints[k+1]-b.Keypoints[k+1])
			n++
		}
	}
	if n == 0 {
		return math.Inf(1)
	}
	return sum / float64(n)
}
