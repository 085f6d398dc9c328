package stats

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tossline/kernel/words"
)

// number writes x with a number of decimal places and a true minus sign.
func number(x float64, places int, signed bool) string {
	text := strconv.FormatFloat(x, 'f', places, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	} else if signed && x > 0 {
		text = "+" + text
	}
	return strings.Replace(text, "-", "\u2212", 1)
}

// amount is a number with its unit: "+0.12 m", "62°", "4.1 %".
func amount(x float64, unit string, places int, signed bool) string {
	text := number(x, places, signed)
	switch u := strings.ReplaceAll(unit, "deg", "°"); {
	case u == "":
		return text
	case strings.HasPrefix(u, "°"):
		return text + u
	default:
		return text + " " + u
	}
}

// places is how many decimals a value is worth whose interval is width wide: those that show a twentieth of it.
func places(width float64) int {
	if missing(width) || width <= 0 {
		return 2
	}
	return min(max(int(math.Ceil(-math.Log10(width/20))), 0), 9)
}

// usual is how many decimals a value is worth of which only the unit is known.
func usual(x float64, unit string) int {
	switch unit {
	case "m", "s":
		return 3
	case "deg", "%", "m/s":
		return 1
	case "deg/s":
		return 0
	}
	if x == 0 || missing(x) {
		return 2
	}
	return min(max(2-int(math.Floor(math.Log10(math.Abs(x)))), 0), 9)
}

// chance is a p-value in words.
func chance(p float64) string {
	switch {
	case p < 0.001:
		return "p < 0.001"
	case p < 0.1:
		return "p = " + number(p, 3, false)
	}
	return "p = " + number(p, 2, false)
}

// lower is a title inside a sentence: "Contact offset" becomes "contact offset", "BMI" stays.
func lower(title string) string {
	first, size := utf8.DecodeRuneInString(title)
	second, _ := utf8.DecodeRuneInString(title[size:])
	if unicode.IsUpper(second) {
		return title
	}
	return string(unicode.ToLower(first)) + title[size:]
}

// what is the measure inside a sentence.
func (s Sample) what() string {
	if s.Title == "" {
		return "value"
	}
	return lower(s.Title)
}

// called is the sample's name in a sentence, or another where it has none.
func (s Sample) called(otherwise string) string {
	if s.Who == "" {
		return otherwise
	}
	return s.Who
}

// aside says what was left out of samples, with a blank before it; "" where nothing was.
func aside(samples ...Sample) string {
	n := 0
	for _, s := range samples {
		n += s.StandIns
	}
	if n == 0 {
		return ""
	}
	return " " + words.Capital(words.Count(n, "stand-in")) + " left out."
}
