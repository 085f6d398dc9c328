package stats

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Trend is a steady rise or fall, measured so that single odd values don't turn it.
type Trend struct {
	Slope     Estimate // Theil-Sen: change for one unit of time
	Intercept float64  // median of the values less slope times median of the times
	Tau       float64  // Kendall's tau-b of times and values
	S         float64  // Mann-Kendall: rising pairs less falling pairs
	Z, P      float64  // of S, with continuity correction, two-sided; NaN where lacking
	Lag1      float64  // correlation of neighbouring rests from the line; NaN where there are too few
	Alike     bool     // neighbouring rests are correlated: P is too small, and Corrected is to be used
	Corrected float64  // P with the variance corrected for correlated neighbours; equal to P where not Alike
	Lack      string
	Sentence  string
}

// String is the sentence.
func (t Trend) String() string { return t.Sentence }

// EncodeResult shows the slope.
func (t Trend) EncodeResult() (result.Result, []result.Attachment, error) {
	return t.Slope.EncodeResult()
}

// Shown tells whether the trend is shown, with correlated neighbours taken into account.
func (t Trend) Shown() bool { return t.Slope.Has() && t.Corrected <= 1-level }

const (
	trendValues = 4  // with fewer no order is rare enough
	lagValues   = 10 // fewer show no correlation of neighbours
)

// TrendOf is the trend of the values of a sample over their times: the median of the slopes of all pairs, with its
// interval (Theil 1950; Sen 1968), and the test of Mann 1945 and Kendall 1975. Both take values as independent; where
// neighbours go together (the rests of 10 values or more), the variance is corrected for as many fewer independent
// values (Yue & Wang 2004, with the correlation of neighbours dying out as a power), and the sentence says so. unit is
// that of the times: "day". It panics when times and values are not equally long.
func TrendOf(s Sample, times []float64, unit string) Trend {
	if len(times) != len(s.Values) {
		panic(fmt.Errorf("%d times for %d values of %q; give one time for each value", len(times), len(s.Values), s.Title))
	}
	when, values := inOrder(times, s.Values)
	nan := math.NaN()
	t := Trend{Slope: estimate(fmt.Sprintf("Trend of %s%s in one %s", s.what(), s.whose(), unit), s.Unit, len(values)),
		Intercept: nan, Tau: nan, S: nan, Z: nan, P: nan, Lag1: nan, Corrected: nan}
	if n := len(values); n < trendValues {
		return t.lacking(trendValues-n, fmt.Sprintf("%s; a trend needs at least %d, so %s would do.",
			words.Capital(words.Count(n, "value")), trendValues, more(trendValues-n, "value")))
	}
	if when[0] == when[len(when)-1] {
		return t.lacking(0, "All values are of one time.")
	}
	if slices.Min(values) == slices.Max(values) {
		return t.lacking(0, "All values are alike, so there is no trend to judge.")
	}
	t.judge(when, values, t.fit(when, values))
	t.say(s, unit)
	return t
}

// SessionTrend is the trend of the means of sessions over their dates (2026-03-14), for 30 days. Sessions without a
// date are left out.
func SessionTrend(s Sample) Trend {
	m := s.SessionMeans()
	days := make([]float64, len(m.Values))
	for i := range days {
		days[i] = math.NaN()
		if day, err := time.Parse(time.DateOnly, labelAt(m.Sessions, i)); err == nil {
			days[i] = float64(day.Unix()) / 86400 / 30
		}
	}
	return TrendOf(m, days, "month")
}

// inOrder are the values that have a time, by time.
func inOrder(times, values []float64) (when, what []float64) {
	var places []int
	for i := range values {
		if !missing(values[i]) && !missing(times[i]) {
			places = append(places, i)
		}
	}
	slices.SortStableFunc(places, func(i, j int) int {
		switch {
		case times[i] < times[j]:
			return -1
		case times[i] > times[j]:
			return 1
		}
		return 0
	})
	for _, i := range places {
		when, what = append(when, times[i]), append(what, values[i])
	}
	return when, what
}

func (t Trend) lacking(more int, why string) Trend {
	t.Lack = why
	t.Slope = t.Slope.lacking(more, why)
	t.Sentence = t.Slope.Sentence
	return t
}

// fit computes slope and S, and gives the sorted slopes of all pairs.
func (t *Trend) fit(when, values []float64) []float64 {
	var slopes []float64
	t.S = 0
	tiedTimes, pairs := 0, 0
	for i := range values {
		for j := i + 1; j < len(values); j++ {
			pairs++
			if when[j] == when[i] {
				tiedTimes++
				continue
			}
			slopes = append(slopes, (values[j]-values[i])/(when[j]-when[i]))
			t.S += sign(values[j] - values[i])
		}
	}
	slices.Sort(slopes)
	t.Slope.Value = Median(slopes)
	t.Intercept = Median(values) - t.Slope.Value*Median(when)
	_, tiedValues := ties(values)
	t.Tau = t.S / math.Sqrt(float64(pairs-tiedTimes)*(float64(pairs)-tiedValues))
	return slopes
}

// judge computes test and interval.
func (t *Trend) judge(when, values, slopes []float64) {
	sd := math.Sqrt(kendallVariance(when, values))
	t.Z = (t.S - sign(t.S)) / sd
	t.P = 2 * distuv.UnitNormal.CDF(-math.Abs(t.Z))
	inflated := math.Sqrt(t.inflation(when, values))
	t.Corrected = 2 * distuv.UnitNormal.CDF(-math.Abs(t.Z)/inflated)
	low, high := senInterval(slopes, sd*inflated)
	t.Slope = t.Slope.between(t.Slope.Value, low, high)
}

func sign(x float64) float64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

// senInterval is the interval among the sorted slopes (Sen 1968, eq. 2.6).
func senInterval(slopes []float64, sd float64) (low, high float64) {
	half := distuv.UnitNormal.Quantile(0.5+level/2) * sd
	n := float64(len(slopes))
	first, last := int(math.RoundToEven((n-half)/2))-1, int(math.RoundToEven((n+half)/2))
	return slopes[max(first, 0)], slopes[min(last, len(slopes)-1)]
}

// kendallVariance is the variance of S without a trend, with ties in either (Kendall 1975).
func kendallVariance(x, y []float64) float64 {
	n := float64(len(x))
	tx, pairsX := ties(x)
	ty, pairsY := ties(y)
	v0 := n * (n - 1) * (2*n + 5)
	v1 := 2 * pairsX * 2 * pairsY / (2 * n * (n - 1))
	v2 := tripleTies(x) * tripleTies(y) / (9 * n * (n - 1) * (n - 2))
	return (v0-tx-ty)/18 + v1 + v2
}

// ties are the sum of t(t-1)(2t+5) over groups of t equal values, and the number of tied pairs.
func ties(values []float64) (sum, pairs float64) {
	for _, t := range equalGroups(values) {
		sum += t * (t - 1) * (2*t + 5)
		pairs += t * (t - 1) / 2
	}
	return sum, pairs
}

func tripleTies(values []float64) float64 {
	sum := 0.0
	for _, t := range equalGroups(values) {
		sum += t * (t - 1) * (t - 2)
	}
	return sum
}

func equalGroups(values []float64) []float64 {
	sizes := map[float64]float64{}
	for _, v := range values {
		sizes[v]++
	}
	var list []float64
	for _, size := range sizes {
		list = append(list, size)
	}
	slices.Sort(list)
	return list
}

// inflation is by what the variance of S grows because neighbouring rests go together; 1 where they don't, or where it
// can't be told.
func (t *Trend) inflation(when, values []float64) float64 {
	n := len(values)
	if n < lagValues {
		return 1
	}
	rests := make([]float64, n)
	unit := 1e-9 * SD(values) // ties must not be broken by rounding
	for i := range rests {
		rests[i] = math.Round((values[i] - t.Slope.Value*when[i]) / unit)
	}
	ranks := ranksOf(rests)
	limit := distuv.UnitNormal.Quantile(0.5+level/2) / math.Sqrt(float64(n))
	t.Lag1 = lagCorrelation(ranks, 1)
	if missing(t.Lag1) || t.Lag1 <= limit {
		return 1
	}
	t.Alike = true
	size := float64(n)
	r := min((size*t.Lag1+2)/(size-4), 0.99) // freed of the bias that taking off a line brings (Kendall 1954)
	factor, power := 1.0, 1.0
	for lag := 1; lag < n; lag++ {
		power *= r
		factor += 2 * (1 - float64(lag)/size) * power
	}
	return factor
}

// ranksOf are the ranks from 1, ties sharing their mean.
func ranksOf(values []float64) []float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return int(sign(values[i] - values[j])) })
	ranks := make([]float64, len(values))
	for from := 0; from < len(order); {
		to := from
		for to < len(order) && values[order[to]] == values[order[from]] {
			to++
		}
		for _, i := range order[from:to] {
			ranks[i] = float64(from+to+1) / 2
		}
		from = to
	}
	return ranks
}

// lagCorrelation is the autocorrelation at a lag.
func lagCorrelation(values []float64, lag int) float64 {
	mean := Mean(values)
	top, bottom := 0.0, 0.0
	for i, v := range values {
		bottom += square(v - mean)
		if i+lag < len(values) {
			top += (v - mean) * (values[i+lag] - mean)
		}
	}
	return top / bottom
}

func (t *Trend) say(s Sample, unit string) {
	direction := "rises"
	if t.Slope.Value < 0 {
		direction = "falls"
	}
	verdict := "no trend is shown"
	if t.Shown() {
		verdict = "it " + direction
	}
	t.Sentence = fmt.Sprintf("%s%s changes by %s in one %s (%s, %s): %s.", words.Capital(s.what()), s.whose(),
		t.Slope.inWords(true), unit, words.Count(t.Slope.N, "value"), chance(t.Corrected), verdict)
	if t.Alike {
		t.Sentence += " Neighbouring values go together, so they count for less than as many independent ones; " +
			"interval and test are corrected for that."
	}
	t.Slope.Sentence = t.Sentence
}
