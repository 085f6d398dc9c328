package stats

import (
	"math"

	"tossline/kernel/result"
)

// level is the share of repetitions in which an interval should hold the true value.
const level = 0.95

// Estimate is a number with its interval. Value, Low and High are NaN where Lack says what is lacking; a value may be
// there without an interval.
type Estimate struct {
	Name     string  // "Mean of contact offset"
	Value    float64 //
	Low      float64 // the interval, at Level
	High     float64
	Level    float64 // 0.95
	Unit     string
	N        int    // how many serves (pairs, players) it rests on
	Lack     string // what is lacking for a value or an interval, as a sentence; "" where nothing is
	More     int    // how many more serves would do where something is lacking; 0 where more would not help
	Sentence string // the estimate in words
}

// String is the sentence.
func (e Estimate) String() string { return e.Sentence }

// Has tells whether there is a value.
func (e Estimate) Has() bool { return !missing(e.Value) }

// Sure tells whether there is a value with an interval.
func (e Estimate) Sure() bool { return e.Has() && !missing(e.Low) && !missing(e.High) }

// Excludes tells whether the interval lies on one side of x; false without an interval.
func (e Estimate) Excludes(x float64) bool { return e.Sure() && (x < e.Low || x > e.High) }

// EncodeResult is how a step's estimate travels to the page.
func (e Estimate) EncodeResult() (result.Result, []result.Attachment, error) {
	return result.Result{Kind: result.KindEstimate, Estimate: &result.Estimate{Name: e.Name,
		Value: result.Finite(e.Value), Low: result.Finite(e.Low), High: result.Finite(e.High), Level: level,
		Unit: e.Unit, N: e.N, Sentence: e.Sentence}}, nil, nil
}

// encodeAll is a list of several results of one answer.
func encodeAll(parts ...result.Encoder) (result.Result, []result.Attachment, error) {
	out := result.Result{Kind: result.KindList, List: []result.Result{}}
	var attached []result.Attachment
	for _, part := range parts {
		one, more, err := part.EncodeResult()
		if err != nil {
			return result.Result{}, nil, err
		}
		out.List, attached = append(out.List, one), append(attached, more...)
	}
	return out, attached, nil
}

// estimate starts an estimate without anything.
func estimate(name, unit string, n int) Estimate {
	nan := math.NaN()
	return Estimate{Name: name, Value: nan, Low: nan, High: nan, Level: level, Unit: unit, N: n}
}

// between gives the estimate its value and interval, and the plain sentence about them.
func (e Estimate) between(value, low, high float64) Estimate {
	e.Value, e.Low, e.High = value, low, high
	e.Sentence = e.Name + ": " + e.inWords(false) + "."
	return e
}

// lacking says what is lacking. A value that is there stays.
func (e Estimate) lacking(more int, why string) Estimate {
	e.Lack, e.More = why, more
	if e.Has() {
		e.Sentence = e.Name + ": " + amount(e.Value, e.Unit, usual(e.Value, e.Unit), false) + ". " + why
	} else {
		e.Sentence = e.Name + ": no value. " + why
	}
	return e
}

// inWords is value and interval: "0.12 m (95 % interval 0.08 to 0.16 m)".
func (e Estimate) inWords(signed bool) string {
	if !e.Sure() {
		return amount(e.Value, e.Unit, usual(e.Value, e.Unit), signed)
	}
	places := places(e.High - e.Low)
	return amount(e.Value, e.Unit, places, signed) + " (95 % interval " + number(e.Low, places, signed) + " to " +
		amount(e.High, e.Unit, places, signed) + ")"
}
