package command

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"
)

// joints are names of the points as skeletons give them.
var joints = []string{"Head", "LeftShoulder", "RightShoulder", "LeftElbow", "RightElbow", "LeftWrist", "RightWrist",
	"LeftHip", "RightHip", "LeftKnee", "RightKnee", "LeftAnkle", "RightAnkle", "LeftToe", "RightToe"}

// bvhOf writes a skeleton whose joints all hang on one root and are moved by position channels.
func bvhOf(f figure, digits int, indent, newline string, declared int) string {
	var b strings.Builder
	line := func(depth int, format string, args ...any) {
		b.WriteString(strings.Repeat(indent, depth) + fmt.Sprintf(format, args...) + newline)
	}
	line(0, "HIERARCHY")
	line(0, "ROOT World")
	line(0, "{")
	line(1, "OFFSET 0.0 0.0 0.0")
	line(1, "CHANNELS 6 Xposition Yposition Zposition Zrotation Xrotation Yrotation")
	for k := range f.points {
		line(1, "JOINT %s", joints[k])
		line(1, "{")
		line(2, "OFFSET 0.0 0.0 0.0")
		line(2, "CHANNELS 3 Xposition Yposition Zposition")
		line(1, "}")
	}
	line(0, "}")
	line(0, "MOTION")
	line(0, "Frames:%s%d", indent, declared)
	line(0, "Frame Time:%s%.7g", indent, 1/f.rate)
	for _, frame := range f.frames {
		row := []string{"0 0 0 0 0 0"}
		for _, p := range frame {
			for _, v := range p {
				row = append(row, strconv.FormatFloat(v, 'f', digits, 64))
			}
		}
		line(0, "%s", strings.Join(row, " "))
	}
	return b.String()
}

// bones is a skeleton with rotations, as characters have it; its numbers are of a person of 1.80 m in centimetres.
const bones = `HIERARCHY
ROOT Hips
{
	OFFSET 0.00 0.00 0.00
	CHANNELS 6 Xposition Yposition Zposition Zrotation Xrotation Yrotation
	JOINT Spine
	{
		OFFSET 0.00 12.00 0.00
		CHANNELS 3 Zrotation Xrotation Yrotation
		JOINT Head
		{
			OFFSET 0.00 48.00 0.00
			CHANNELS 3 Zrotation Xrotation Yrotation
			End Site
			{
				OFFSET 0.00 24.00 0.00
			}
		}
		JOINT LeftArm
		{
			OFFSET 18.00 38.00 0.00
			CHANNELS 3 Zrotation Xrotation Yrotation
			JOINT LeftForeArm
			{
				OFFSET 0.00 -32.00 0.00
				CHANNELS 3 Zrotation Xrotation Yrotation
				JOINT LeftHand
				{
					OFFSET 0.00 -26.00 0.00
					CHANNELS 3 Zrotation Xrotation Yrotation
				}
			}
		}
		JOINT RightArm
		{
			OFFSET -18.00 38.00 0.00
			CHANNELS 3 Zrotation Xrotation Yrotation
			JOINT RightForeArm
			{
				OFFSET 0.00 -32.00 0.00
				CHANNELS 3 Zrotation Xrotation Yrotation
				JOINT RightHand
				{
					OFFSET 0.00 -26.00 0.00
					CHANNELS 3 Zrotation Xrotation Yrotation
				}
			}
		}
	}
	JOINT LeftUpLeg
	{
		OFFSET 9.00 -4.00 0.00
		CHANNELS 3 Zrotation Xrotation Yrotation
		JOINT LeftLeg
		{
			OFFSET 0.00 -44.00 0.00
			CHANNELS 3 Zrotation Xrotation Yrotation
			JOINT LeftFoot
			{
				OFFSET 0.00 -43.00 0.00
				CHANNELS 3 Zrotation Xrotation Yrotation
				End Site
				{
					OFFSET 0.00 -5.00 15.00
				}
			}
		}
	}
	JOINT RightUpLeg
	{
		OFFSET -9.00 -4.00 0.00
		CHANNELS 3 Zrotation Xrotation Yrotation
		JOINT RightLeg
		{
			OFFSET 0.00 -44.00 0.00
			CHANNELS 3 Zrotation Xrotation Yrotation
			JOINT RightFoot
			{
				OFFSET 0.00 -43.00 0.00
				CHANNELS 3 Zrotation Xrotation Yrotation
				End Site
				{
					OFFSET 0.00 -5.00 15.00
				}
			}
		}
	}
}
MOTION
`

// bonesMoved gives the skeleton with so many frames, in which it leans over.
func bonesMoved(head string, frames int) string {
	var b strings.Builder
	b.WriteString(bones + head)
	for i := range frames {
		fmt.Fprintf(&b, "%d.5 96.0 %d.25", i, 2*i)
		for k := range 15 {
			fmt.Fprintf(&b, " %d.5 %d 0", i%7-3, k%3)
		}
		b.WriteString("\n")
	}
	return b.String()
}

func bvhFixtures() []fixture {
	of := func(name, about, text string, args ...string) fixture {
		return fixture{name: "bvh/" + name + ".bvh", about: about, bytes: func() []byte { return []byte(text) }, args: args}
	}
	whole := bonesMoved("Frames: 8\nFrame Time: 0.0083333\n", 8)
	positions := bvhOf(standing(6).turned("xyz", 1/0.0254), 2, "\t", "\r\n", 6)
	return []fixture{
		{name: "bvh/serve.bvh.gz", about: "a whole serve: every joint has position channels; centimetres, packed by gzip",
			bytes: func() []byte {
				return packed(bvhOf(serveFigure().turned("xyz", 100), 0, " ", "\n", len(serveFigure().frames)))
			}},
		of("bones", "a skeleton named by its bones, 120 Hz by a rounded frame time", whole),
		of("inches", "tabs, Windows line ends, inches", positions),
		of("z-up", "z up, metres", bvhOf(standing(6).turned("x-zy", 1), 3, "  ", "\n", 6)),
		of("fewer-frames", "24 frames are promised, 7 and a half are there", strings.Replace(whole[:len(whole)-40],
			"Frames: 8", "Frames: 24", 1)),
		of("more-frames", "5 frames are promised, 8 are there", strings.Replace(whole, "Frames: 8", "Frames: 5", 1)),
		of("tight", "no blank behind the colons, braces behind the names", strings.NewReplacer("Frames: ", "Frames:",
			"Frame Time: ", "Frame Time:", "ROOT Hips\n{", "ROOT Hips {", "\tJOINT Spine\n\t{",
			"\tJOINT Spine {").Replace(whole)),
		of("spaced", "blank lines between all lines, blanks at their ends", strings.ReplaceAll(whole, "\n", "  \n\n")),
		of("decimal-comma", "decimal commas, of a program that minds the system's language", strings.ReplaceAll(whole, ".",
			",")),
		of("no-frames", "a skeleton and no motion", bonesMoved("Frames: 0\nFrame Time: 0.01\n", 0)),
		of("short-line", "a line in the middle lacks three numbers", strings.Replace(whole, " 2 0\n5.5", "\n5.5", 1)),
		of("cut-skeleton", "cut off within the skeleton", whole[:900]),
		of("no-time", "the frame time is 0", strings.Replace(whole, "0.0083333", "0.0", 1)),
	}
}

// cocoNames are the keypoints of the data set, by the points of a figure; -1 where it has none: those lie in the head.
var cocoPoints = []int{0, 0, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}

// cocoPerson is a person seen from the right, in pixels, y down.
func cocoPerson(frame [][3]float64, dx float64, scored bool) string {
	var b strings.Builder
	for k, from := range cocoPoints {
		p := frame[from]
		if k > 0 {
			b.WriteString(",")
		}
		face := [5][2]float64{{9, 0}, {8, -5}, {8, -5}, {0, -2}, {0, -2}}
		x, y := 640+dx+180*p[0], 700-180*p[1]
		if k < 5 {
			x, y = x+face[k][0], y+face[k][1]
		}
		score := "0.9"
		if !scored {
			score = "2"
		}
		if x != x {
			b.WriteString("NaN,NaN,0.9") // what is no JSON, and is written for all that
			continue
		}
		fmt.Fprintf(&b, "%.0f,%.0f,%s", x, y, score)
	}
	return b.String()
}

func cocoFixtures() []fixture {
	of := func(name, about, text string, args ...string) fixture {
		return fixture{name: "coco/" + name + ".json", about: about, bytes: func() []byte { return []byte(text) }, args: args}
	}
	list := func(f figure, each func(i int, person string) string) string {
		var people []string
		for i, frame := range f.frames {
			people = append(people, each(i, cocoPerson(frame, 0, true)))
		}
		return "[" + strings.Join(people, ",\n") + "]"
	}
	result := func(i int, person string) string {
		return fmt.Sprintf(`{"image_id":%d,"category_id":1,"keypoints":[%s],"score":0.97}`, i+1, person)
	}
	results := list(standing(6), result)
	images, notes, crowd := []string(nil), []string(nil), []string(nil)
	for i, frame := range standing(6).frames {
		images = append(images, fmt.Sprintf(`{"id":%d,"file_name":"serve_%04d.jpg","width":1280,"height":720}`, 900-i, i))
		notes = append(notes, fmt.Sprintf(`{"id":%d,"image_id":%d,"category_id":1,"iscrowd":0,"num_keypoints":17,`+
			`"bbox":[600,300,90,400],"keypoints":[%s]}`, i, 900-i, cocoPerson(frame, 0, false)))
		crowd = append(crowd, fmt.Sprintf(`{"image_id":"cam1/img_%05d.png","keypoints":[%s],"score":0.4},`+
			`{"image_id":"cam1/img_%05d.png","keypoints":[%s],"score":0.9}`, i, cocoPerson(frame, 400, true), i,
			cocoPerson(frame, 0, true)))
	}
	object := func(annotations string) string {
		return `{"info":{"fps":60},"images":[` + strings.Join(images, ",\n") + `],"categories":[{"id":1,"name":"person",` +
			`"keypoints":["nose","left_eye","right_eye","left_ear","right_ear","left_shoulder","right_shoulder","left_elbow",` +
			`"right_elbow","left_wrist","right_wrist","left_hip","right_hip","left_knee","right_knee","left_ankle",` +
			`"right_ankle"],"skeleton":[[16,14]]}],"annotations":` + annotations + `}`
	}
	rate := []string{"--rate", "50"}
	return []fixture{
		{name: "coco/serve.json.gz", about: "a list of results: a whole serve, a camera from the right, packed by gzip",
			bytes: func() []byte { return packed(list(serveFigure(), result)) }, args: []string{"--rate", "50", "--height",
				"1.83"}},
		of("no-rate", "the same without a rate, which no such file has", results),
		of("annotations", "an object with images, whose ids do not follow their names, and annotations; a rate in info",
			object("["+strings.Join(notes, ",\n")+"]")),
		of("crowd", "two persons in every picture, image_ids are names", "["+strings.Join(crowd, ",\n")+"]", rate...),
		of("videos", "pictures of two videos in one list", list(standing(6), func(i int, person string) string {
			return fmt.Sprintf(`{"image_id":"clip%d/%06d.jpg","keypoints":[%s],"score":0.9}`, i/3+1, i%3, person)
		}), rate...),
		of("no-scores", "x and y of each keypoint, and no score", list(standing(6), func(i int, person string) string {
			return result(i, strings.ReplaceAll(person, ",0.9", ""))
		}), rate...),
		of("empty-pictures", "two pictures with nobody, one of them with an empty list, and unseen keypoints", list(
			standing(6), func(i int, person string) string {
				switch {
				case i == 2:
					return `{"image_id":3,"keypoints":[]}`
				case i > 3:
					i++
				}
				return result(i, strings.ReplaceAll(person[:len(person)-3], "0.9", "0.8")+"0")
			}), rate...),
		of("named-differently", "133 keypoints with a name for none", list(standing(2), func(i int, person string) string {
			return result(i, person+strings.Repeat(",600.5,400.5,0.3", 116))
		}), rate...),
		of("not-a-list", "annotations is an object", object(`{"1":2}`), rate...),
		of("wrong-number", "a keypoint is a text", object(`[{"image_id":1,"keypoints":[1,"x",2]}]`), rate...),
		of("cut", "cut off in the middle", results[:len(results)/2], rate...),
		of("uneven", "17 keypoints, then 16", strings.Replace(results, cocoPerson(standing(6).frames[4], 0, true),
			"1,2,1"+strings.Repeat(",1,2,1", 15), 1), rate...),
	}
}

// textTable is a figure as text, by rows of fields.
type textTable struct {
	figure
	names  []string
	digits int
}

// rows gives the fields of each frame behind what first gives for it.
func (t textTable) rows(first func(frame int) []string) [][]string {
	var rows [][]string
	for i, frame := range t.frames {
		row := first(i)
		for _, p := range frame {
			for _, v := range p {
				text := ""
				if v == v {
					text = strconv.FormatFloat(v, 'f', t.digits, 64)
				}
				row = append(row, text)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// titles gives a title for each coordinate, by a format of the name and the axis.
func (t textTable) titles(format string) []string {
	var out []string
	for _, n := range t.names {
		for _, axis := range []string{"x", "y", "z"} {
			out = append(out, fmt.Sprintf(format, n, axis))
		}
	}
	return out
}

func lines(rows [][]string, delimiter, newline string) string {
	var b strings.Builder
	for _, row := range rows {
		b.WriteString(strings.Join(row, delimiter) + newline)
	}
	return b.String()
}

func packed(text string) []byte {
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression)
	z.Write([]byte(text))
	z.Close()
	return b.Bytes()
}

// utf16le is a text as spreadsheets write "Unicode text".
func utf16le(text string) []byte {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(text)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return b
}

func seconds(rate float64, digits int) func(int) []string {
	return func(i int) []string { return []string{strconv.FormatFloat(float64(i)/rate, 'f', digits, 64)} }
}

func frameNumbers(first int) func(int) []string {
	return func(i int) []string { return []string{strconv.Itoa(first + i)} }
}

func repeated(n int, texts ...string) []string {
	var out []string
	for range n {
		out = append(out, texts...)
	}
	return out
}

// over gives names that stand over the first of three columns.
func over(names []string) []string {
	var out []string
	for _, n := range names {
		out = append(out, n, "", "")
	}
	return out
}

func csvFixtures() []fixture {
	of := func(name, about, text string, args ...string) fixture {
		return fixture{name: "csv/" + name, about: about, bytes: func() []byte { return []byte(text) }, args: args}
	}
	names := pick(joints, few)
	body := textTable{standing(6).only(few), names, 3}
	millimetres := textTable{lab(standing(6).only(few)), pick(labMarkers(""), few), 1}
	wide := func(t textTable, title string, first func(int) []string, heads ...string) [][]string {
		return append([][]string{append(heads, t.titles(title)...)}, t.rows(first)...)
	}
	plain := lines(wide(body, "%s_%s", seconds(50, 2), "time"), ",", "\n")
	changed := func(old, new string) string { return strings.Replace(plain, old, new, 1) }
	comma := func(text string) string { return strings.ReplaceAll(text, ".", ",") }
	serve := textTable{serveFigure(), joints, 3}
	return []fixture{
		{name: "csv/serve-wide.csv.gz", about: "a whole serve, comma, packed by gzip", bytes: func() []byte {
			return packed(lines(wide(serve, "%s_%s", seconds(50, 2), "time"), ",", "\n"))
		}},
		{name: "csv/serve-long.csv.gz", about: "the same with a row for each point, packed by gzip", bytes: func() []byte {
			return packed(longTable(serve, ",", "frame,landmark,x,y,z,rate"))
		}, args: []string{"--rate", "50"}},
		of("continental.csv", "byte order mark, semicolons, decimal commas, a row of units, Windows line ends", "\ufeff"+
			comma(lines(append([][]string{append([]string{"Zeit"}, body.titles("%s %s")...),
				append([]string{"s"}, repeated(27, "m")...)}, body.rows(seconds(50, 2))...), ";", "\r\n")), "--rate", "50"),
		of("two-headings.tsv", "facts in front, names over their first columns, X Y Z below with numbers", "FrameRate\t50\n"+
			"Frames\t6\nUnits\tmm\n\n"+lines(append([][]string{append([]string{"Frame#", "Time"}, over(millimetres.names)...),
			append([]string{"", ""}, numberedAxes(9)...)}, millimetres.rows(func(i int) []string {
			return []string{strconv.Itoa(i + 1), strconv.FormatFloat(float64(i)/50, 'f', 5, 64)}
		})...), "\t", "\t\n")),
		of("preamble.csv", "a section's title, the rate alone on a line, names with a subject, axes, units",
			"Trajectories\n50\n"+
				lines(append([][]string{append([]string{"", ""}, over(pick(labMarkers("Tuva:"), few))...),
					append([]string{"Frame", "Sub Frame"}, repeated(9, "X", "Y", "Z")...),
					append([]string{"", ""}, repeated(27, "mm")...)}, millimetres.rows(func(i int) []string {
					return []string{strconv.Itoa(i + 1), "0"}
				})...), ",", "\n")),
		of("layers.csv", "six heading rows: what, who, which, how, with names over each column", lines(append([][]string{
			{"Format Version", "1.2", "Capture Frame Rate", "50.000000", "Length Units", "Meters", "Coordinate Space", "Global"},
			append([]string{"", "Type"}, repeated(27, "Marker")...),
			append([]string{"", "Name"}, eachThree(names)...),
			append([]string{"", "ID"}, eachThree(numbered("A1:%02d", 9))...),
			append([]string{"", ""}, repeated(27, "Position")...),
			append([]string{"Frame", "Time (Seconds)"}, repeated(9, "X", "Y", "Z")...)},
			body.rows(func(i int) []string { return []string{strconv.Itoa(i), fmt.Sprintf("%.6f", float64(i)/50)} })...),
			",", "\n")),
		{name: "csv/unicode.txt", about: "UTF-16 with tabs, as spreadsheets write Unicode text", bytes: func() []byte {
			return utf16le(lines(wide(body, "%s.%s", seconds(50, 2), "Time (s)"), "\t", "\r\n"))
		}},
		{name: "csv/latin.csv", about: "names in ISO 8859-1", bytes: func() []byte {
			return bytes.ReplaceAll([]byte(changed("RightAnkle_x,RightAnkle_y,RightAnkle_z", "Fuss_x,Fuss_y,Fuss_z")),
				[]byte("Fuss"),
				[]byte("Fu\xdf"))
		}},
		of("quoted.csv", "every field in quotes", lines(quotedAll(wide(body, "%s %s", seconds(50, 2), "time [s]")), ",",
			"\n")),
		of("trailing.csv", "a delimiter at the end of every line", strings.ReplaceAll(plain, "\n", ",\n")),
		of("blanks.txt", "columns set apart by runs of blanks", lines(wide(body, "%s_%s", seconds(50, 2), "time"), "   ",
			"\n")),
		of("missing-words.csv", "missing values as nothing, NaN, -, and NA", missingIn(body, "", "NaN", "-", "NA")),
		of("missing-zeros.csv", "missing values as 0, 0, 0", missingIn(body, "0")),
		of("missing-nines.csv", "missing values as -9999", missingIn(body, "-9999")),
		of("frames-only.csv", "frame numbers from 233 on, and no rate", lines(wide(body, "%s_%s", frameNumbers(233),
			"frame"), ",",
			"\n")),
		of("milliseconds.csv", "time in milliseconds", lines(wide(body, "%s_%s", func(i int) []string {
			return []string{strconv.Itoa(20 * i)}
		}, "Timestamp (ms)"), ",", "\n")),
		of("clock.csv", "date and time of day", lines(wide(body, "%s_%s", func(i int) []string {
			return []string{fmt.Sprintf("2026-03-14 10:59:59.%03d", 20*i)}
		}, "timestamp"), ",", "\n")),
		of("blank-lines.csv", "blank lines between, comments with what is known",
			"# player: P07\n# rate = 50 Hz\n# units: m\n\n"+
				strings.ReplaceAll(lines(wide(body, "%s_%s", frameNumbers(1), "frame"), ",", "\n"), "\n", "\n\n")),
		of("several.csv", "two takes in one table, told apart by a column", lines(append([][]string{append([]string{"trial",
			"t"},
			body.titles("%s_%s")...)}, append(body.rows(func(i int) []string {
			return []string{"T1", fmt.Sprintf("%.2f", float64(i)/50)}
		}), body.rows(func(i int) []string { return []string{"T2", fmt.Sprintf("%.2f", float64(i)/50)} })...)...), ",",
			"\n")),
		of("long-continental.csv", "a row for each point, semicolons, decimal commas, a column that is not used",
			comma(longTable(body, ";", "time;marker;X (m);Y (m);Z (m);quality"))),
		of("picture.csv", "landmarks of a picture with a score for each", pictureTable(body.figure, names), "--height",
			"1.83"),
		of("uneven-times.csv", "times that stray", lines(wide(textTable{standing(15).only(few), names, 2}, "%s_%s",
			func(i int) []string {
				return []string{strconv.FormatFloat(float64(i)/50+0.004*float64(i%3), 'f', 3, 64)}
			}, "time"), ",", "\n")),
		of("lost-frames.csv", "frame numbers with a gap", lines(wide(body, "%s_%s", func(i int) []string {
			return []string{strconv.Itoa(i + 1 + 4*(i/4))}
		}, "frame"), ",", "\n"), "--rate", "50"),
		of("millimetres.csv", "units in the titles", lines(wide(millimetres, "%s_%s (mm)", seconds(50, 2), "time (s)"), ",",
			"\n")),
		of("centimetres.csv", "no units; centimetres by the size of the body",
			lines(wide(textTable{standing(6).only(few).turned("xyz", 100),
				names, 1}, "%s_%s", seconds(50, 2), "time"), ",", "\n")),
		of("same-time.csv", "a line that is there twice, and one with another place for the same time",
			twice(twice(plain, 3, ""), 5, "0.001")),
		of("thousands.csv", "separators of thousands", strings.ReplaceAll(lines(wide(textTable{millimetres.figure, names, 1},
			"%s_%s", seconds(50, 2), "time"), ";", "\n"), ";15", ";1'5"), "--rate", "50"),
		of("ragged.csv", "a line in the middle lacks its last columns", cutLine(plain, 4, 60)),
		of("cut.csv", "the last line is cut off", plain[:len(plain)-40]),
		of("no-header.csv", "numbers and no titles", plain[strings.IndexByte(plain, '\n')+1:]),
		of("no-numbers.csv", "titles and no numbers", plain[:strings.IndexByte(plain, '\n')+1]),
		of("words.csv", "a word among the numbers", changed("\n0.04,", "\n0.04,occluded,")),
		of("results.csv", "a table of results, not of frames",
			"player,serve,speed_kmh,outcome\nP01,1,171,in\nP01,2,168,out\n"),
	}
}

func numbered(format string, n int) []string {
	var out []string
	for i := range n {
		out = append(out, fmt.Sprintf(format, i+1))
	}
	return out
}

func numberedAxes(points int) []string {
	var out []string
	for k := range points {
		out = append(out, fmt.Sprintf("X%d", k+1), fmt.Sprintf("Y%d", k+1), fmt.Sprintf("Z%d", k+1))
	}
	return out
}

func eachThree(names []string) []string {
	var out []string
	for _, n := range names {
		out = append(out, n, n, n)
	}
	return out
}

func quotedAll(rows [][]string) [][]string {
	for _, row := range rows {
		for i := range row {
			row[i] = `"` + row[i] + `"`
		}
	}
	return rows
}

// longTable has a row for each point and frame.
func longTable(t textTable, d, head string) string {
	var b strings.Builder
	b.WriteString(head + "\n")
	for i, frame := range t.frames {
		key := strconv.Itoa(i + 1)
		if strings.HasPrefix(head, "time") {
			key = strconv.FormatFloat(float64(i)/t.rate, 'f', 2, 64)
		}
		for k, p := range frame {
			fmt.Fprintf(&b, "%s%s%s%s%.3f%s%.3f%s%.3f%s1\n", key, d, t.names[k], d, p[0], d, p[1], d, p[2], d)
		}
	}
	return b.String()
}

// missingIn loses the right wrist in four frames, and writes words for it, one after the other.
func missingIn(t textTable, words ...string) string {
	rows := append([][]string{append([]string{"time"}, t.titles("%s_%s")...)}, t.rows(seconds(50, 2))...)
	for i := range 4 {
		for axis := range 3 {
			rows[2+i][1+3*4+axis] = words[i%len(words)]
		}
	}
	return lines(rows, ",", "\n")
}

// pictureTable has x, y and a score of each point.
func pictureTable(f figure, names []string) string {
	var b strings.Builder
	b.WriteString("frame_time")
	for _, n := range names {
		fmt.Fprintf(&b, ",%[1]s_x,%[1]s_y,%[1]s_likelihood", n)
	}
	for i, frame := range f.frames {
		fmt.Fprintf(&b, "\n%.2f", float64(i)/f.rate)
		for _, p := range frame {
			fmt.Fprintf(&b, ",%.1f,%.1f,0.98", 640+180*p[0], 700-180*p[1])
		}
	}
	return b.String() + "\n"
}

// twice repeats a line, with the end of its last number changed.
func twice(text string, line int, end string) string {
	all := strings.SplitAfter(text, "\n")
	again := strings.TrimSuffix(all[line], "\n")
	again = again[:len(again)-len(end)] + end + "\n"
	return strings.Join(all[:line+1], "") + again + strings.Join(all[line+1:], "")
}

// cutLine leaves so many bytes of a line.
func cutLine(text string, line, bytes int) string {
	all := strings.SplitAfter(text, "\n")
	all[line] = all[line][:bytes] + "\n"
	return strings.Join(all, "")
}
