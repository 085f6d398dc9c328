package command

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"

	"tossline/datasets/columnar"
)

// besideOurs sets the measures of a colleague beside ours.
const besideOurs = `// Beside the lab
//
// What a colleague measured of the same serves, beside ours.
package recipe

import (
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// Both has what we measured and what they measured, by serve.
func Both(season motion.Season) (table.Table, error) {
	ours, err := season.Measure(motion.FrontKneeFlexion)
	if err != nil {
		return table.Table{}, err
	}
	theirs, err := season.Table("lab")
	if err != nil {
		return table.Table{}, err
	}
	both := ours.Join(theirs, "serve").WithNumber("apart_deg", "deg", func(r table.Row) float64 {
		return r.Number("knee_deg") - r.Number("front_knee_flexion_deg")
	})
	return both.Pick("serve", "front_knee_flexion_deg", "knee_deg", "apart_deg"), both.Err()
}
`

// wholeTable reads a table as other tools would, with what is said of it.
func wholeTable(t *testing.T, path string) columnar.Table {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	all, _, err := columnar.Whole(f, info.Size(), 1<<30)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestEveryTableIsKeptAndComesBack(t *testing.T) {
	dir := imported(t)
	for _, table := range []string{"serves", "events", "measures", "frames", "signals", "changes", "groups"} {
		for _, format := range []string{"csv", "parquet", "arrow"} {
			name := "copy of " + table + " from " + format
			before := exported(t, dir, table, format)
			told := ok(t, "import", "--season", dir, "--table", name, before)
			if !strings.Contains(told, "kept as table "+name) || !strings.Contains(told, format+", ") {
				t.Errorf("%s: told %s", name, told)
			}
			after := exported(t, dir, name, format)
			if format == "csv" {
				if text(t, before) != text(t, after) {
					t.Errorf("%s: the CSV is another", name)
				}
				continue
			}
			was, is := wholeTable(t, before).Record, wholeTable(t, after).Record
			if !is.Schema().Equal(was.Schema()) || !is.Schema().Metadata().Equal(was.Schema().Metadata()) ||
				!array.RecordEqual(is, was) {
				t.Errorf("%s: came back as\n%v, was\n%v", name, is.Schema(), was.Schema())
			}
		}
	}
	if told := ok(t, "verify", dir); !strings.Contains(told, "21 tables") || !strings.Contains(told, "all is well") {
		t.Errorf("verify: %s", told)
	}
}

func TestRecipeReadsAKeptTable(t *testing.T) {
	dir := imported(t)
	var lab bytes.Buffer
	lab.WriteString("serve;knee_deg\n")
	serves := wholeTable(t, exported(t, dir, "serves", "arrow")).Record
	for row := range int(serves.NumRows()) {
		lab.WriteString(serves.Column(0).ValueStr(row) + ";71,5\n")
	}
	file, recipe := write(t, "colleague.csv", lab.Bytes()), write(t, "beside.go", []byte(besideOurs))
	if s := run("run", recipe, "--season", dir); s.code != 1 ||
		!strings.Contains(s.err+s.out, `the season keeps no table "lab"`) {
		t.Errorf("without the table: %d, %s%s", s.code, s.out, s.err)
	}
	var dry tableReport
	if err := json.Unmarshal([]byte(ok(t, "import", "--season", dir, "--table", "lab", "--dry-run", "--json", file)),
		&dry); err != nil {
		t.Fatal(err)
	}
	if knee := dry.Columns[1]; dry.Outcome != "" || dry.Rows != int(serves.NumRows()) || knee.Type != "number" ||
		knee.Unit != "deg" || knee.Missing != 0 || dry.Format != "csv" {
		t.Errorf("dry run: %+v", dry)
	}
	if s := run("export", "--season", dir, "--table", "lab", "-o", filepath.Join(t.TempDir(), "lab.csv")); s.code != 1 ||
		!strings.Contains(s.err, `there is no table "lab"`) {
		t.Errorf("a dry run stored something: %+v", s)
	}
	ok(t, "import", "--season", dir, "--table", "lab", file)
	if told := ok(t, "run", recipe, "--season", dir); !strings.Contains(told, "71.5") || !strings.Contains(told, "apart") {
		t.Errorf("with the table: %s", told)
	}
	ok(t, "remove", "--season", dir, "--table", "lab")
	if s := run("run", recipe, "--season", dir); s.code != 1 {
		t.Errorf("without the table again: %s", s.out)
	}
}

// A season that the first version of the program made is upgraded by whatever is done with it first.
func TestSeasonOfTheFirstVersionRuns(t *testing.T) {
	dir := imported(t)
	db, err := sql.Open("sqlite", filepath.Join(dir, "season.db"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("drop table tables; pragma user_version = 1"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	if err := os.Remove(filepath.Join(dir, "tables")); err != nil {
		t.Fatal(err)
	}
	if told := ok(t, "run", "knee_flex", "--season", dir); !strings.Contains(told, "Knee") {
		t.Errorf("run: %s", told)
	}
	if copies, _ := filepath.Glob(filepath.Join(dir, "season-schema1-*.db")); len(copies) != 1 {
		t.Errorf("copies %v", copies)
	}
}

func TestTablesThatAreNotKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	good := write(t, "good.csv", []byte("a,b\n1,2\n"))
	for name, c := range map[string]struct {
		args []string
		code int
		want string
	}{
		"no file":            {[]string{"--table", "lab"}, 2, "--table keeps one file under a name"},
		"two files":          {[]string{"--table", "lab", good, good}, 2, "--table keeps one file under a name"},
		"a name of our own":  {[]string{"--table", "frames", good}, 2, "which the season has of its own"},
		"no name":            {[]string{"--table", "", good}, 2, "expected a name"},
		"about a player":     {[]string{"--table", "lab", "--player", "Ada", good}, 2, "--player is about recordings"},
		"particulars beside": {[]string{"--table", "lab", "--particulars", good, good}, 2, "--particulars is about"},
		"no such file":       {[]string{"--table", "lab", "none.csv"}, 1, "there is no such file"},
		"uneven rows": {[]string{"--table", "lab", write(t, "bad.csv", []byte("a,b\n1\n"))}, 1,
			"bad.csv, line 2: the row has 1 values"},
		"bytes":      {[]string{"--table", "lab", write(t, "bad.bin", []byte{0, 1, 2, 3})}, 1, "bad.bin: this is no table"},
		"cut short":  {[]string{"--table", "lab", write(t, "bad.arrow", []byte("ARROW1\x00\x00\xff\xff"))}, 1, "bad.arrow: "},
		"no Parquet": {[]string{"--table", "lab", write(t, "bad.parquet", []byte("PAR1PAR1PAR1"))}, 1, "bad.parquet: "},
	} {
		t.Run(name, func(t *testing.T) {
			s := run(append([]string{"import", "--season", dir}, c.args...)...)
			if s.code != c.code || !strings.Contains(s.err, c.want) {
				t.Errorf("exit code %d: %s; want %d: %s", s.code, s.err, c.code, c.want)
			}
		})
	}
}
