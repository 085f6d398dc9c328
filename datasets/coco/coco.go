// Package coco reads landmarks found in pictures, as lists of keypoints in the JSON of the COCO data set (T. Lin et
// al., "Microsoft COCO: Common Objects in Context", ECCV 2014; cocodataset.org, "Data format" and "Results format").
//
// Either form is read: a list of results, or an object with annotations, which may name its keypoints in categories.
// Without names there are the data set's own seventeen; 26 and 133 keypoints a person, as larger models give, begin
// with the same. Every picture is a frame, in the order of image_id, or of the numbers in the names of the pictures
// where those run without gaps. Pictures of different folders, or that are said to be of different videos, are several
// recordings.
// A keypoint with a score or a visibility of 0, or with NaN or null for its place, is missing. Where pictures show
// several people, the one with the best score is followed from picture to picture.
package coco

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"sort"
	"strconv"
	"strings"

	"tossline/datasets/decimal"
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
	fewestKnown   = 1000 // people by whose length that of all is estimated
)

// entry is a person of a picture as the file has it.
type entry struct {
	Image     id       `json:"image_id"`
	Keypoints numbers  `json:"keypoints"`
	Score     *float64 `json:"score"`
}

// numbers are NaN where the list has null.
type numbers []float32

// UnmarshalJSON reads a list of numbers.
func (n *numbers) UnmarshalJSON(b []byte) error {
	*n = (*n)[:0]
	if string(b) == "null" {
		return nil
	}
	if b[0] != '[' {
		return wrongType(b, reflect.TypeFor[[]float64]())
	}
	for b = b[1:]; len(b) > 0; {
		switch c := b[0]; {
		case c == ',' || c == ']' || c <= ' ':
			b = b[1:]
		case c == 'n':
			*n, b = append(*n, float32(math.NaN())), b[len("null"):]
		default:
			v, length := decimal.Scan(b)
			if length == 0 {
				return wrongType(b, reflect.TypeFor[float64]())
			}
			*n, b = append(*n, float32(v)), b[length:]
		}
	}
	return nil
}

// wrongType is the error of a value of another type.
func wrongType(b []byte, want reflect.Type) error {
	kind := map[byte]string{'"': "string", '[': "array", '{': "object", 't': "bool", 'f': "bool"}[b[0]]
	return &json.UnmarshalTypeError{Value: cmp.Or(kind, "number"), Type: want}
}

// id is the number of a picture, and what stands in front of it where it is given by a name with a number in it, such
// as "clip2/frame_000012.jpg".
type id struct {
	number float64
	name   string // "clip2/frame_"
}

// UnmarshalJSON reads a number or a text.
func (i *id) UnmarshalJSON(b []byte) error {
	if err := json.Unmarshal(b, &i.number); err == nil {
		return nil
	}
	var name string
	if err := json.Unmarshal(b, &name); err != nil {
		return fmt.Errorf("the image_id %s is no number and no name", recording.Quote(string(b)))
	}
	named, ok := splitName(name)
	if !ok {
		return fmt.Errorf("the image_id %s has no number in it", recording.Quote(name))
	}
	*i = named
	return nil
}

// splitName finds the last number in the name of a picture.
func splitName(name string) (id, bool) {
	if dot := strings.LastIndexByte(name, '.'); dot > 0 {
		name = name[:dot]
	}
	digit := func(r rune) bool { return r >= '0' && r <= '9' }
	end := strings.LastIndexFunc(name, digit) + 1
	start := strings.LastIndexFunc(name[:end], func(r rune) bool { return !digit(r) }) + 1
	n, err := strconv.ParseFloat(name[start:end], 64)
	return id{n, name[:start]}, err == nil
}

// found is one person in one picture.
type found struct {
	image  float64 // number of the picture
	score  float32 // how sure it is that this is a person
	person int32   // in the order of the file
	video  int32   // index into content.videos
}

// content is what a file holds.
type content struct {
	people []found
	width  int       // values of a person
	values []float32 // x, y and score of each keypoint, person after person
	names  []string
	rate   float64
	alive  func()            // is called now and then
	size   int64             // of the file, 0 where unknown
	images map[float64]image // by image_id, where the file lists its pictures
	videos []string          // what tells the videos of the file apart
	known  map[string]int32  // index into videos
}

// image is what the file says of a picture.
type image struct {
	ID    float64         `json:"id"`
	File  string          `json:"file_name"`
	Video json.RawMessage `json:"video_id"`
}

// video gives the index of what tells a video from others.
func (c *content) video(name string) int32 {
	i, ok := c.known[name]
	if !ok {
		i = int32(len(c.videos))
		if c.known == nil {
			c.known = map[string]int32{}
		}
		c.known[name], c.videos = i, append(c.videos, name)
	}
	return i
}

// Read reads a whole file.
func Read(r io.Reader) (*recording.Raw, error) {
	start := make([]byte, 3)
	n, _ := io.ReadFull(r, start)
	in := json.NewDecoder(&plainJSON{in: bufio.NewReaderSize(
		io.MultiReader(bytes.NewReader(bytes.TrimPrefix(start[:n], []byte("\xef\xbb\xbf"))), r), 1<<20)})
	c := content{values: recording.RoomOf(r), alive: recording.AliveOf(r)}
	if sized, ok := r.(interface{ Size() int64 }); ok {
		c.size = sized.Size()
	}
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
		e.Text, e.Remedy = "the file is no JSON from here on", "copy it again"
	case errors.As(err, &kind):
		e.Text = fmt.Sprintf("expected %s, found %s", wanted(kind.Type), valueFound(kind.Value))
		if kind.Field != "" {
			e.Text = fmt.Sprintf("expected %s in %s, found %s", wanted(kind.Type), kind.Field, valueFound(kind.Value))
		}
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

// valueFound is a value of JSON in words.
func valueFound(kind string) string {
	switch first, _, _ := strings.Cut(kind, " "); first {
	case "string":
		return "a text"
	case "array":
		return "a list"
	case "object":
		return "an object"
	case "bool":
		return "true or false"
	}
	return "another " + kind
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
	var one entry
	for in.More() {
		one = entry{Keypoints: one.Keypoints[:0]}
		if err := in.Decode(&one); err != nil {
			return err
		}
		n := len(one.Keypoints)
		if n == 0 {
			continue
		}
		if n%3 != 0 || n > 3*mostKeypoints {
			return &recording.Error{Offset: in.InputOffset(), Text: fmt.Sprintf(
				"expected x, y and a score for each keypoint, found %d numbers", n),
				Remedy: "where there are no scores, write 1"}
		}
		if len(c.people) > 0 && n != c.width {
			return &recording.Error{Offset: in.InputOffset(), Text: fmt.Sprintf("expected %d keypoints as before, found %d",
				c.width/3, n/3)}
		}
		if len(c.people) >= mostPeople {
			return recording.Refuse("split the file", "the file holds more than %d people", mostPeople)
		}
		c.width = n
		f := found{image: one.Image.number, video: c.video(one.Image.name), person: int32(len(c.people))}
		if len(c.people) == fewestKnown && c.size > 0 {
			// Room for all, by how long these are, so that growing never copies.
			c.people = slices.Grow(c.people, int(1.02*fewestKnown*float64(c.size)/float64(in.InputOffset())))
		}
		if one.Score != nil {
			f.score = float32(*one.Score)
		} else {
			f.score = meanScore(one.Keypoints)
		}
		c.people, c.values = append(c.people, f), append(c.values, one.Keypoints...)
	}
	_, err := in.Token()
	return err
}

// meanScore is how sure it is that a person is one whose result has no score of its own.
func meanScore(keypoints []float32) float32 {
	sum := float32(0)
	for k := 2; k < len(keypoints); k += 3 {
		sum += keypoints[k]
	}
	return sum / float32(len(keypoints)/3)
}

// keypoints gives x, y and score of each keypoint of a person.
func (c *content) keypoints(f found) []float32 { return c.values[int(f.person)*c.width:][:c.width] }

// object reads the form with annotations.
func (c *content) object(in *json.Decoder) error {
	for in.More() {
		key, err := in.Token()
		if err != nil {
			return err
		}
		switch key {
		case "annotations":
			start, err := in.Token()
			if err != nil {
				return err
			}
			if start != json.Delim('[') {
				return &recording.Error{Offset: in.InputOffset(), Text: "expected a list of annotations"}
			}
			if err := c.list(in); err != nil {
				return err
			}
		case "images":
			if err := c.pictures(in); err != nil {
				return err
			}
		case "categories":
			var all []struct {
				Keypoints []string `json:"keypoints"`
			}
			if err := in.Decode(&all); err != nil {
				return err
			}
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
			if err := in.Decode(&text); err != nil {
				return err
			}
			if json.Unmarshal(text, &info) == nil {
				c.rate = info.FPS
			}
		default:
			var skip json.RawMessage
			if err := in.Decode(&skip); err != nil {
				return err
			}
		}
	}
	_, err := in.Token()
	return err
}

// pictures reads the list of pictures. What is not as expected in it is not needed.
func (c *content) pictures(in *json.Decoder) error {
	var all []json.RawMessage
	if err := in.Decode(&all); err != nil {
		return err
	}
	c.images = map[float64]image{}
	for _, text := range all {
		var one image
		if json.Unmarshal(text, &one) == nil {
			c.images[one.ID] = one
		}
	}
	return nil
}

// settle tells videos apart and numbers their pictures: by what the file lists of its pictures, else by their names.
func (c *content) settle() {
	if len(c.images) == 0 {
		c.joinVideos()
		return
	}
	for i := range c.people {
		if _, ok := c.images[c.people[i].image]; !ok {
			return
		}
	}
	numbers := c.numbersOfNames()
	c.videos, c.known = nil, nil
	for i := range c.people {
		one := c.images[c.people[i].image]
		c.people[i].video = c.video(one.video())
		if numbers != nil {
			c.people[i].image = numbers[one.ID]
		}
	}
}

// video is what the file says of the video of a picture, else the folder in its name.
func (one image) video() string {
	if video := strings.Trim(string(one.Video), `"`); video != "" && video != "null" {
		return video
	}
	return folder(one.File)
}

func folder(name string) string { return name[:strings.LastIndexAny(name, `/\`)+1] }

// numbersOfNames gives the numbers in the names of the pictures by image_id, if those of each video run without gaps
// and under one name; nil where they do not, and image_id counts.
func (c *content) numbersOfNames() map[float64]float64 {
	numbers := map[float64]float64{}
	runs := map[string][]float64{}
	names := map[string]string{}
	for _, one := range c.images {
		name, ok := splitName(one.File)
		video := one.video()
		if before, known := names[video]; !ok || known && before != name.name {
			return nil
		}
		names[video] = name.name
		numbers[one.ID], runs[video] = name.number, append(runs[video], name.number)
	}
	for _, run := range runs {
		slices.Sort(run)
		for i := 2; i < len(run); i++ {
			if run[i]-run[i-1] != run[1]-run[0] {
				return nil
			}
		}
		if len(run) > 1 && run[1] == run[0] {
			return nil
		}
	}
	return numbers
}

// joinVideos takes pictures of one folder for those of one video, unless two of them have the same number. Names of
// which hardly two are alike but for their number are no count: then the pictures come in the order of the file.
func (c *content) joinVideos() {
	type place struct {
		folder string
		number float64
	}
	if len(c.videos) < 2 {
		return
	}
	if 4*len(c.videos) > len(c.people) {
		c.countPictures()
	}
	in := map[place]int32{}
	for _, p := range c.people {
		at := place{folder(c.videos[p.video]), p.image}
		if other, ok := in[at]; ok && other != p.video {
			return
		}
		in[at] = p.video
	}
	before := c.videos
	c.videos, c.known = nil, nil
	for i, p := range c.people {
		c.people[i].video = c.video(folder(before[p.video]))
	}
}

// countPictures numbers the pictures in the order of the file.
func (c *content) countPictures() {
	type picture struct {
		video  int32
		number float64
	}
	seen := map[picture]float64{}
	for i, p := range c.people {
		of := picture{p.video, p.image}
		if _, ok := seen[of]; !ok {
			seen[of] = float64(len(seen))
		}
		c.people[i].image = seen[of]
	}
}

// raw makes a recording of the people of each video.
func (c *content) raw() (*recording.Raw, error) {
	if len(c.people) == 0 {
		return nil, recording.Refuse("", "the file holds no keypoints")
	}
	c.settle()
	inOrder := func(a, b found) int { return cmp.Or(cmp.Compare(a.video, b.video), cmp.Compare(a.image, b.image)) }
	if !slices.IsSortedFunc(c.people, inOrder) {
		slices.SortStableFunc(c.people, inOrder)
	}
	var first *recording.Raw
	for rest := c.people; len(rest) > 0; {
		n := sort.Search(len(rest), func(i int) bool { return rest[i].video > rest[0].video })
		raw, err := c.recordingOf(rest[:n])
		if err != nil {
			return nil, err
		}
		if len(c.videos) > 1 {
			raw.Part = strings.TrimRight(c.videos[rest[0].video], "/_-. ")
		}
		if first == nil {
			first = raw
		} else {
			first.More = append(first.More, raw)
		}
		rest = rest[n:]
	}
	return first, nil
}

// recordingOf makes a recording of the people of one video.
func (c *content) recordingOf(people []found) (*recording.Raw, error) {
	raw := &recording.Raw{Format: Name, Planar: true, Points: c.points(), UpIs: "-y"}
	if c.rate > 0 && c.rate < 1e5 {
		raw.RateHz = c.rate
	}
	chain, crowded := c.follow(people)
	if crowded > 0 {
		raw.Notes = append(raw.Notes, recording.Note{Severity: recording.Warn, Text: fmt.Sprintf(
			"%s more than one person: the one with the best score in the first is followed", pictures(crowded, "shows",
				"show"))})
	}
	step := 1.0
	if len(chain) > 1 {
		step = math.Inf(1)
		for i := 1; i < len(chain); i++ {
			step = min(step, chain[i].image-chain[i-1].image)
		}
	}
	return raw, c.fill(raw, chain, step)
}

// pictures is so many pictures with a verb.
func pictures(n int, one, several string) string {
	if n == 1 {
		return "1 picture " + one
	}
	return fmt.Sprintf("%d pictures %s", n, several)
}

// mostFill is how many times the pictures present may be added as missing ones.
const mostFill = 20

// fill writes the frames, with empty ones where pictures are left out.
func (c *content) fill(raw *recording.Raw, chain []found, step float64) error {
	first := chain[0].image
	frames := (chain[len(chain)-1].image-first)/step + 1
	if !(frames <= float64(mostFill*len(chain)+1000)) {
		return recording.Refuse("number the pictures one after the other", "the %d pictures are numbered from %.0f to %.0f",
			len(chain), first, chain[len(chain)-1].image)
	}
	nan := float32(math.NaN())
	width := 3 * len(raw.Points)
	raw.XYZ = c.take(int(math.Round(frames)) * width)
	to := 0
	for i, one := range chain {
		c.breathe(i)
		for at := int(math.Round((one.image-first)/step)) * width; to < at; to++ {
			raw.XYZ[to] = nan
		}
		for k := c.keypoints(one); len(k) > 0; k, to = k[3:], to+3 {
			x, y, z := k[0], k[1], float32(0)
			if !(k[2] > 0) || x-x != 0 || y-y != 0 {
				x, y, z = nan, nan, nan
			}
			raw.XYZ[to], raw.XYZ[to+1], raw.XYZ[to+2] = x, y, z
		}
	}
	if lost := int(math.Round(frames)) - len(chain); lost > 0 {
		raw.Notes = append(raw.Notes, recording.Note{Severity: recording.Warn,
			Text: pictures(lost, "shows nobody, or is left out: it is missing",
				"show nobody, or are left out: they are missing")})
	}
	return nil
}

// take gives n values, behind those of the people where there is room.
func (c *content) take(n int) []float32 {
	if used := len(c.values); cap(c.values) >= used+n {
		c.values = c.values[:used+n]
		return c.values[used:]
	}
	return make([]float32, n)
}

// points names the keypoints.
func (c *content) points() []string {
	n := c.width / 3
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
// nearest to those before. It tells how many pictures show more than one. The chain takes the place of people.
func (c *content) follow(people []found) (chain []found, crowded int) {
	chain = people[:0]
	for i := 0; i < len(people); {
		c.breathe(i)
		end := i + 1
		for end < len(people) && people[end].image == people[i].image {
			end++
		}
		if end > i+1 {
			crowded++
		}
		best := i
		for k := i + 1; k < end; k++ {
			if len(chain) == 0 && people[k].score > people[best].score || len(chain) > 0 &&
				c.distance(people[k], chain[len(chain)-1]) < c.distance(people[best], chain[len(chain)-1]) {
				best = k
			}
		}
		chain = append(chain, people[best])
		i = end
	}
	return chain, crowded
}

// breathe tells now and then that the work goes on.
func (c *content) breathe(i int) {
	if i&(1<<14-1) == 0 {
		c.alive()
	}
}

// distance is the mean distance of the keypoints that both have; infinite where there are none.
func (c *content) distance(p, q found) float64 {
	a, b := c.keypoints(p), c.keypoints(q)
	sum, n := 0.0, 0
	for k := 0; k < len(a); k += 3 {
		if d := math.Hypot(float64(a[k]-b[k]), float64(a[k+1]-b[k+1])); a[k+2] > 0 && b[k+2] > 0 && d == d {
			sum, n = sum+d, n+1
		}
	}
	if n == 0 {
		return math.Inf(1)
	}
	return sum / float64(n)
}
