package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/optimize"

	"tossline/kernel/result"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// MixedModel is a line for every player, drawn from one family of lines: y = (intercept + a player's own) + (slope + a
// player's own) x + rest.
type MixedModel struct {
	Slope       Estimate // of the usual player: change of y for one unit of x
	Intercept   Estimate // of the usual player, where x is 0
	InterceptSD Estimate // between players, where x is 0
	SlopeSD     Estimate // between players
	RestSD      Estimate // of serves about their player's line
	Correlation float64  // of players' intercepts and slopes; NaN where one of them doesn't vary
	P           float64  // of the slope, two-sided; NaN where lacking
	Lines       []Line   // each player's line
	N, Players  int
	Singular    bool // players' own slopes, or intercepts, are not told from noise
	Lack        string
	Sentence    string
}

// Line is one player's line as the model sees it: the player's own serves, drawn towards the usual player where they
// are few.
type Line struct {
	Player           string
	Intercept, Slope float64
	Serves           int
}

// String is the sentence.
func (m MixedModel) String() string { return m.Sentence }

// EncodeResult shows slope, intercept and the spreads.
func (m MixedModel) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeAll(m.Slope, m.Intercept, m.SlopeSD, m.InterceptSD, m.RestSD)
}

// Table has a row for each player: player, serves, intercept, slope.
func (m MixedModel) Table() table.Table {
	var players []string
	var serves []int64
	var intercepts, slopes []float64
	for _, l := range m.Lines {
		players, serves = append(players, l.Player), append(serves, int64(l.Serves))
		intercepts, slopes = append(intercepts, l.Intercept), append(slopes, l.Slope)
	}
	return table.New(table.Text("player", players).Titled("Player"), table.Integer("serves", serves).Titled("Serves"),
		table.Number("intercept", m.Intercept.Unit, intercepts).Titled(m.Intercept.Name),
		table.Number("slope", m.Slope.Unit, slopes).Titled(m.Slope.Name))
}

const (
	mixedPlayers = 3   // fewer can't show how players differ
	mixedDraws   = 299 // of the intervals of the spreads
)

// Mixed fits how a measure y goes with another, x, in serves of several players: a linear mixed model with a random
// intercept and slope for each player, which may go together, by restricted maximum likelihood (Laird & Ware 1982;
// profiled as in Bates et al. 2015). The intervals of slope and intercept are those of Student's t with one degree of
// freedom less than players; those of the spreads come from 299 data sets drawn from the fitted model (parametric
// bootstrap), seeded. x must know its players.
func Mixed(x, y Sample) MixedModel {
	x, y = bothKnown(x, y)
	m := newMixedModel(x, y)
	if m.Players < mixedPlayers {
		return m.lacking(0, fmt.Sprintf("%s with both measures; at least %d are needed. Within, the correlation within "+
			"players, does with one.", words.Capital(words.Count(m.Players, "player")), mixedPlayers))
	}
	if need := 2*m.Players + 2; m.N < need {
		return m.lacking(need-m.N, fmt.Sprintf("%s of %s; a line for each needs %d, so %s would do.",
			words.Capital(words.Count(m.N, "serve")), words.Count(m.Players, "player"), need, more(need-m.N, "serve")))
	}
	d := newMixedData(x, y)
	if withinSums(x, y).xx <= 1e-20*d.scale*d.scale*float64(m.N) {
		return m.lacking(0, fmt.Sprintf("No player's %s varies, so there are no lines to fit.", x.what()))
	}
	f, ok := d.fit(1e-11, 40)
	if !ok || f.sigma <= 1e-7 || SD(y.Values) == 0 {
		return m.lacking(0, "Every serve lies on its player's line, so there is no spread to judge by.")
	}
	m.fill(d, f)
	return m
}

func newMixedModel(x, y Sample) MixedModel {
	n := len(x.Values)
	unit := unitOr(x.Unit)
	players := len(playersOf(x))
	return MixedModel{N: n, Players: players, Correlation: math.NaN(), P: math.NaN(),
		Slope:       estimate(fmt.Sprintf("Change of %s for one %s of %s", y.what(), unit, x.what()), y.Unit, n),
		Intercept:   estimate(fmt.Sprintf("%s where %s is 0", words.Capital(y.what()), x.what()), y.Unit, n),
		InterceptSD: estimate(fmt.Sprintf("Spread between players where %s is 0", x.what()), y.Unit, players),
		SlopeSD:     estimate("Spread of the change between players", y.Unit, players),
		RestSD:      estimate(fmt.Sprintf("Spread of %s about a player's line", y.what()), y.Unit, n)}
}

func (m MixedModel) lacking(more int, why string) MixedModel {
	for _, e := range []*Estimate{&m.Slope, &m.Intercept, &m.InterceptSD, &m.SlopeSD, &m.RestSD} {
		*e = e.lacking(more, why)
	}
	m.Lack, m.Sentence = why, m.Slope.Sentence
	return m
}

// pair is a vector of two, matrix2 a matrix, row by row: intercept and slope.
type (
	pair    [2]float64
	matrix2 [4]float64
)

func (a matrix2) times(b matrix2) matrix2 {
	return matrix2{a[0]*b[0] + a[1]*b[2], a[0]*b[1] + a[1]*b[3], a[2]*b[0] + a[3]*b[2], a[2]*b[1] + a[3]*b[3]}
}
func (a matrix2) on(v pair) pair       { return pair{a[0]*v[0] + a[1]*v[1], a[2]*v[0] + a[3]*v[1]} }
func (a matrix2) transposed() matrix2  { return matrix2{a[0], a[2], a[1], a[3]} }
func (a matrix2) determinant() float64 { return a[0]*a[3] - a[1]*a[2] }
func (a matrix2) plus(b matrix2) matrix2 {
	return matrix2{a[0] + b[0], a[1] + b[1], a[2] + b[2], a[3] + b[3]}
}
func (a matrix2) inverse() matrix2 {
	d := a.determinant()
	return matrix2{a[3] / d, -a[1] / d, -a[2] / d, a[0] / d}
}
func dot(a, b pair) float64 { return a[0]*b[0] + a[1]*b[1] }

// mixedData are the sums over each player's serves that the likelihood needs: with z = (1, x), z'z, z'y and y'y. x and
// y are standardised first.
type mixedData struct {
	centre, scale   float64 // of x
	yCentre, yScale float64
	players         []string
	groups          []mixedGroup
	n               int
	x               []float64 // standardised, with the player's place
	of              []int
	y               []float64
}

type mixedGroup struct {
	zz     matrix2
	zy     pair
	yy     float64
	serves int
}

func newMixedData(x, y Sample) *mixedData {
	d := &mixedData{centre: Mean(x.Values), scale: SD(x.Values), yCentre: Mean(y.Values), yScale: SD(y.Values),
		players: playersOf(x), n: len(x.Values)}
	if d.scale == 0 || d.yScale == 0 {
		d.scale, d.yScale = max(d.scale, 1), max(d.yScale, 1)
	}
	place := map[string]int{}
	for k, name := range d.players {
		place[name] = k
	}
	for i, v := range x.Values {
		d.x = append(d.x, (v-d.centre)/d.scale)
		d.y = append(d.y, (y.Values[i]-d.yCentre)/d.yScale)
		d.of = append(d.of, place[labelAt(x.Players, i)])
	}
	d.sum(d.y)
	return d
}

// sum makes the groups for values of y.
func (d *mixedData) sum(y []float64) {
	d.groups = make([]mixedGroup, len(d.players))
	for i, x := range d.x {
		g := &d.groups[d.of[i]]
		g.zz = g.zz.plus(matrix2{1, x, x, x * x})
		g.zy[0] += y[i]
		g.zy[1] += x * y[i]
		g.yy += y[i] * y[i]
		g.serves++
	}
}

// mixedFit is a fit, of standardised x and y.
type mixedFit struct {
	theta      [3]float64 // relative Cholesky factor of the players' covariance: (t0, 0; t1, t2)
	beta       pair
	sigma      float64
	covariance matrix2 // of beta
	players    matrix2 // covariance of players' own intercepts and slopes
	criterion  float64
}

// fit minimises the profiled REML criterion over theta, until it falls by less than a tolerance in some steps.
func (d *mixedData) fit(tolerance float64, steps int) (mixedFit, bool) {
	problem := optimize.Problem{Func: func(t []float64) float64 {
		f, ok := d.at([3]float64{t[0], t[1], t[2]})
		if !ok {
			return math.Inf(1)
		}
		return f.criterion
	}}
	settings := &optimize.Settings{MajorIterations: 40 * steps,
		Converger: &optimize.FunctionConverge{Absolute: tolerance, Iterations: steps}}
	start := []float64{0.5, 0, 0.5}
	best, err := optimize.Minimize(problem, start, settings, &optimize.NelderMead{})
	if err != nil && best == nil {
		return mixedFit{}, false
	}
	// A second start from where the first ended frees a simplex that has collapsed.
	again, err := optimize.Minimize(problem, best.X, settings, &optimize.NelderMead{})
	if err == nil && again.F < best.F {
		best = again
	}
	return d.at([3]float64{best.X[0], best.X[1], best.X[2]})
}

// at is the fit for given theta: with V = I + Z L L' Z', its inverse is I - Z L M⁻¹ L' Z' where M = I + L' Z'Z L, and
// its determinant that of M.
func (d *mixedData) at(theta [3]float64) (mixedFit, bool) {
	l := matrix2{theta[0], 0, theta[1], theta[2]}
	lt := l.transposed()
	var xx matrix2
	var xy pair
	yy, logs := 0.0, 0.0
	for _, g := range d.groups {
		m := matrix2{1, 0, 0, 1}.plus(lt.times(g.zz).times(l))
		core := l.times(m.inverse()).times(lt) // L M⁻¹ L'
		zzCore := g.zz.times(core)
		reduced := zzCore.times(g.zz)
		for k := range xx {
			xx[k] += g.zz[k] - reduced[k]
		}
		shift := zzCore.on(g.zy)
		xy[0], xy[1] = xy[0]+g.zy[0]-shift[0], xy[1]+g.zy[1]-shift[1]
		yy += g.yy - dot(g.zy, core.on(g.zy))
		logs += math.Log(m.determinant())
	}
	f := mixedFit{theta: theta, beta: xx.inverse().on(xy)}
	rest, df := yy-dot(f.beta, xy), float64(d.n-2)
	if !(rest > 0) || !(xx.determinant() > 0) {
		return f, false
	}
	f.sigma = math.Sqrt(rest / df)
	f.criterion = logs + math.Log(xx.determinant()) + df*(1+math.Log(2*math.Pi*rest/df))
	inverse := xx.inverse()
	relative := l.times(lt)
	for k := range inverse {
		f.covariance[k] = rest / df * inverse[k]
		f.players[k] = rest / df * relative[k]
	}
	return f, !missing(f.criterion)
}

// own is what a player's line differs by from the usual one: the best linear unbiased prediction.
func (f *mixedFit) own(g mixedGroup) pair {
	l := matrix2{f.theta[0], 0, f.theta[1], f.theta[2]}
	m := matrix2{1, 0, 0, 1}.plus(l.transposed().times(g.zz).times(l))
	shift := g.zz.on(f.beta)
	return l.times(m.inverse()).times(l.transposed()).on(pair{g.zy[0] - shift[0], g.zy[1] - shift[1]})
}

// back turns intercept and slope of standardised measures into those of x and y; without moves into differences.
func (d *mixedData) back(line pair, move bool) pair {
	slope := d.yScale / d.scale * line[1]
	intercept := d.yScale*line[0] - slope*d.centre
	if move {
		intercept += d.yCentre
	}
	return pair{intercept, slope}
}

// backCovariance turns a covariance of standardised intercepts and slopes.
func (d *mixedData) backCovariance(c matrix2) matrix2 {
	turn := matrix2{d.yScale, -d.yScale / d.scale * d.centre, 0, d.yScale / d.scale}
	return turn.times(c).times(turn.transposed())
}

// fill gives every number, its interval, and the sentence.
func (m *MixedModel) fill(d *mixedData, f mixedFit) {
	beta, covariance := d.back(f.beta, true), d.backCovariance(f.covariance)
	df := float64(m.Players - 1)
	half := pair{tQuantile(df) * math.Sqrt(covariance[0]), tQuantile(df) * math.Sqrt(covariance[3])}
	m.Intercept = m.Intercept.between(beta[0], beta[0]-half[0], beta[0]+half[0])
	m.Slope = m.Slope.between(beta[1], beta[1]-half[1], beta[1]+half[1])
	m.P = tChance(beta[1]/math.Sqrt(covariance[3]), df)
	spreads := d.spreads(f)
	low, high := d.spreadIntervals(f)
	for k, e := range []*Estimate{&m.InterceptSD, &m.SlopeSD, &m.RestSD} {
		*e = e.between(spreads[k], min(low[k], spreads[k]), max(high[k], spreads[k]))
	}
	players := d.backCovariance(f.players)
	m.Singular = math.Abs(f.theta[0]) < 1e-4 || math.Abs(f.theta[2]) < 1e-4
	if !m.Singular {
		m.Correlation = players[1] / math.Sqrt(players[0]*players[3])
	}
	for k, g := range d.groups {
		own := f.own(g)
		line := d.back(pair{f.beta[0] + own[0], f.beta[1] + own[1]}, true)
		m.Lines = append(m.Lines, Line{d.players[k], line[0], line[1], g.serves})
	}
	m.say()
}

func (m *MixedModel) say() {
	verdict := "not shown"
	if m.Slope.Excludes(0) {
		verdict = "shown"
	}
	m.Sentence = fmt.Sprintf("For the usual player, %s: %s, %s (%s of %s): %s. ", lower(m.Slope.Name),
		m.Slope.inWords(true), chance(m.P), words.Count(m.N, "serve"), words.Count(m.Players, "player"), verdict)
	if m.Singular {
		m.Sentence += "The players' own lines can't all be told from noise with so many serves and players."
	} else {
		m.Sentence += fmt.Sprintf("From player to player it varies with a standard deviation of %s.",
			m.SlopeSD.inWords(false))
	}
	m.Slope.Sentence = m.Sentence
}

// spreads are the standard deviations of players' intercepts and slopes and of the rest.
func (d *mixedData) spreads(f mixedFit) [3]float64 {
	players := d.backCovariance(f.players)
	return [3]float64{math.Sqrt(max(players[0], 0)), math.Sqrt(max(players[3], 0)), f.sigma * d.yScale}
}

// spreadIntervals fits data sets drawn from the fit.
func (d *mixedData) spreadIntervals(f mixedFit) (low, high [3]float64) {
	random := Resampling{}.random()
	drawn := *d
	y := make([]float64, d.n)
	var found [3][]float64
	for range mixedDraws {
		own := make([]pair, len(d.players))
		for k := range own {
			u, v := f.sigma*random.NormFloat64(), f.sigma*random.NormFloat64()
			own[k] = pair{f.theta[0] * u, f.theta[1]*u + f.theta[2]*v}
		}
		for i, x := range d.x {
			line := own[d.of[i]]
			y[i] = f.beta[0] + line[0] + (f.beta[1]+line[1])*x + f.sigma*random.NormFloat64()
		}
		drawn.sum(y)
		if g, ok := drawn.fit(1e-4, 8); ok {
			for k, s := range d.spreads(g) {
				found[k] = append(found[k], s)
			}
		}
	}
	for k, list := range found {
		low[k], high[k] = Quantile(list, 0.5-level/2), Quantile(list, 0.5+level/2)
	}
	return low, high
}
