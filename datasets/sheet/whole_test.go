package sheet

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/apache/arrow/go/v17/arrow"

	"tossline/datasets/export"
	"tossline/datasets/recording"
)

// readAll reads a table that lies in memory.
func readAll(data []byte) (arrow.Record, Understood, error) {
	return ReadWhole(recording.Input{Name: "table", Data: bytes.NewReader(data), Size: int64(len(data))})
}

// described gives the columns of a table as "name type unit: values", where ~ is missing.
func described(record arrow.Record, u Understood) string {
	var b strings.Builder
	for i, c := range u.Columns {
		fmt.Fprintf(&b, "%s %s", c.Name, c.Type)
		if c.Unit != "" {
			b.WriteString(" in " + c.Unit)
		}
		b.WriteByte(':')
		for row := range int(record.NumRows()) {
			value := "~"
			if record.Column(i).IsValid(row) {
				value = record.Column(i).ValueStr(row)
			}
			b.WriteString(" " + value)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func utf16LE(text string) []byte {
	out := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(text)) {
		out = append(out, byte(u), byte(u>>8))
	}
	return out
}

func packed(text string) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write([]byte(text))
	z.Close()
	return b.Bytes()
}

func TestTypesAreFoundFromTheTexts(t *testing.T) {
	plain := "player,force_N,n,ok,day,at,note\n" +
		"Ada,812.5,3,true,2026-03-14,2026-03-14T09:30:00Z,\"\"\n" +
		"Bo,,4,FALSE,,,\n"
	wantPlain := "player text: Ada Bo\nforce_N number in N: 812.5 ~\nn integer: 3 4\nok bool: true false\n" +
		"day date: 2026-03-14 ~\nat time: 2026-03-14 09:30:00Z ~\nnote text:  ~\n"
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"all types":           {[]byte(plain), wantPlain},
		"gzip":                {packed(plain), wantPlain},
		"UTF-16":              {utf16LE(plain), wantPlain},
		"byte order mark":     {[]byte("\xef\xbb\xbf" + plain), wantPlain},
		"CRLF":                {[]byte(strings.ReplaceAll(plain, "\n", "\r\n")), wantPlain},
		"semicolons and tabs": {[]byte(strings.ReplaceAll(plain, ",", ";")), wantPlain},
		"tabs":                {[]byte(strings.ReplaceAll(plain, ",", "\t")), wantPlain},
		"bars":                {[]byte(strings.ReplaceAll(plain, ",", "|")), wantPlain},
		"decimal comma":       {[]byte("a;b_m\nx;1,5\ny;2\n"), "a text: x y\nb_m number in m: 1.5 2\n"},
		"the delimiter said":  {[]byte("sep=;\r\n" + strings.ReplaceAll(plain, ",", ";")), wantPlain},
		"blanks":              {[]byte("a b\n1 x\n2 y\n"), "a integer: 1 2\nb text: x y\n"},
		"comment":             {[]byte("# made by hand\na,b\n1,2\n"), "a integer: 1\nb integer: 2\n"},
		"units below":         {[]byte("who,peak\n,N\nAda,12\n"), "who text: Ada\npeak integer in N: 12\n"},
		"units in brackets":   {[]byte("who,peak (N)\nAda,12.5\n"), "who text: Ada\npeak (N) number in N: 12.5\n"},
		"speed, not seconds": {[]byte("ball_m_s,x_s,y_deg_s,z_pct,rate_hz,men_n\n1,1,1,1,1,1\n"),
			"ball_m_s integer in m/s: 1\nx_s integer in s: 1\ny_deg_s integer in deg/s: 1\nz_pct integer in %: 1\n" +
				"rate_hz integer in Hz: 1\nmen_n integer: 1\n"},
		"words for missing":   {[]byte("a,b,c\nNA,NaN,x\n1,2.5,NA\n"), "a integer: ~ 1\nb number: ~ 2.5\nc text: x ~\n"},
		"nothing but missing": {[]byte("why,force_N\n,\n,\n"), "why text: ~ ~\nforce_N number in N: ~ ~\n"},
		"quotes make texts":   {[]byte("a,b\n\"1\",2\n\"3\",4\n"), "a text: 1 3\nb integer: 2 4\n"},
		"all in quotes":       {[]byte("\"a\",\"b\"\n\"1\",\"\"\n\"3\",\"4.5\"\n"), "a integer: 1 3\nb number: ~ 4.5\n"},
		"names, not numbers": {[]byte("id,code\n007,12345678901234567890\n12,1\n"),
			"id text: 007 12\ncode text: 12345678901234567890 1\n"},
		"one column":              {[]byte("a_m\n1\n\n2\n"), "a_m integer in m: 1 ~ 2\n"},
		"several lines":           {[]byte("a,b\n\"x\r\ny \"\"z\"\"\",1\n"), "a text: x\r\ny \"z\"\nb integer: 1\n"},
		"formula":                 {[]byte("a,b\n\"'=1+1\",\"'x\"\n"), "a text: =1+1\nb text: 'x\n"},
		"Windows-1252":            {[]byte("who,n\nZo\xeb,1\n"), "who text: Zoë\nn integer: 1\n"},
		"delimiters at the end":   {[]byte("a,b,,\n1,2,,\n"), "a integer: 1\nb integer: 2\n"},
		"infinite and below zero": {[]byte("a,b\n+Inf,-0\n-1e+06,2\n"), "a number: +Inf -1e+06\nb number: -0 2\n"},
		"no rows":                 {[]byte("a,b_m\n"), "a text:\nb_m number in m:\n"},
		"no last newline":         {[]byte("a,b\n1,x"), "a integer: 1\nb text: x\n"},
	} {
		t.Run(name, func(t *testing.T) {
			record, u, err := readAll(c.data)
			if err != nil {
				t.Fatal(err)
			}
			if got := described(record, u); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

func TestTablesThatAreRefused(t *testing.T) {
	wide := strings.Repeat("a,", 20_000) + "b\n"
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"empty":            {nil, "table: the file is empty"},
		"only a comment":   {[]byte("# nothing\n"), "table: the file has no lines"},
		"bytes":            {[]byte("\x00\x01\x02,\n"), "table: this is no table that can be read here"},
		"short row":        {[]byte("a,b\n1,2\n3\n"), "table, line 3: the row has 1 values and the header 2 names; give"},
		"long row":         {[]byte("a;b\n1;2\n3;4;5\n"), "table, line 3: the row has 3 values and the header 2 names"},
		"open quote":       {[]byte("a,b\n1,\"x\n"), "table, line 2: a text in quotes has no end"},
		"text behind one":  {[]byte("a,b\n1,\"x\"y\n"), "table, line 2: something follows a text in quotes"},
		"two of one name":  {[]byte("a,b,a\n1,2,3\n"), `table: columns 1 and 3 are both called "a"; rename one`},
		"too many columns": {[]byte(wide), "table, line 1: the table has 20001 columns; 10000 are read at most"},
		"damaged gzip":     {packed("a,b\n1,2\n")[:20], "damaged or cut short"},
		"swollen gzip":     {packed("a\n" + strings.Repeat("0", 80<<20)), "grows beyond 64 MB"},
		"no Arrow file":    {[]byte("ARROW1\x00\x00 and so on"), "the Arrow file"},
		"no Parquet file":  {[]byte("PAR1 and so on"), "Parquet file is damaged"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := readAll(c.data)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

// FuzzWholeText reads texts as tables; what is read must come back from our own CSV.
func FuzzWholeText(f *testing.F) {
	for _, seed := range []string{
		"a,b\n1,2\n", "\"a\";\"b\"\n\"1\";\"x\"\n", "a\n\n1\n", "a,b_m\n\"'=x\",1e5\n,\n", "x|y\n1|NA\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		record, _, err := readAll(data)
		if err != nil {
			return
		}
		first := asCSV(t, record)
		again, _, err := readAll(first)
		if err != nil {
			if bytes.IndexByte(first, 0) >= 0 {
				return // a text with a zero byte is taken for something else than a table
			}
			t.Fatalf("%v\nof %q\nfrom %q", err, first, data)
		}
		if second := asCSV(t, again); !bytes.Equal(first, second) {
			t.Fatalf("%q\nbecame\n%q", first, second)
		}
	})
}

func asCSV(t *testing.T, record arrow.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	content := export.Content{Schema: record.Schema(), Batches: func(yield func(arrow.Record, error) bool) {
		yield(record, nil)
	}}
	if err := export.Write(&b, export.CSV, content); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
