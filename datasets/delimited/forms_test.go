package delimited

import (
	"encoding/binary"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"unicode/utf16"
)

// TestForms writes one table in the forms that spreadsheets and systems give it: what is read is the same.
func TestForms(t *testing.T) {
	const titles = "time,hip_x,hip_y,hip_z,knee_x,knee_y,knee_z"
	var rows []string
	var want []float32
	for i := range 20 {
		x := 0.25 * float64(i)
		rows = append(rows, fmt.Sprintf("%.2f,%.2f,%.2f,-0.50,1.25,%.2f,0.75", float64(i)/100, x, -x, x))
		want = append(want, float32(x), float32(-x), -0.5, 1.25, float32(x), 0.75)
	}
	plain := titles + "\n" + strings.Join(rows, "\n") + "\n"
	replace := func(pairs ...string) string { return strings.NewReplacer(pairs...).Replace(plain) }
	below := func(row string) string { return strings.Replace(plain, "\n", "\n"+row+"\n", 1) }
	for _, c := range []struct{ name, text, units string }{
		{"plain", plain, ""},
		{"no newline at the end", strings.TrimSuffix(plain, "\n"), ""},
		{"semicolons", replace(",", ";"), ""},
		{"semicolons, decimal commas", replace(",", ";", ".", ","), ""},
		{"tabs, decimal commas", replace(",", "\t", ".", ","), ""},
		{"bars, decimal commas", replace(",", "|", ".", ","), ""},
		{"bars all around", "|" + strings.TrimSuffix(replace(",", "|", "\n", "|\n|"), "|"), ""},
		{"decimal commas in quotes", `"` + strings.TrimSuffix(replace(",", `","`, ".", ",", "\n", "\"\n\""), `"`), ""},
		{"everything in quotes", `"` + strings.TrimSuffix(replace(",", `","`, "\n", "\"\n\""), `"`), ""},
		{"blanks around", replace(",", " , "), ""},
		{"units below", below("s,mm,mm,mm,mm,mm,mm"), "mm"},
		{"units above", "s,mm,mm,mm,mm,mm,mm\n" + plain, "mm"},
		{"units in brackets", below("[s],[mm],[mm],[mm],[mm],[mm],[mm]"), "mm"},
		{"units that are not known", below("s,furlong,furlong,furlong,furlong,furlong,furlong"), "furlong"},
		{"units that differ", below("s,mm,m,mm,mm,m,mm"), ""},
		{"byte order mark", "\xef\xbb\xbf" + plain, ""},
		{"UTF-16", wideText(binary.LittleEndian, "\ufeff"+plain), ""},
		{"UTF-16 of the other order", wideText(binary.BigEndian, "\ufeff"+plain), ""},
		{"UTF-16 without a mark", wideText(binary.LittleEndian, plain), ""},
		{"UTF-16 of the other order without a mark", wideText(binary.BigEndian, plain), ""},
		{"carriage returns and newlines", replace("\n", "\r\n"), ""},
		{"carriage returns", replace("\n", "\r"), ""},
		{"two carriage returns and newlines", replace("\n", "\r\r\n"), ""},
		{"commas at the ends of lines", replace("\n", ",\n"), ""},
		{"a comma at the end of the titles", strings.Replace(plain, "\n", ",\n", 1), ""},
		{"blank lines", replace("\n", "\n\n"), ""},
		{"lines of blanks", replace("\n", "\n  \n"), ""},
		{"comment lines", "# units: mm\n" + replace("\n", "\n# so it was\n"), "mm"},
		{"the delimiter said", "sep=;\n" + replace(",", ";"), ""},
		{"exponents", replace("1.25", "125e-2", "0.75", "7.5E-01"), ""},
		{"signs and points alone", replace(",1.25", ",+1.25", ",0.75", ",.75"), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw, err := Read(strings.NewReader(c.text))
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(raw.Points, []string{"hip", "knee"}) || !same(raw.XYZ, want) || raw.Units != c.units {
				t.Errorf("points %q, units %q, values %v", raw.Points, raw.Units, raw.XYZ)
			}
			if len(raw.TimeS) != 20 {
				t.Errorf("times %v", raw.TimeS)
			}
		})
	}
}

// wideText is a text in UTF-16.
func wideText(order binary.AppendByteOrder, text string) string {
	var b []byte
	for _, c := range utf16.Encode([]rune(text)) {
		b = order.AppendUint16(b, c)
	}
	return string(b)
}

// TestRemedies checks what somebody is told to do about a table that cannot be read.
func TestRemedies(t *testing.T) {
	const head = "time,hip_x,hip_y,hip_z\n"
	semicolons := strings.ReplaceAll(head, ",", ";")
	for _, c := range []struct{ name, text, want string }{
		{"no titles", "0,1,2,3\n1,1,2,3\n", "line 1: the table has no header: the first line already holds numbers; put a " +
			"line with the names of the columns in front"},
		{"titles alone", head, "line 1: the file ends after its first line: there are no rows of numbers"},
		{"one line of something else", "<p>a, b, c</p>\n", "line 1: no table of points was found: expected a line of column names"},
		{"decimal commas between commas", head + "0,00,1,5,2,5,3,5\n0,01,1,5,2,5,3,5\n", "line 2, column 10: the line has " +
			"more than the 4 columns of the header; where commas stand for decimal points, separate the columns by semicolons"},
		{"one column too many", head + "0,1,2,3,4\n1,1,2,3\n", "line 2, column 9: the line has more than the 4 columns of " +
			"the header"},
		{"thousands in quotes", head + "0,\"1,234.5\",2,3\n",
			`line 2, column 3: expected a number for hip_x, found "1,234.5"; ` +
				"write numbers without separators of thousands"},
		{"thousands by points", semicolons + "0,0;1.234,5;2,5;3,5\n", `found "1.234,5"; write numbers without separators`},
		{"thousands by apostrophes", head + "0,1'234.5,2,3\n", `found "1'234.5"; write numbers without separators`},
		{"a unit in the field", head + "0,1,2,3\n1,1 mm,2,3\n",
			`line 3, column 3: expected a number for hip_x, found "1 mm"`},
		{"hexadecimal", head + "0,1,2,3\n1,0x10,2,3\n", `line 3, column 3: expected a number for hip_x, found "0x10"`},
		{"infinite", head + "0,1,2,3\n1,-inf,2,3\n", `line 3, column 3: expected a number for hip_x, found "-inf"`},
		{"letters that are no UTF-8", head + "0,1,2,3\n1,\xe4,2,3\n", `found "\u00e4"`},
		{"a text of two lines in the titles", "time,\"hip\n x\",hip_y,hip_z\n0,1,2,3\n",
			"texts of several lines are not read"},
		{"a text of two lines in a row", "time,note,hip_x,hip_y,hip_z\n0,a,1,2,3\n1,\"b\nc\",1,2,3\n",
			"line 3, column 5: the line ends after 2 of 5 columns; texts of several lines are not read: put each on one line"},
		{"times as frame numbers", "frame,hip_x,hip_y,hip_z\n0,1,2,3\n0.01,1,2,3\n0.025,1,2,3\n",
			"column frame is no numbering of frames: it runs from 0 to 0.025 over 3 frames; look at the column; if it holds " +
				"times, call it time"},
		{"titles longer than a line may be", "time" + strings.Repeat(",hip_x,hip_y,hip_z", 1<<17) + "\n",
			"line 1: the line is longer than 1 MB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw, err := Read(strings.NewReader(c.text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v (%v), want %q", err, raw, c.want)
			}
		})
	}
}
