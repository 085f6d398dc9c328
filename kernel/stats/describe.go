package stats

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/table"
	"tossline/kernel/words"
)

// Mean is the mean of the values that are there; NaN without any.
func Mean(values []float64) float64 {
	first, sum, n := 0.0, 0.0, 0
	for _, v := range values {
		if missing(v) {
			continue
		}
		if n == 0 {
			first = v
		}
		sum, n = sum+(v-first), n+1 // from the first value, so that a large common part costs no digits
	}
	return first + sum/float64(n)
}

// SD is the standard deviation with n-1 of the values that are there; NaN below two.
func SD(values []float64) float64 {
	v := present(values)
	if len(v) < 2 {
		return math.NaN()
	}
	// Two passes with the correction of Chan, Golub & LeVeque 1983, so that a large common part costs no digits.
	mean := stat.Mean(v, nil)
	squares, rest := 0.0, 0.0
	for _, x := range v {
		squares += (x - mean) * (x - mean)
		rest += x - mean
	}
	n := float64(len(v))
	return math.Sqrt((squares - rest*rest/n) / (n - 1))
}

// Median is the middle of the values that are there, or the mean of the two middle ones; NaN without any.
func Median(values []float64) float64 { return Quantile(values, 0.5) }

// Quantile is the value below which a share p of those that are there lies, with linear interpolation (type 7 of
// Hyndman & Fan 1996); NaN without any.
func Quantile(values []float64, p float64) float64 {
	v := present(values)
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	at := min(max(p, 0), 1) * float64(len(v)-1)
	i := int(at)
	if i+1 >= len(v) {
		return v[len(v)-1]
	}
	return v[i] + (at-float64(i))*(v[i+1]-v[i])
}

// Mean is the mean with the interval of Student's t, serves taken as independent (Student 1908). Where serves of one
// session are alike, [Sample.MeanOfSessions] is the honest one.
func (s Sample) Mean() Estimate {
	v := s.present()
	e := estimate("Mean of "+s.what()+s.whose(), s.Unit, len(v))
	if len(v) == 0 {
		return e.lacking(2, "No serve has a value; 2 would give a mean with an interval.")
	}
	e.Value = Mean(v)
	if len(v) == 1 {
		return e.lacking(1, "One serve says nothing about spread; 1 more would give an interval.")
	}
	sd := SD(v)
	if sd == 0 {
		return e.lacking(0, fmt.Sprintf("All %d serves have the same value, so there is no spread to judge by.", len(v)))
	}
	half := tQuantile(float64(len(v)-1)) * sd / math.Sqrt(float64(len(v)))
	e = e.between(e.Value, e.Value-half, e.Value+half)
	e.Sentence = fmt.Sprintf("%s: %s, over %s.%s", e.Name, e.inWords(false), words.Count(len(v), "serve"), aside(s))
	return e
}

// MeanOfSessions is the mean of the means of sessions, with the interval of Student's t over sessions: serves of one
// session share its day, court and balls, and are not as many independent trials (the summary-measures analysis of
// clustered data: Donner & Klar 2000). N counts sessions. Sessions of several players are those of each.
func (s Sample) MeanOfSessions() Estimate {
	means := s.occasionMeans()
	e := estimate("Mean of "+s.what()+s.whose()+" over sessions", s.Unit, len(means))
	if len(means) == 0 {
		return e.lacking(2, "No serve has a value; serves of 2 sessions would give a mean with an interval.")
	}
	e.Value = Mean(means)
	if len(means) == 1 {
		return e.lacking(1, "One session says nothing about how sessions differ; 1 more session would give an "+
			"interval.")
	}
	sd := SD(means)
	if sd == 0 {
		return e.lacking(0, "All sessions have the same mean, so there is no spread to judge by.")
	}
	half := tQuantile(float64(len(means)-1)) * sd / math.Sqrt(float64(len(means)))
	e = e.between(e.Value, e.Value-half, e.Value+half)
	e.Sentence = fmt.Sprintf("%s: %s, over %s of %s.%s", e.Name, e.inWords(false), words.Count(len(means), "session"),
		words.Count(s.N(), "serve"), aside(s))
	return e
}

// SessionMeans is a sample with one value for each session of each player, the mean of its serves, in the order of
// their first serves: to ask of sessions what else is asked of serves. A player whose sessions aren't known has one
// value.
func (s Sample) SessionMeans() Sample {
	k := s.known()
	of, n := k.clusters()
	sums, counts := make([]float64, n), make([]float64, n)
	first := map[int]int{}
	for i, v := range k.Values {
		sums[of[i]] += v
		counts[of[i]]++
		if _, seen := first[of[i]]; !seen {
			first[of[i]] = i
		}
	}
	means := k.keep(func(i int) bool { return first[of[i]] == i })
	for c := range sums {
		means.Values[c] = sums[c] / counts[c]
	}
	return means
}

// occasionMeans are the means of the sessions (of each player).
func (s Sample) occasionMeans() []float64 { return s.SessionMeans().Values }

// whose is " (Name)" where the sample has a name.
func (s Sample) whose() string {
	if s.Who == "" {
		return ""
	}
	return " (" + s.Who + ")"
}

// Describe has a row for each group of rows with the same values in the columns by: serves and missing values; mean
// with its interval (low, high; Student's t); sd, median, min, max; and lack, which says what a group is short of. With
// no column in by there is one row. An unknown column is the table's error.
func Describe(t table.Table, column string, by ...string) table.Table {
	groups := t.GroupBy(by...).Tables()
	out := t.GroupBy(by...).Summary(table.Rows().As("serves"))
	if out.Err() != nil {
		return out
	}
	if kind := t.Type(column); kind != "number" && kind != "integer" {
		return t.First(0).Between(column, 0, 0) // for its complaint
	}
	title, unit := t.Title(column), t.Unit(column)
	n := len(groups)
	serves, missed, lack := make([]int64, n), make([]int64, n), make([]string, n)
	columns := map[string][]float64{}
	for g, part := range groups {
		s := Of(part, column)
		v := s.present()
		e := s.Mean()
		serves[g], missed[g], lack[g] = int64(len(v)), int64(len(s.Values)-len(v)-s.StandIns), e.Lack
		for name, x := range map[string]float64{"mean": e.Value, "low": e.Low, "high": e.High, "sd": SD(v),
			"median": Median(v), "min": Quantile(v, 0), "max": Quantile(v, 1)} {
			columns[name] = append(columns[name], x)
		}
	}
	out = out.With(table.Integer("serves", serves).Titled("Serves")).
		With(table.Integer("missing", missed).Titled("Missing"))
	for _, c := range []struct{ name, title string }{{"mean", title}, {"low", "95 % from"}, {"high", "95 % to"},
		{"sd", "Spread (SD)"}, {"median", "Median"}, {"min", "Smallest"}, {"max", "Largest"}} {
		out = out.With(table.Number(c.name, unit, columns[c.name]).Titled(c.title))
	}
	return out.With(table.Text("lack", lack).Titled("Lacking"))
}

// tQuantile is the half-width of the interval in standard errors, with df degrees of freedom.
func tQuantile(df float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(0.5 + level/2)
}

// tChance is the two-sided p-value of t with df degrees of freedom.
func tChance(t, df float64) float64 {
	return min(1, 2*distuv.StudentsT{Sigma: 1, Nu: df}.CDF(-math.Abs(t)))
}
