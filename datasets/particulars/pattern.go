package particulars

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"unicode/utf8"

	"tossline/datasets/recording"
)

// Pattern says where the particulars stand in the names of files: "{player}_{session}_{hand}_*" for
// "P07_2026-03-14_right_take3.bvh". A star stands for anything, also for nothing; endings of files do not count.
type Pattern struct {
	text   string
	form   *regexp.Regexp
	fields []string // of the groups of form
}

var place = regexp.MustCompile(`\{[^{}]*\}|\*`)

// ParsePattern reads a pattern.
func ParsePattern(text string) (*Pattern, error) {
	if !utf8.ValidString(text) {
		return nil, fmt.Errorf("the pattern %s is not UTF-8", recording.Quote(text))
	}
	p := &Pattern{text: text}
	form, at := "^", 0
	for _, m := range place.FindAllStringIndex(text, -1) {
		form += regexp.QuoteMeta(text[at:m[0]])
		at = m[1]
		if text[m[0]:m[1]] == "*" {
			form += ".*"
			continue
		}
		field := words[squeeze(text[m[0]+1:m[1]-1])]
		if field == "" || field == "ball_speed_m_s" {
			return nil, fmt.Errorf("the pattern %s: there is no %s; use {player}, {session}, {hand}, {height}, {level}, "+
				"{birth_year}, {serve_type}, {stance_type}, {court_side}, {outcome} and *", text, text[m[0]:m[1]])
		}
		if field == "session" {
			form += `(\d{4}-\d{2}-\d{2}|\d{8}|\d{1,2}\.\d{1,2}\.\d{4})`
		} else {
			form += "(.+?)"
		}
		p.fields = append(p.fields, field)
	}
	if len(p.fields) == 0 {
		return nil, fmt.Errorf("the pattern %s names nothing: write it like {player}_{session}_*", text)
	}
	p.form = regexp.MustCompile(form + regexp.QuoteMeta(text[at:]) + "$")
	return p, nil
}

func squeeze(title string) string {
	return strings.NewReplacer(" ", "", "_", "", "-", "").Replace(strings.ToLower(title))
}

// Facts reads the name of a file. A name that does not fit is an error.
func (p *Pattern) Facts(file string) (Facts, error) {
	name := filepath.Base(file)
	for _, ending := range [...]string{".gz", filepath.Ext(strings.TrimSuffix(name, ".gz"))} {
		name = strings.TrimSuffix(name, ending)
	}
	m := p.form.FindStringSubmatch(name)
	if m == nil {
		return nil, fmt.Errorf("the name %s does not fit the pattern %s", recording.Quote(name), p.text)
	}
	facts := Facts{}
	for i, field := range p.fields {
		value, err := read(field, strings.TrimSpace(m[i+1]), "")
		if err != nil {
			return nil, fmt.Errorf("the name %s, read by the pattern %s: %w", recording.Quote(name), p.text, err)
		}
		facts[field] = value
	}
	return facts, nil
}
