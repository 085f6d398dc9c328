package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Agreement is how far two ways of measuring the same serves lie apart.
type Agreement struct {
	Bias     Estimate // mean of the first less the second
	Lower    Estimate // 95 % of the differences lie between Lower and Upper
	Upper    Estimate
	Sentence string
}

// String is the sentence.
func (a Agreement) String() string { return a.Sentence }

// EncodeResult shows the bias and both limits.
func (a Agreement) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeAll(a.Bias, a.Lower, a.Upper)
}

// AgreementOf gives the limits of agreement of two measurements of the same serves: the mean difference and 1.96 SDs to
// either side of it (Bland & Altman 1986). The limits' intervals use the standard error sqrt(1/n + 1.96²/(2(n-1))) SD
// (Bland & Altman 1999).
func AgreementOf(first, second Sample) Agreement {
	p := Paired(first, second)
	n := p.Difference.N
	what := first.what()
	out := Agreement{Bias: p.Difference, Lower: estimate("Lower limit of agreement of "+what, first.Unit, n),
		Upper: estimate("Upper limit of agreement of "+what, first.Unit, n)}
	out.Bias.Name = "Mean difference of " + what
	if !p.Difference.Sure() {
		out.Lower = out.Lower.lacking(p.Difference.More, p.Difference.Lack)
		out.Upper = out.Upper.lacking(p.Difference.More, p.Difference.Lack)
		out.Sentence = out.Lower.Sentence
		return out
	}
	count64 := float64(n)
	z := distuv.UnitNormal.Quantile(0.5 + level/2)
	sd := SD(differences(first, second))
	half := tQuantile(count64-1) * sd * math.Sqrt(1/count64+z*z/(2*(count64-1)))
	low, high := p.Difference.Value-z*sd, p.Difference.Value+z*sd
	out.Lower, out.Upper = out.Lower.between(low, low-half, low+half), out.Upper.between(high, high-half, high+half)
	places := places(high - low)
	out.Sentence = fmt.Sprintf("%s less %s: on average %s; 95 %% of the differences in %s are expected between %s and "+
		"%s (%s).", words.Capital(first.called("the first")), second.called("the second"), p.Difference.inWords(true), what,
		number(low, places, true), amount(high, first.Unit, places, true), words.Count(n, "pair"))
	out.Bias.Sentence = out.Sentence
	return out
}
