package stats

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Shift is a place in a series where its level changed.
type Shift struct {
	At     int      // place of the first value after it, among all values of the sample
	Label  string   // session of that value; "" where unknown
	Size   Estimate // mean of the stretch after less that before; Welch's interval, as if the place were known
	P      float64  // chance of as clear a shift anywhere in the stretch if the order of its values meant nothing
	Before int      // values in the stretch before
	After  int
}

// Shifts are the changes of level in a series.
type Shifts struct {
	Found    []Shift // in order
	N        int     // values in the series
	Lack     string
	Sentence string
}

// String is the sentence.
func (s Shifts) String() string { return s.Sentence }

// EncodeResult shows the sizes, or where none is shown the sentence.
func (s Shifts) EncodeResult() (result.Result, []result.Attachment, error) {
	if len(s.Found) == 0 {
		return result.Result{Kind: result.KindText, Text: s.Sentence}, nil, nil
	}
	parts := make([]result.Encoder, len(s.Found))
	for k, f := range s.Found {
		parts[k] = f.Size
	}
	return encodeAll(parts...)
}

const (
	shiftValues = 8 // fewer hold no shift that a permutation would call rare
	shiftSide   = 2 // values on either side of a shift
	shiftDraws  = 1999
)

// ShiftsOf finds where the level of a series changed, in the order of its values: the clearest place is tested by
// permutation of the whole stretch, and where it is shown, both sides are searched in turn (binary segmentation:
// Scott & Knott 1974; Vostrikova 1981). Give the sample's SessionMeans for shifts between sessions: serves of one
// session are no independent values. A slow drift shows as a shift too; see [TrendOf].
func ShiftsOf(s Sample) Shifts {
	var places []int
	for i, v := range s.Values {
		if !missing(v) {
			places = append(places, i)
		}
	}
	values := s.present()
	out := Shifts{N: len(values)}
	if len(values) < shiftValues {
		out.Lack = fmt.Sprintf("%s; a shift of level needs at least %d, so %s would do.",
			words.Capital(words.Count(len(values), "value")), shiftValues, more(shiftValues-len(values), "value"))
		out.Sentence = fmt.Sprintf("Shifts of %s: not looked for. %s", s.what(), out.Lack)
		return out
	}
	cuts, chances := segment(values, 0, map[int]float64{})
	bounds := slices.Concat([]int{0}, cuts, []int{len(values)})
	for k, cut := range cuts {
		before, after := values[bounds[k]:cut], values[cut:bounds[k+2]]
		part := func(v []float64) Sample { return Sample{Title: s.Title, Unit: s.Unit, Values: v} }
		f := Shift{At: places[cut], Label: labelAt(s.Sessions, places[cut]), P: chances[cut], Before: len(before),
			After: len(after), Size: Welch(part(after), part(before)).Difference}
		f.Size.Name = fmt.Sprintf("Shift of %s%s from %s on", s.what(), s.whose(), f.place())
		f.Size.Sentence = fmt.Sprintf("From %s on, %s%s lies %s beside the stretch before (%d values, then %d; %s).",
			f.place(), s.what(), s.whose(), f.Size.inWords(true), f.Before, f.After, chance(f.P))
		out.Found = append(out.Found, f)
	}
	out.say(s)
	return out
}

func (f Shift) place() string {
	if f.Label != "" {
		return f.Label
	}
	return fmt.Sprintf("value %d", f.At+1)
}

func (s *Shifts) say(of Sample) {
	if len(s.Found) == 0 {
		s.Sentence = fmt.Sprintf("No shift of %s%s is shown in %s.", of.what(), of.whose(), words.Count(s.N, "value"))
		return
	}
	parts := make([]string, len(s.Found))
	for k, f := range s.Found {
		parts[k] = f.Size.Sentence
	}
	s.Sentence = strings.Join(parts, " ") + " A slow drift would look like that too."
}

// segment finds the shifts of a stretch that begins at a place of the whole, and the p-value of each.
func segment(values []float64, from int, chances map[int]float64) ([]int, map[int]float64) {
	if len(values) < 2*shiftSide+1 {
		return nil, chances
	}
	cut, clearest := clearestCut(values)
	if clearest == 0 {
		return nil, chances
	}
	random := Resampling{}.random()
	shuffled := slices.Clone(values)
	t := tally{observed: clearest}
	for range shiftDraws {
		random.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		_, c := clearestCut(shuffled)
		t.count(c)
	}
	p := float64(t.much+1) / float64(t.tried+1)
	if p > 1-level {
		return nil, chances
	}
	chances[from+cut] = p
	left, _ := segment(values[:cut], from, chances)
	right, _ := segment(values[cut:], from+cut, chances)
	return slices.Concat(left, []int{from + cut}, right), chances
}

// clearestCut is the place that takes most of the squares off, and the squares it takes off.
func clearestCut(values []float64) (at int, clearest float64) {
	total, n := 0.0, float64(len(values))
	for _, v := range values {
		total += v
	}
	mean, sum := total/n, 0.0
	for i, v := range values {
		sum += v - mean
		k := float64(i + 1)
		if i+1 < shiftSide || len(values)-i-1 < shiftSide {
			continue
		}
		if off := sum * sum * n / (k * (n - k)); off > clearest*(1+1e-12) {
			at, clearest = i+1, off
		}
	}
	if clearest <= 1e-24*math.Max(mean*mean, 1e-300)*n {
		return at, 0
	}
	return at, clearest
}
