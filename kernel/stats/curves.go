package stats

import (
	"fmt"
	"math"
	"slices"

	"tossline/kernel/result"
	"tossline/kernel/signal"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// Curves are time-normalised courses of one quantity, one for each serve, all over the same phases.
type Curves struct {
	Title string // "Front knee flexion"
	Unit  string
	Who   string
	Phase []float64   // share of the way through the serve, 0 to 100 %
	Rows  [][]float64 // one for each serve, as long as Phase; NaN where missing
}

// CurvesOf reads curves from a table with one row for each serve and phase: the columns serve and phase_pct, and the
// quantity. Serves stand in the order of their first rows. It panics with a [table.Error] when a column is lacking.
func CurvesOf(t table.Table, column string) Curves {
	c := Curves{Title: t.Title(column), Unit: t.Unit(column)}
	serves, phases, values := t.Texts("serve"), t.Numbers("phase_pct"), t.Numbers(column)
	if names := distinct(texts(t, "player")); len(names) == 1 {
		c.Who = names[0]
	}
	c.Phase = slices.DeleteFunc(slices.Clone(phases), missing)
	slices.Sort(c.Phase)
	c.Phase = slices.Compact(c.Phase)
	row := map[string]int{}
	for i, serve := range serves {
		at, known := slices.BinarySearch(c.Phase, phases[i])
		if !known {
			continue
		}
		k, seen := row[serve]
		if !seen {
			k = len(c.Rows)
			row[serve] = k
			c.Rows = append(c.Rows, slices.Repeat([]float64{math.NaN()}, len(c.Phase)))
		}
		c.Rows[k][at] = values[i]
	}
	return c
}

// CurveRows are curves of equal length over phases evenly spread from 0 to 100 %. It panics when they are not equally
// long.
func CurveRows(title, unit string, rows [][]float64) Curves {
	c := Curves{Title: title, Unit: unit, Rows: rows}
	for k, row := range rows {
		if len(row) != len(rows[0]) {
			panic(fmt.Errorf("curve %d of %q has %d points, the first has %d; normalise them to equal length", k+1,
				title, len(row), len(rows[0])))
		}
	}
	if len(rows) > 0 {
		for i := range rows[0] {
			c.Phase = append(c.Phase, 100*float64(i)/float64(max(len(rows[0])-1, 1)))
		}
	}
	return c
}

// Normalise gives a course that was sampled evenly at a number of points evenly spread from one place to another, both
// in samples from the first (they may be fractions), by cubic spline. Gaps of more than 3 samples stay missing.
func Normalise(values []float64, from, to float64, points int) []float64 {
	out := make([]float64, max(points, 0))
	signal.ResampleTo(out, values, from, to, 3)
	return out
}

// Named calls the curves' serves by a name in sentences.
func (c Curves) Named(who string) Curves {
	c.Who = who
	return c
}

// N is the number of serves whose curves have no gap within the phases that most of them have.
func (c Curves) N() int { return len(c.complete().Rows) }

// complete leaves out the phases at either end that fewer than half of the serves have, and then the serves with gaps.
func (c Curves) complete() Curves {
	has := func(i int) bool {
		n := 0
		for _, row := range c.Rows {
			if !missing(row[i]) {
				n++
			}
		}
		return 2*n >= len(c.Rows) && n > 0
	}
	from, to := 0, len(c.Phase)
	for from < to && !has(from) {
		from++
	}
	for to > from && !has(to-1) {
		to--
	}
	return c.within(from, to)
}

// within are the phases from one place to another, and the serves without gaps there.
func (c Curves) within(from, to int) Curves {
	out := c
	out.Phase, out.Rows = c.Phase[from:to], nil
	for _, row := range c.Rows {
		if part := row[from:to]; len(part) > 0 && !slices.ContainsFunc(part, missing) {
			out.Rows = append(out.Rows, part)
		}
	}
	return out
}

func (c Curves) what() string { return Sample{Title: c.Title}.what() }

// meanAndSD are those of each phase.
func meanAndSD(rows [][]float64) (mean, sd []float64) {
	points := len(rows[0])
	mean, sd = make([]float64, points), make([]float64, points)
	n := float64(len(rows))
	copy(mean, rows[0]) // differences from one curve, so that equal curves have no spread at all
	for _, row := range rows {
		for i, v := range row {
			mean[i] += (v - rows[0][i]) / n
		}
	}
	for _, row := range rows {
		for i, v := range row {
			sd[i] += (v - mean[i]) * (v - mean[i])
		}
	}
	for i := range sd {
		sd[i] = math.Sqrt(sd[i] / (n - 1))
	}
	return mean, sd
}

// Band is the mean curve of several serves with a simultaneous band.
type Band struct {
	Title, Unit, Who string

	Phase    []float64
	Mean     []float64
	Low      []float64 // NaN where there is no band
	High     []float64
	SD       []float64 // from serve to serve
	N        int       // serves that went in
	LeftOut  int       // serves with gaps
	Lack     string    // why there is no mean or no band
	Sentence string
}

// String is the sentence.
func (b Band) String() string { return b.Sentence }

// EncodeResult shows the curve as a table; a recipe draws it with chart.Lines over [Band.Table].
func (b Band) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeTable(b.Table().Captioned(b.Sentence))
}

func encodeTable(t table.Table) (result.Result, []result.Attachment, error) {
	described, attached, err := result.Of(t)
	return result.Result{Kind: result.KindTable, Table: described}, attached, err
}

// Table has a row for each phase: who, phase_pct, mean, low, high, sd.
func (b Band) Table() table.Table {
	who := b.Who
	if who == "" {
		who = "all serves"
	}
	return table.New(table.Text("who", slices.Repeat([]string{who}, len(b.Phase))).Titled("Serves of"),
		table.Number("phase_pct", "%", b.Phase).Titled("Phase"), table.Number("mean", b.Unit, b.Mean).Titled(b.Title),
		table.Number("low", b.Unit, b.Low).Titled("Band from"), table.Number("high", b.Unit, b.High).Titled("Band to"),
		table.Number("sd", b.Unit, b.SD).Titled("Spread (SD)"))
}

const (
	bandServes = 6    // fewer give no band
	bandDraws  = 1999 // of a band
)

// Band is the mean curve with a band that holds the whole true mean curve with 95 % confidence, not each point on its
// own: the 95 % quantile, over draws of whole serves, of the largest studentised deviation along the curve (Lenhoff et
// al. 1999; Degras 2011). Serves are taken as independent. Six serves are needed.
func (c Curves) Band() Band {
	k := c.complete()
	b := Band{Title: c.Title, Unit: c.Unit, Who: c.Who, Phase: k.Phase, N: len(k.Rows),
		LeftOut: len(c.Rows) - len(k.Rows)}
	nans := slices.Repeat([]float64{math.NaN()}, len(k.Phase))
	b.Mean, b.SD, b.Low, b.High = nans, nans, nans, nans
	if b.N > 0 {
		b.Mean, b.SD = meanAndSD(k.Rows)
	}
	if b.N < bandServes {
		return b.lacking(fmt.Sprintf("%s with a whole curve; a band needs %d, so %s would do.",
			words.Capital(words.Count(b.N, "serve")), bandServes, more(bandServes-b.N, "serve")))
	}
	if slices.Max(b.SD) == 0 {
		return b.lacking("All curves are alike, so there is no spread to judge by.")
	}
	width := bandWidth(k.Rows, b.Mean)
	b.Low, b.High = make([]float64, len(b.Mean)), make([]float64, len(b.Mean))
	for i, mean := range b.Mean {
		half := width * b.SD[i] / math.Sqrt(float64(b.N))
		b.Low[i], b.High[i] = mean-half, mean+half
	}
	top := 0
	for i, v := range b.Mean {
		if v > b.Mean[top] {
			top = i
		}
	}
	places := places(b.High[top] - b.Low[top])
	b.Sentence = fmt.Sprintf("Mean %s%s over %s, from %.0f to %.0f %%: largest at %.0f %%, %s (band %s to %s).%s",
		c.what(), Sample{Who: c.Who}.whose(), words.Count(b.N, "serve"), b.Phase[0], b.Phase[len(b.Phase)-1], b.Phase[top],
		amount(b.Mean[top], b.Unit, places, false), number(b.Low[top], places, false),
		amount(b.High[top], b.Unit, places, false), gaps(b.LeftOut))
	return b
}

func (b Band) lacking(why string) Band {
	b.Lack = why
	b.Sentence = fmt.Sprintf("Mean %s: no band. %s", Sample{Title: b.Title}.what(), why)
	return b
}

func gaps(leftOut int) string {
	if leftOut == 0 {
		return ""
	}
	return " " + words.Capital(words.Count(leftOut, "serve")) + " with gaps left out."
}

// bandWidth is how many standard errors a simultaneous band reaches to either side.
func bandWidth(rows [][]float64, mean []float64) float64 {
	random := Resampling{}.random()
	n, points := len(rows), len(mean)
	sums, squares := make([]float64, points), make([]float64, points)
	largest := make([]float64, 0, bandDraws)
	for range bandDraws {
		clear(sums)
		clear(squares)
		for range n {
			for i, v := range rows[random.IntN(n)] {
				d := v - mean[i]
				sums[i] += d
				squares[i] += d * d
			}
		}
		peak := 0.0
		for i := range sums {
			// The sums are of n draws about the mean of the serves, so sums/n is the deviation of the drawn mean.
			variance := (squares[i] - sums[i]*sums[i]/float64(n)) / float64(n-1)
			if variance > 0 {
				peak = max(peak, math.Abs(sums[i])/math.Sqrt(float64(n)*variance))
			}
		}
		largest = append(largest, peak)
	}
	slices.Sort(largest)
	return drawQuantile(largest, level)
}
