package stats

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Regression is a measure as a sum of others, each times a coefficient.
type Regression struct {
	Intercept    Estimate
	Coefficients []Estimate // one for each explaining measure, in order
	Spread       float64    // SD of what is left; of a robust regression its robust scale. NaN where lacking
	Share        float64    // R²: share of the variance explained; NaN for a robust regression
	F, P         float64    // test of all coefficients together; NaN for a robust regression
	DF           float64
	N            int
	Weights      []float64 // how much each serve counts in a robust regression, as long as the samples; NaN where left out
	Lack         string
	Sentence     string
}

// String is the sentence.
func (r Regression) String() string { return r.Sentence }

// EncodeResult shows the coefficients, then the intercept.
func (r Regression) EncodeResult() (result.Result, []result.Attachment, error) {
	parts := make([]result.Encoder, 0, len(r.Coefficients)+1)
	for _, c := range r.Coefficients {
		parts = append(parts, c)
	}
	return encodeAll(append(parts, r.Intercept)...)
}

// Regress fits a measure by ordinary least squares as an intercept and coefficients times other measures of the same
// serves, by QR decomposition of the centred measures. Serves with a missing value are left out, and are taken as
// independent: for serves of several players use [Mixed]. It panics when the samples are not equally long.
func Regress(y Sample, x ...Sample) Regression {
	d := newDesign(y, x)
	if r, ok := d.short("Ordinary regression"); !ok {
		return r
	}
	ones := make([]float64, len(d.y))
	for i := range ones {
		ones[i] = 1
	}
	f := d.fit(ones)
	if f == nil {
		return d.collinear()
	}
	rss, total := f.squares(), sumSquares(d.y)
	df := float64(len(d.y) - len(x) - 1)
	r := d.regression()
	r.Spread = math.Sqrt(rss / df)
	if r.Spread <= 1e-12*math.Sqrt(total) || total == 0 {
		return d.lacking(0, "The measures fit without any rest, so there is no spread to judge by.")
	}
	r.Share = 1 - rss/total
	r.F = (total - rss) / float64(len(x)) / (rss / df)
	r.P = 1 - distuv.F{D1: float64(len(x)), D2: df}.CDF(r.F)
	r.fill(f, r.Spread, df)
	r.Sentence = fmt.Sprintf("%s by %s, over %s: %s. Together they explain %.0f %% of the variance (%s).",
		words.Capital(y.what()), names(x), words.Count(r.N, "serve"), r.terms(), 100*r.Share, chance(r.P))
	return r
}

// RobustRegress is [Regress] with Huber's M-estimator: serves far from the line count less (Huber 1981; k = 1.345,
// scale by the median absolute rest, standard errors with Huber's correction, as in Venables & Ripley 2002, section
// 6.5). It guards against serves measured wrongly, not against a serve alone at the end of the line.
func RobustRegress(y Sample, x ...Sample) Regression {
	d := newDesign(y, x)
	if r, ok := d.short("Robust regression"); !ok {
		return r
	}
	weights := make([]float64, len(d.y))
	for i := range weights {
		weights[i] = 1
	}
	var f *fitted
	scale := 0.0
	for range 500 {
		f = d.fit(weights)
		if f == nil {
			return d.collinear()
		}
		scale = medianSize(f.rest) / 0.6745
		if scale <= 1e-12*SD(d.y) {
			return d.lacking(0, "More than half of the serves lie on one line exactly, so there is no spread to judge by.")
		}
		moved := 0.0
		for i, rest := range f.rest {
			w := min(1, huber/max(math.Abs(rest/scale), 1e-300))
			moved, weights[i] = max(moved, math.Abs(w-weights[i])), w
		}
		if moved < 1e-12 {
			break
		}
	}
	r := d.regression()
	r.Spread = scale
	df := float64(len(d.y) - len(x) - 1)
	r.fill(f, huberDeviation(f.rest, scale, weights, len(x)+1), df)
	r.Weights = make([]float64, len(y.Values))
	less := 0
	for i, at := range d.places {
		r.Weights[at] = weights[i]
		if weights[i] < 1 {
			less++
		}
	}
	r.Sentence = fmt.Sprintf("%s by %s, over %s, of which %d count less because they lie far off: %s.",
		words.Capital(y.what()), names(x), words.Count(r.N, "serve"), less, r.terms())
	return r
}

const huber = 1.345 // 95 % efficient where nothing is wrong

// huberDeviation is what takes the place of the residual SD in the standard errors (Huber 1981, eq. 7.6.6).
func huberDeviation(rest []float64, scale float64, weights []float64, p int) float64 {
	n := float64(len(rest))
	squares, slope := 0.0, make([]float64, len(rest))
	for i, r := range rest {
		squares += square(r * weights[i])
		if math.Abs(r/scale) <= huber {
			slope[i] = 1
		}
	}
	mean := Mean(slope)
	kappa := 1 + float64(p)*square(SD(slope))/(n*mean*mean)
	return math.Sqrt(squares/(n-float64(p))) * kappa / mean
}

func medianSize(values []float64) float64 {
	sizes := make([]float64, len(values))
	for i, v := range values {
		sizes[i] = math.Abs(v)
	}
	return Median(sizes)
}

// design are the serves that have every measure.
type design struct {
	of     Sample
	by     []Sample
	y      []float64
	x      [][]float64 // by measure
	places []int       // of the serves among all
}

func newDesign(y Sample, x []Sample) *design {
	d := &design{of: y, by: x, x: make([][]float64, len(x))}
	for _, one := range x {
		bothKnown(y, one) // for its complaint about lengths
	}
serves:
	for i, v := range y.Values {
		for _, one := range x {
			if missing(one.Values[i]) {
				continue serves
			}
		}
		if missing(v) {
			continue
		}
		d.y, d.places = append(d.y, v), append(d.places, i)
		for k, one := range x {
			d.x[k] = append(d.x[k], one.Values[i])
		}
	}
	return d
}

// regression names the estimates.
func (d *design) regression() Regression {
	nan, n := math.NaN(), len(d.y)
	r := Regression{N: n, Spread: nan, Share: nan, F: nan, P: nan, DF: float64(n - len(d.x) - 1),
		Intercept: estimate(fmt.Sprintf("%s where %s is 0", words.Capital(d.of.what()), names(d.by)), d.of.Unit, n)}
	for _, x := range d.by {
		r.Coefficients = append(r.Coefficients,
			estimate(fmt.Sprintf("Change of %s for one %s of %s", d.of.what(), unitOr(x.Unit), x.what()), d.of.Unit, n))
	}
	r.Weights = make([]float64, len(d.of.Values))
	for i := range r.Weights {
		r.Weights[i] = nan
	}
	for _, at := range d.places {
		r.Weights[at] = 1
	}
	return r
}

func (d *design) lacking(more int, why string) Regression {
	r := d.regression()
	r.DF = math.NaN()
	r.Intercept = r.Intercept.lacking(more, why)
	for k := range r.Coefficients {
		r.Coefficients[k] = r.Coefficients[k].lacking(more, why)
	}
	r.Lack, r.Sentence = why, r.Intercept.Sentence
	return r
}

// short refuses fewer serves than two more than there are numbers to find.
func (d *design) short(kind string) (Regression, bool) {
	need := len(d.x) + 3
	if len(d.x) == 0 {
		return d.lacking(0, kind+" needs at least one explaining measure."), false
	}
	if n := len(d.y); n < need {
		return d.lacking(need-n, fmt.Sprintf("%s with all %d measures; %s needs %d, so %s would do.",
			words.Capital(words.Count(n, "serve")), len(d.x)+1, lower(kind), need, more(need-n, "serve"))), false
	}
	return Regression{}, true
}

func (d *design) collinear() Regression {
	return d.lacking(0, "One of the explaining measures does not vary, or follows from the others.")
}

// fitted is a weighted fit.
type fitted struct {
	coefficients []float64 // intercept first
	rest         []float64
	unscaled     *mat.SymDense // covariance of the coefficients for a residual SD of 1, without weights
}

func (f *fitted) squares() float64 {
	total := 0.0
	for _, r := range f.rest {
		total += r * r
	}
	return total
}

// fit solves the weighted least squares; nil when the measures are collinear. Columns are centred and scaled first,
// which is worth several digits where measures have large means.
func (d *design) fit(weights []float64) *fitted {
	n, p := len(d.y), len(d.x)
	centre, scale := make([]float64, p), make([]float64, p)
	for k, x := range d.x {
		if centre[k], scale[k] = Mean(x), SD(x); scale[k] == 0 {
			return nil
		}
	}
	yMean := Mean(d.y)
	a, b := mat.NewDense(n, p+1, nil), mat.NewVecDense(n, nil)
	plain := mat.NewDense(n, p+1, nil)
	for i := range n {
		root := math.Sqrt(weights[i])
		plain.Set(i, 0, 1)
		for k, x := range d.x {
			plain.Set(i, k+1, (x[i]-centre[k])/scale[k])
		}
		for j := range p + 1 {
			a.Set(i, j, root*plain.At(i, j))
		}
		b.SetVec(i, root*(d.y[i]-yMean))
	}
	var qr mat.QR
	qr.Factorize(a)
	if qr.Cond() > 1e13 {
		return nil
	}
	var beta mat.VecDense
	if qr.SolveVecTo(&beta, false, b) != nil {
		return nil
	}
	f := &fitted{coefficients: make([]float64, p+1), rest: make([]float64, n)}
	for i := range n {
		f.rest[i] = d.y[i] - yMean - mat.Dot(plain.RowView(i), &beta)
	}
	f.coefficients[0] = yMean + beta.AtVec(0)
	back := mat.NewDense(p+1, p+1, nil) // from the coefficients of scaled columns to those of the measures
	back.Set(0, 0, 1)
	for k := range p {
		f.coefficients[k+1] = beta.AtVec(k+1) / scale[k]
		f.coefficients[0] -= f.coefficients[k+1] * centre[k]
		back.Set(k+1, k+1, 1/scale[k])
		back.Set(0, k+1, -centre[k]/scale[k])
	}
	f.unscaled = covariance(plain, back)
	return f
}

// covariance is back (X'X)⁻¹ back'.
func covariance(x, back *mat.Dense) *mat.SymDense {
	n, p := x.Dims()
	var qr mat.QR
	qr.Factorize(x)
	var r mat.Dense
	qr.RTo(&r)
	upper := mat.NewTriDense(p, mat.Upper, nil)
	for i := range min(n, p) {
		for j := i; j < p; j++ {
			upper.SetTri(i, j, r.At(i, j))
		}
	}
	var inverse mat.TriDense
	if inverse.InverseTri(upper) != nil {
		return nil
	}
	var moved mat.Dense
	moved.Mul(back, &inverse)
	var sym mat.SymDense
	sym.SymOuterK(1, &moved)
	return &sym
}

// fill gives the coefficients their intervals.
func (r *Regression) fill(f *fitted, deviation, df float64) {
	half := tQuantile(df) * deviation
	set := func(e Estimate, k int) Estimate {
		b, h := f.coefficients[k], half*math.Sqrt(f.unscaled.At(k, k))
		return e.between(b, b-h, b+h)
	}
	r.Intercept = set(r.Intercept, 0)
	for k := range r.Coefficients {
		r.Coefficients[k] = set(r.Coefficients[k], k+1)
	}
}

// terms are the coefficients in words.
func (r *Regression) terms() string {
	parts := make([]string, len(r.Coefficients))
	for k, c := range r.Coefficients {
		verdict := "not shown"
		if c.Excludes(0) {
			verdict = "shown"
		}
		parts[k] = fmt.Sprintf("%s %s, %s", lower(c.Name), c.inWords(true), verdict)
	}
	return strings.Join(parts, "; ")
}

func names(samples []Sample) string {
	list := make([]string, len(samples))
	for i, s := range samples {
		list[i] = s.what()
	}
	if n := len(list); n > 1 {
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return strings.Join(list, "")
}
