package coco

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"tossline/datasets/landmark"
	"tossline/datasets/recording"
)

// person writes 17 keypoints of a player of 350 pixels, moved by dx, as a result.
func person(image any, dx, score float64) string {
	name, _ := json.Marshal(image)
	var k []string
	for i := range own {
		k = append(k, fmt.Sprintf("%g,%g,%g", 100+dx+float64(i%2)*20, 50+float64(i)*20, score))
	}
	return fmt.Sprintf(`{"image_id":%s,"category_id":1,"keypoints":[%s],"score":%g}`, name, strings.Join(k, ","), score)
}

func list(people ...string) string { return "[" + strings.Join(people, ",\n") + "]" }

func read(t *testing.T, text string) *recording.Raw {
	t.Helper()
	if !Probe([]byte(text)) {
		t.Errorf("not recognised: %.60s", text)
	}
	raw, err := Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func TestForms(t *testing.T) {
	two := list(person(3, 0, 0.9), person(1, 5, 0.9))
	for name, text := range map[string]string{
		"results": two, "mark": "\xef\xbb\xbf" + two,
		"names":  list(person("clip/frame_0003.jpg", 0, 0.9), person("clip/frame_0001.jpg", 5, 0.9)),
		"object": `{"info":{"fps":240},"images":[{"id":1}],"annotations":` + two + `,"categories":[{"name":"person"}]}`,
	} {
		raw := read(t, text)
		if raw.Frames() != 2 || !raw.Planar || !reflect.DeepEqual(raw.Points, own) {
			t.Errorf("%s: %d frames of %v", name, raw.Frames(), raw.Points)
		}
		if raw.XYZ[0] != 105 || raw.XYZ[1] != 50 || raw.XYZ[2] != 0 || raw.XYZ[3*len(own)] != 100 {
			t.Errorf("%s: %v", name, raw.XYZ[:6])
		}
		if want := map[bool]float64{true: 240}[name == "object"]; raw.RateHz != want {
			t.Errorf("%s: %v Hz", name, raw.RateHz)
		}
	}
}

func TestNamesOfKeypoints(t *testing.T) {
	named := `{"annotations":[{"image_id":1,"keypoints":[1,2,2,3,4,0]}],"categories":[{"keypoints":["racket_tip","ball"]}]}`
	if raw := read(t, named); !reflect.DeepEqual(raw.Points, []string{"racket_tip", "ball"}) || raw.XYZ[3] == raw.XYZ[3] {
		t.Errorf("%v %v", raw.Points, raw.XYZ)
	}
	numbers := strings.Repeat("1,2,1,", 26)
	raw := read(t, `[{"image_id":1,"keypoints":[`+strings.TrimSuffix(numbers, ",")+`]}]`)
	if raw.Points[17] != "head_top" || raw.Points[25] != "right_heel" {
		t.Errorf("%v", raw.Points)
	}
}

// TestVideosAreApart brings pictures of two videos in by their names, and by what the file says of its pictures.
func TestVideosAreApart(t *testing.T) {
	object := func(images string) string {
		return `{"annotations":` + list(person(4, 0, 1), person(3, 5, 1), person(2, 300, 1)) + `,"images":[` + images + `]}`
	}
	for _, c := range []struct{ name, text, first, second string }{
		{"names", list(person("b/img_2.jpg", 0, 1), person("a/img_2.jpg", 300, 1), person("b/img_3.jpg", 5, 1)),
			"b", "a"},
		{"file names", object(`{"id":4,"file_name":"b/2.jpg"},{"id":3,"file_name":"b/3.jpg"},` +
			`{"id":2,"file_name":"a/2.jpg"}`), "b", "a"},
		{"numbers of videos", object(`{"id":4,"file_name":"2.jpg","video_id":7},{"id":3,"file_name":"3.jpg","video_id":7},` +
			`{"id":2,"file_name":"2.jpg","video_id":8}`), "7", "8"},
	} {
		raw := read(t, c.text)
		if len(raw.More) != 1 || raw.Part != c.first || raw.More[0].Part != c.second || raw.Frames() != 2 ||
			raw.XYZ[0] != 100 || raw.XYZ[3*len(own)] != 105 || raw.More[0].XYZ[0] != 400 || len(raw.Notes) > 0 {
			t.Errorf("%s: %q with %d frames at %v, %d more", c.name, raw.Part, raw.Frames(), raw.XYZ[0], len(raw.More))
		}
	}
}

// TestNamesThatDoNotCount takes image_id for the order where the names of pictures are no count of them.
func TestNamesThatDoNotCount(t *testing.T) {
	for name, files := range map[string][3]string{
		"hashes": {"91b722.png", "cd61d8f16.png", "1e2f414c343c9.png"}, "times": {"t 10-15-00.995.png", "t 10-15-01.000.png",
			"t 10-15-01.005.png"}, "gaps": {"f1.png", "f2.png", "f9.png"},
	} {
		text := `{"annotations":` + list(person(7, 0, 1), person(8, 5, 1), person(9, 10, 1)) + `,"images":[`
		for i, file := range files {
			text += fmt.Sprintf(`{"id":%d,"file_name":%q},`, 7+i, file)
		}
		raw := read(t, strings.TrimSuffix(text, ",")+"]}")
		if raw.Frames() != 3 || len(raw.More) > 0 || raw.XYZ[3*len(own)] != 105 || len(raw.Notes) > 0 {
			t.Errorf("%s: %d frames, %d more, %v", name, raw.Frames(), len(raw.More), raw.Notes)
		}
	}
	hashed := read(t, list(person("91b722.png", 0, 1), person("cd61d8f16.png", 5, 1), person("1e2f414c343c9.png", 10, 1)))
	if hashed.Frames() != 3 || len(hashed.More) > 0 || hashed.XYZ[3*len(own)] != 105 {
		t.Errorf("hashes alone: %d frames, %d more", hashed.Frames(), len(hashed.More))
	}
	raw := read(t, list(person("left_1.jpg", 0, 1), person("left_3.jpg", 0, 1), person("right_2.jpg", 5, 1),
		person("left_4.jpg", 0, 1), person("left_5.jpg", 0, 1), person("left_6.jpg", 0, 1), person("left_7.jpg", 0, 1),
		person("left_8.jpg", 0, 1), person("left_9.jpg", 0, 1)))
	if raw.Frames() != 9 || len(raw.More) > 0 || raw.XYZ[3*len(own)] != 105 {
		t.Errorf("%d frames, %d more", raw.Frames(), len(raw.More))
	}
}

// TestNumbersThatJSONLacks reads what some programs write for missing numbers; in a text they stay.
func TestNumbersThatJSONLacks(t *testing.T) {
	text := strings.Replace(person("NaN\"NaN_1", 0, 0.9), "100,50,0.9", "NaN,50,0.9", 1)
	text = strings.Replace(strings.Replace(text, "120,70,0.9", "1,-Infinity,0.9", 1), "100,90,0.9", "1,null,0.9", 1)
	raw := read(t, list(text))
	for i := range own {
		if missing := raw.XYZ[3*i] != raw.XYZ[3*i]; missing != (i < 3) {
			t.Errorf("%s is at %v", own[i], raw.XYZ[3*i:3*i+3])
		}
	}
}

// TestFollowsOnePerson puts two people into each picture, in changing order and with changing scores.
func TestFollowsOnePerson(t *testing.T) {
	raw := read(t, list(person(0, 0, 0.8), person(0, 300, 0.9), person(1, 290, 0.2), person(1, 10, 0.9),
		person(3, 20, 0.9), person(3, 280, 0.8)))
	var x []float32
	for f := range raw.Frames() {
		x = append(x, raw.XYZ[f*3*len(own)])
	}
	if len(x) != 4 || x[0] != 400 || x[1] != 390 || x[2] == x[2] || x[3] != 380 {
		t.Errorf("followed at %v", x)
	}
	if len(raw.Notes) != 2 {
		t.Errorf("notes %v", raw.Notes)
	}
}

// TestScale takes the length of a pixel from the player's height and from a length that is known.
func TestScale(t *testing.T) {
	var people []string
	for i := range 50 {
		people = append(people, person(i, float64(i), 0.9))
	}
	text := list(people...)
	// The upper arm runs from (100 or 120, 150) to (same, 190): 40 pixels for 0.32 m.
	_, take, err := recording.Interpret(read(t, text), recording.Options{RateHz: 100, Forward: "+x",
		Length: &recording.Length{From: "left_shoulder", To: "left_elbow", M: 0.32}})
	if err != nil {
		t.Fatal(err)
	}
	at := func(n landmark.Name) []float32 { return take.Frames[3*take.Layout.Index(n):][:3] }
	s, e := at(landmark.LeftShoulder), at(landmark.LeftElbow)
	if d := s[1] - e[1]; math.Abs(float64(d)-0.32) > 1e-5 || s[2] == s[2] {
		t.Errorf("shoulder %v, elbow %v", s, e)
	}
	u, _, err := recording.Interpret(read(t, text), recording.Options{RateHz: 100, HeightM: 1.9})
	if err != nil || u.Units.Source != recording.Said || !strings.Contains(u.Units.Evidence, "1.90 m tall") {
		t.Errorf("%+v, %v", u.Units, err)
	}
	again, _, err := recording.Interpret(read(t, text), recording.Options{RateHz: 100, Units: u.Units.Value})
	if err != nil || again.Units.Value != u.Units.Value {
		t.Errorf("%+v, %v", again.Units, err)
	}
	u, _, err = recording.Interpret(read(t, text), recording.Options{RateHz: 100})
	if err != nil || u.Units.Source != recording.Guessed || u.Up.Value != "-y" {
		t.Errorf("%+v, %+v, %v", u.Units, u.Up, err)
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"cut", list(person(1, 0, 1))[:200], "byte"},
		{"no people", `{"keypoints":[], "annotations":[]}`, "no keypoints"},
		{"two numbers", `[{"image_id":1,"keypoints":[1,2]}]`, "expected x, y and a score"},
		{"changing", `[{"image_id":1,"keypoints":[1,2,1]},{"image_id":2,"keypoints":[1,2,1,1,2,1]}]`,
			"expected 1 keypoints as before"},
		{"no number", `[{"image_id":"serve.jpg","keypoints":[1,2,1]}]`, "has no number in it"},
		{"text", `[{"image_id":1,"keypoints":["a"]}]`, "expected a number in keypoints, found a text"},
		{"no list", `[{"image_id":1,"keypoints":"a"}]`, "expected a list in keypoints, found a text"},
		{"annotations are no list", `{"annotations":{"keypoints":1}}`, "expected a list of annotations"},
		{"an error among annotations", `{"annotations":[{"image_id":1,"keypoints":[1,2]}]}`, "expected x, y and a score"},
		{"an error among categories", `{"categories":{"keypoints":1}}`, "expected a list, found an object"},
		{"no JSON", `[{"image_id":1,"keypoints":[1,2,x]}]`, "no JSON from here on"},
		{"wild numbers", `[{"image_id":1,"keypoints":[1,2,1]},{"image_id":2,"keypoints":[1,2,1]},{"image_id":1e15,"keypoints":[1,2,1]}]`,
			"are numbered from"},
	} {
		if _, err := Read(strings.NewReader(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(list(person(3, 0, 0.9), person("a1", 5, 0.9))))
	f.Add([]byte(`{"info":{"fps":240},"annotations":[{"image_id":1,"keypoints":[1,2,2,3,4,0]}],"categories":[{"keypoints":["a","b"]}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		raw, err := Read(strings.NewReader(string(b)))
		if err == nil && raw.Frames()*len(raw.Points)*3 != len(raw.XYZ) {
			t.Fatalf("%d values for %d points", len(raw.XYZ), len(raw.Points))
		}
	})
}
