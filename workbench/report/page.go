package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"strings"
	"time"
)

//go:embed page.html
var pageText string

var page = template.Must(template.New("report").Funcs(template.FuncMap{"glued": glued}).Parse(pageText))

// apart is a number with its unit after a blank.
var apart = regexp.MustCompile(`(\d) (%|m/s|m|s)(\W|$)`)

// glued keeps numbers and their units on one line.
func glued(text string) string { return apart.ReplaceAllString(text, "$1\u00a0$2$3") }

// Write writes the report as one HTML page for paper, without script and without anything fetched.
func Write(w io.Writer, r Report, made time.Time) error {
	var out bytes.Buffer
	err := page.Execute(&out, struct {
		Report
		Made string
		Rest []string
	}{r, made.Format("2 January 2006"), r.restInLines()})
	if err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	_, err = out.WriteTo(w)
	return err
}

// named is how many titles a line of the rest holds.
const named = 4

// restInLines lists what is not among the findings, a line for each verdict.
func (r Report) restInLines() []string {
	var lines []string
	for _, v := range []struct {
		verdict Verdict
		words   string
	}{{Further, "Shown too, but there was no room"}, {Small, "Shown, but smaller than the noise of single serves"},
		{NotShown, "Not shown, which is not the same as equal"}, {Lacking, "Could not be asked"}} {
		for _, kind := range []Kind{Changed, Differs} {
			var titles []string
			for _, one := range r.Rest {
				if one.Verdict == v.verdict && one.Kind == kind {
					titles = append(titles, one.Title)
				}
			}
			if len(titles) > 0 {
				lines = append(lines, v.words+" ("+r.asked(kind)+"): "+list(titles)+".")
			}
		}
	}
	return lines
}

// asked is the question of a kind.
func (r Report) asked(kind Kind) string {
	if kind == Changed {
		return "a change"
	}
	return "a difference from " + r.Reference
}

// list joins titles, and counts those beyond the first few.
func list(titles []string) string {
	rest := len(titles) - named
	if rest <= 1 {
		return strings.Join(titles, "; ")
	}
	return fmt.Sprintf("%s; and %d more", strings.Join(titles[:named], "; "), rest)
}
