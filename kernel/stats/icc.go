package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Intraclass are the six intraclass correlations of Shrout & Fleiss 1979. One, two, three: each subject has raters
// (sessions, trials) of its own; all have the same, drawn from many; all have the same, and only these matter. Single:
// of one rater; Average: of the mean of all.
type Intraclass struct {
	OneSingle, TwoSingle, ThreeSingle    Estimate // ICC(1,1), ICC(2,1), ICC(3,1)
	OneAverage, TwoAverage, ThreeAverage Estimate // ICC(1,k), ICC(2,k), ICC(3,k)

	Subjects, Raters int
	LeftOut          int // subjects with a missing value
	Sentence         string
}

// String is the sentence.
func (i Intraclass) String() string { return i.Sentence }

// EncodeResult shows all six.
func (i Intraclass) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeAll(i.OneSingle, i.TwoSingle, i.ThreeSingle, i.OneAverage, i.TwoAverage, i.ThreeAverage)
}

// Trials are the first k values of each player, one row a player, as [ICC] takes them: players with fewer are left out.
func Trials(s Sample, k int) [][]float64 {
	var rows [][]float64
	for _, p := range s.ByPlayer() {
		if v := p.present(); len(v) >= k {
			rows = append(rows, v[:k])
		}
	}
	return rows
}

// ICC gives all six forms, with their 95 % intervals, for rows of equal length: one row for each subject (player), one
// column for each rater (session, trial). Rows with a missing value are left out. It panics when the rows are not
// equally long.
func ICC(title string, rows [][]float64) Intraclass {
	var whole [][]float64
	for k, row := range rows {
		if len(row) != len(rows[0]) {
			panic(fmt.Errorf("row %d of %q has %d values, the first has %d; give every subject the same number", k+1,
				title, len(row), len(rows[0])))
		}
		if len(present(row)) == len(row) {
			whole = append(whole, row)
		}
	}
	i := Intraclass{Subjects: len(whole), LeftOut: len(rows) - len(whole)}
	if len(whole) > 0 {
		i.Raters = len(whole[0])
	}
	for k, form := range i.forms() {
		*form = estimate(fmt.Sprintf("ICC(%s) of %s", []string{"1,1", "2,1", "3,1", "1,k", "2,k", "3,k"}[k],
			Sample{Title: title}.what()), "", i.Subjects)
	}
	if i.Subjects < 2 || i.Raters < 2 {
		return i.lacking(max(2-i.Subjects, 0), fmt.Sprintf("%s with %s each; at least 2 subjects with 2 values each "+
			"are needed.", words.Capital(words.Count(i.Subjects, "subject")), words.Count(i.Raters, "value")))
	}
	m := meanSquaresOf(whole)
	if m.subjects == 0 {
		return i.lacking(0, "The means of all subjects are alike, so there is nothing to tell them apart by.")
	}
	i.fill(m)
	i.Sentence = fmt.Sprintf("Of the spread of %s, a share of %s lies between subjects (ICC(2,1), %s, %s each).",
		Sample{Title: title}.what(), i.TwoSingle.inWords(false), words.Count(i.Subjects, "subject"), words.Count(i.Raters, "value"))
	if i.TwoSingle.Value <= 0 {
		i.Sentence = fmt.Sprintf("Subjects differ in %s no more than one subject's own values do (ICC(2,1) %s, %s, %s "+
			"each).", Sample{Title: title}.what(), i.TwoSingle.inWords(true), words.Count(i.Subjects, "subject"),
			words.Count(i.Raters, "value"))
	}
	i.TwoSingle.Sentence = i.Sentence
	return i
}

func (i *Intraclass) forms() []*Estimate {
	return []*Estimate{&i.OneSingle, &i.TwoSingle, &i.ThreeSingle, &i.OneAverage, &i.TwoAverage, &i.ThreeAverage}
}

func (i Intraclass) lacking(more int, why string) Intraclass {
	for _, form := range i.forms() {
		*form = form.lacking(more, why)
	}
	i.Sentence = i.TwoSingle.Sentence
	return i
}

// meanSquares are those of the analysis of variance of n subjects by k raters.
type meanSquares struct {
	n, k                             float64
	subjects, raters, within, errors float64 // BMS, JMS, WMS, EMS
}

func meanSquaresOf(rows [][]float64) meanSquares {
	m := meanSquares{n: float64(len(rows)), k: float64(len(rows[0]))}
	grand, columns := 0.0, make([]float64, len(rows[0]))
	for _, row := range rows {
		grand += Mean(row) / m.n
		for j, v := range row {
			columns[j] += v / m.n
		}
	}
	for _, row := range rows {
		mean := Mean(row)
		m.subjects += m.k * square(mean-grand) / (m.n - 1)
		for j, v := range row {
			m.within += square(v-mean) / (m.n * (m.k - 1))
			m.errors += square(v-mean-columns[j]+grand) / ((m.n - 1) * (m.k - 1))
		}
	}
	for _, c := range columns {
		m.raters += m.n * square(c-grand) / (m.k - 1)
	}
	return m
}

// fill computes the six forms (Shrout & Fleiss 1979, pp. 422-424; the interval of ICC(2) with the degrees of freedom of
// Satterthwaite as there, after McGraw & Wong 1996).
func (i *Intraclass) fill(m meanSquares) {
	average := func(single float64) float64 { return m.k * single / (1 + (m.k-1)*single) }
	f := func(p, a, b float64) float64 { return distuv.F{D1: a, D2: b}.Quantile(p) }
	const p = 0.5 + level/2
	set := func(single, whole *Estimate, value, low, high, averaged, averagedLow, averagedHigh float64) {
		*single = single.between(value, low, high)
		*whole = whole.between(averaged, averagedLow, averagedHigh)
	}
	oneWay := func(error, df float64) (value, low, high float64) {
		if error == 0 {
			return 1, 1, 1
		}
		ratio := m.subjects / error
		from, to := ratio/f(p, m.n-1, df), ratio*f(p, df, m.n-1)
		share := func(x float64) float64 { return (x - 1) / (x + m.k - 1) }
		return share(ratio), share(from), share(to)
	}
	v, low, high := oneWay(m.within, m.n*(m.k-1))
	set(&i.OneSingle, &i.OneAverage, v, low, high, average(v), average(low), average(high))
	v, low, high = oneWay(m.errors, (m.n-1)*(m.k-1))
	set(&i.ThreeSingle, &i.ThreeAverage, v, low, high, average(v), average(low), average(high))

	v = (m.subjects - m.errors) / (m.subjects + (m.k-1)*m.errors + m.k*(m.raters-m.errors)/m.n)
	low, high = m.twoWay(v, f)
	set(&i.TwoSingle, &i.TwoAverage, v, low, high,
		(m.subjects-m.errors)/(m.subjects+(m.raters-m.errors)/m.n), average(low), average(high))
}

func (m meanSquares) twoWay(icc float64, f func(p, a, b float64) float64) (low, high float64) {
	if m.errors == 0 && m.raters == 0 {
		return 1, 1
	}
	n, k := m.n, m.k
	a := k * icc / (n * (1 - icc))
	b := 1 + k*icc*(n-1)/(n*(1-icc))
	df := square(a*m.raters+b*m.errors) / (square(a*m.raters)/(k-1) + square(b*m.errors)/((n-1)*(k-1)))
	const p = 0.5 + level/2
	down, up := f(p, n-1, df), f(p, df, n-1)
	rest := k*m.raters + (k*n-k-n)*m.errors
	low = n * (m.subjects - down*m.errors) / (down*rest + n*m.subjects)
	high = n * (up*m.subjects - m.errors) / (rest + n*up*m.subjects)
	return math.Max(low, -1), math.Min(high, 1)
}
