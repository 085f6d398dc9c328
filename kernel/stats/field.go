package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// CurveComparison tells where two groups of curves part.
type CurveComparison struct {
	Title, Unit   string
	First, Second string // whose curves

	Phase      []float64
	Difference []float64 // mean of the first less mean of the second
	Low        []float64 // simultaneous 95 % band of the difference
	High       []float64
	T          []float64 // t of each phase
	DF         float64
	Threshold  float64   // |t| above it anywhere happens with a chance of 5 % when the curves don't differ
	Smoothness float64   // full width at half maximum of the noise, in % of phase; NaN where it is without bound
	Apart      []Stretch // where |t| exceeds the threshold, in order
	N          int       // serves that went in
	LeftOut    int       // serves with gaps
	Lack       string
	Sentence   string
}

// Stretch is a part of the serve in which two groups of curves differ.
type Stretch struct {
	From, To   float64 // phases, %
	At         float64 // phase of the largest |t|
	Difference float64 // there
	T          float64 // there
	P          float64 // chance of a stretch as long above the threshold anywhere when the curves don't differ
}

// String is the sentence.
func (c CurveComparison) String() string { return c.Sentence }

// EncodeResult shows the comparison as a table; a recipe draws it with chart.Lines over [CurveComparison.Table].
func (c CurveComparison) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeTable(c.Table().Captioned(c.Sentence))
}

// Table has a row for each phase: phase_pct, difference, low, high, t, and apart, which is 1 where the curves part and
// else 0.
func (c CurveComparison) Table() table.Table {
	apart := make([]float64, len(c.Phase))
	for i, phase := range c.Phase {
		for _, s := range c.Apart {
			if phase >= s.From && phase <= s.To {
				apart[i] = 1
			}
		}
	}
	return table.New(table.Number("phase_pct", "%", c.Phase).Titled("Phase"),
		table.Number("difference", c.Unit, c.Difference).Titled("Difference in "+c.what()),
		table.Number("low", c.Unit, c.Low).Titled("Band from"), table.Number("high", c.Unit, c.High).Titled("Band to"),
		table.Number("t", "", c.T).Titled("t"), table.Number("apart", "", apart).Titled("Apart"))
}

func (c CurveComparison) what() string { return Sample{Title: c.Title}.what() }

// curveServes is how many serves each group of curves needs.
const curveServes = 3

// CompareCurves tests where along the serve the mean curves of two groups differ: t of each phase with each group's own
// variance (Welch 1947), against the threshold that random field theory gives for the largest |t| of smooth curves
// (statistical parametric mapping in one dimension: Worsley et al. 1996 for the Euler characteristic; Friston et al.
// 1994 for the chance of a stretch). The smoothness is that of the residuals, summed along the curve (Taylor & Worsley
// 2007). Where curves are so rough that Bonferroni's threshold is lower, that one is used. Serves are taken as
// independent. It panics when the groups have different phases.
func CompareCurves(first, second Curves) CurveComparison {
	c := newCurveComparison(first, second)
	a, b := bothComplete(first, second)
	c.Phase, c.N = a.Phase, len(a.Rows)+len(b.Rows)
	c.LeftOut = len(first.Rows) + len(second.Rows) - c.N
	for _, side := range []struct {
		n   int
		who string
	}{{len(a.Rows), first.Who}, {len(b.Rows), second.Who}} {
		if side.n < curveServes {
			return c.lacking(side.n, side.who)
		}
	}
	if len(c.Phase) < 2 {
		return c.without("The curves share one phase only.")
	}
	meanA, sdA := meanAndSD(a.Rows)
	meanB, sdB := meanAndSD(b.Rows)
	na, nb := float64(len(a.Rows)), float64(len(b.Rows))
	se := make([]float64, len(meanA))
	for i := range se {
		va, vb := sdA[i]*sdA[i]/na, sdB[i]*sdB[i]/nb
		se[i] = math.Sqrt(va + vb)
		c.Difference = append(c.Difference, meanA[i]-meanB[i])
		c.DF += square(va+vb) / (va*va/(na-1) + vb*vb/(nb-1)) / float64(len(se))
	}
	if missing(c.DF) || slices.Contains(se, 0) {
		return c.noSpread()
	}
	// Residuals count by their share of the variance of the difference, so that the noise has the difference's
	// smoothness.
	residuals := slices.Concat(scaled(a.Rows, meanA, 1/(na*(na-1))), scaled(b.Rows, meanB, 1/(nb*(nb-1))))
	c.decide(se, residuals)
	return c
}

// PairedCurves is [CompareCurves] for curves that belong together: row i of the first with row i of the second.
func PairedCurves(first, second Curves) CurveComparison {
	c := newCurveComparison(first, second)
	if len(first.Rows) != len(second.Rows) {
		panic(fmt.Errorf("%d curves beside %d; give one of each for every pair", len(first.Rows), len(second.Rows)))
	}
	diffs := Curves{Phase: first.Phase}
	for k, row := range first.Rows {
		diff := make([]float64, len(row))
		for i := range row {
			diff[i] = row[i] - second.Rows[k][i]
		}
		diffs.Rows = append(diffs.Rows, diff)
	}
	diffs = diffs.complete()
	c.Phase, c.N, c.LeftOut = diffs.Phase, len(diffs.Rows), len(first.Rows)-len(diffs.Rows)
	if c.N < curveServes {
		return c.lacking(c.N, "")
	}
	if len(c.Phase) < 2 {
		return c.without("The curves share one phase only.")
	}
	mean, sd := meanAndSD(diffs.Rows)
	if slices.Contains(sd, 0) {
		return c.noSpread()
	}
	n := float64(c.N)
	c.Difference, c.DF = mean, n-1
	se := make([]float64, len(sd))
	for i := range se {
		se[i] = sd[i] / math.Sqrt(n)
	}
	c.decide(se, scaled(diffs.Rows, mean, 1))
	return c
}

func newCurveComparison(first, second Curves) CurveComparison {
	if !slices.Equal(first.Phase, second.Phase) && len(first.Rows) > 0 && len(second.Rows) > 0 {
		panic(fmt.Errorf("curves of %q with %d phases are compared with such of %d; read both at the same phases",
			first.Title, len(first.Phase), len(second.Phase)))
	}
	c := CurveComparison{Title: first.Title, Unit: first.Unit, First: first.Who, Second: second.Who}
	c.DF, c.Threshold, c.Smoothness = 0, math.NaN(), math.NaN()
	return c
}

// bothComplete are the phases that most serves of both have, and the serves without gaps there.
func bothComplete(first, second Curves) (Curves, Curves) {
	if len(first.Rows) == 0 || len(second.Rows) == 0 {
		return first.complete(), second.complete()
	}
	a, b := first.complete(), second.complete()
	if len(a.Phase) == 0 || len(b.Phase) == 0 {
		return Curves{}, Curves{}
	}
	from, to := max(a.Phase[0], b.Phase[0]), min(a.Phase[len(a.Phase)-1], b.Phase[len(b.Phase)-1])
	i, _ := slices.BinarySearch(first.Phase, from)
	j, _ := slices.BinarySearch(first.Phase, to)
	j = max(min(j+1, len(first.Phase)), i)
	return first.within(i, j), second.within(i, j)
}

func (c CurveComparison) lacking(n int, who string) CurveComparison {
	whose := ""
	if who != "" {
		whose = " of " + who
	}
	return c.without(fmt.Sprintf("%s%s with a whole curve; %d on each side are needed, so %s would do.",
		words.Capital(words.Count(n, "serve")), whose, curveServes, more(curveServes-n, "serve")))
}

func (c CurveComparison) noSpread() CurveComparison {
	return c.without("At some phase all curves are alike, so there is no spread to judge by.")
}

func (c CurveComparison) without(why string) CurveComparison {
	nans := slices.Repeat([]float64{math.NaN()}, len(c.Phase))
	c.Difference, c.Low, c.High, c.T, c.DF = nans, nans, nans, nans, math.NaN()
	c.Lack, c.Sentence = why, fmt.Sprintf("Curves of %s: not compared. %s", c.what(), why)
	return c
}

// scaled are the residuals, times the root of a weight.
func scaled(rows [][]float64, mean []float64, weight float64) [][]float64 {
	out := make([][]float64, len(rows))
	root := math.Sqrt(weight)
	for k, row := range rows {
		out[k] = make([]float64, len(row))
		for i, v := range row {
			out[k][i] = root * (v - mean[i])
		}
	}
	return out
}

func (c *CurveComparison) decide(se []float64, residuals [][]float64) {
	field := fieldOf(residuals, c.DF)
	c.Threshold = field.threshold(0.5 - level/2)
	if resels := field.resels(); resels > 0 {
		c.Smoothness = (c.Phase[len(c.Phase)-1] - c.Phase[0]) / resels
	}
	c.T, c.Low, c.High = make([]float64, len(se)), make([]float64, len(se)), make([]float64, len(se))
	for i, d := range c.Difference {
		c.T[i] = d / se[i]
		c.Low[i], c.High[i] = d-c.Threshold*se[i], d+c.Threshold*se[i]
	}
	c.Apart = c.stretches(field)
	c.say()
}

// stretches finds where |t| exceeds the threshold with one sign; ends lie where t crosses it between two phases.
func (c *CurveComparison) stretches(f field) []Stretch {
	var list []Stretch
	sign := func(i int) float64 {
		if i < 0 || i >= len(c.T) || math.Abs(c.T[i]) <= c.Threshold {
			return 0
		}
		return math.Copysign(1, c.T[i])
	}
	for i := 0; i < len(c.T); i++ {
		if sign(i) == 0 {
			continue
		}
		from, peak := i, i
		for ; sign(i+1) == sign(from); i++ {
			if math.Abs(c.T[i+1]) > math.Abs(c.T[peak]) {
				peak = i + 1
			}
		}
		extent := 0.0
		for j := from; j < i; j++ {
			extent += f.rates[j]
		}
		list = append(list, Stretch{From: c.crossing(from, -1), To: c.crossing(i, 1), At: c.Phase[peak],
			Difference: c.Difference[peak], T: c.T[peak], P: f.stretchChance(extent, c.Threshold)})
	}
	return list
}

// crossing is the phase at which |t| falls to the threshold beyond phase i.
func (c *CurveComparison) crossing(i, step int) float64 {
	j := i + step
	if j < 0 || j >= len(c.T) {
		return c.Phase[i]
	}
	inside, outside := math.Abs(c.T[i]), math.Copysign(1, c.T[i])*c.T[j]
	return c.Phase[i] + (c.Phase[j]-c.Phase[i])*(inside-c.Threshold)/(inside-outside)
}

func (c *CurveComparison) say() {
	first, second := Sample{Who: c.First}.called("the first"), Sample{Who: c.Second}.called("the second")
	text := fmt.Sprintf("%s, %s beside %s (%s): ", words.Capital(c.what()), first, second, words.Count(c.N, "serve"))
	if len(c.Apart) == 0 {
		text += "no part of the curves is shown to differ."
	} else {
		text += "the curves part "
		for k, s := range c.Apart {
			if k > 0 {
				text += ", and "
			}
			at := 0
			for i, phase := range c.Phase {
				if phase == s.At {
					at = i
				}
			}
			text += fmt.Sprintf("from %.0f to %.0f %% (%s; most at %.0f %%, by %s)", s.From, s.To, chance(s.P), s.At,
				amount(s.Difference, c.Unit, places(c.High[at]-c.Low[at]), true))
		}
		text += "."
	}
	c.Sentence = text + gaps(c.LeftOut)
}

// field is a smooth random t field along a curve.
type field struct {
	df    float64
	nodes int
	rates []float64 // resolution elements between neighbouring nodes
}

// fieldOf measures the smoothness of residuals. Between neighbours with correlation r a smooth Gaussian field has
// sqrt(-2 ln r / (4 ln 2)) resolution elements, each a full width at half maximum of its noise.
func fieldOf(residuals [][]float64, df float64) field {
	f := field{df: df, nodes: len(residuals[0])}
	for i := 1; i < f.nodes; i++ {
		xx, yy, xy := 0.0, 0.0, 0.0
		for _, row := range residuals {
			xx += row[i-1] * row[i-1]
			yy += row[i] * row[i]
			xy += row[i-1] * row[i]
		}
		r := min(max(xy/math.Sqrt(xx*yy), 0.01), 1)
		f.rates = append(f.rates, math.Sqrt(-2*math.Log(r)/(4*math.Ln2)))
	}
	return f
}

// resels is the length of the curve in resolution elements.
func (f field) resels() float64 {
	total := 0.0
	for _, r := range f.rates {
		total += r
	}
	return total
}

// upcrossings is the expected number of stretches of t above u, but for one that begins at the start of the curve
// (Worsley et al. 1996, table II, Euler characteristic density of a t field in one dimension).
func (f field) upcrossings(u float64) float64 {
	return f.resels() * math.Sqrt(4*math.Ln2) / (2 * math.Pi) * math.Pow(1+u*u/f.df, -(f.df-1)/2)
}

func (f field) above(u float64) float64 { return distuv.StudentsT{Sigma: 1, Nu: f.df}.CDF(-u) }

// threshold is the least u that t exceeds anywhere with at most a chance p.
func (f field) threshold(p float64) float64 {
	chance := func(u float64) float64 { return min(f.above(u)+f.upcrossings(u), float64(f.nodes)*f.above(u)) - p }
	return falls(chance, 0, 10)
}

// stretchChance is the chance, on either side, of a stretch above u at least as long as extent, in resolution elements
// (Friston et al. 1994, eqs 9-11 in one dimension).
func (f field) stretchChance(extent, u float64) float64 {
	expected := f.above(u) + f.upcrossings(u)
	length := f.resels() * f.above(u) / expected
	one := 1.0 // where neighbours never differ, every stretch is the whole curve
	if length > 0 {
		one = math.Exp(-square(math.Sqrt(math.Pi) / 2 * extent / length))
	}
	return 1 - math.Exp(-2*expected*one)
}
