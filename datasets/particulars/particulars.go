// Package particulars reads what is known of recordings and serves beside their files: in a table, and in the names of
// the files. It also gives players pseudonyms.
//
// What it finds of a recording goes into recording.Options before the file is read; what it finds of players and of
// single serves becomes edits of the season, which can be undone like any other.
package particulars

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// Facts are particulars by the names of fields:
//
//	of a recording  player, session (ISO date), hand ("left", "right"), height_m
//	of a player     level, birth_year
//	of a serve      serve_type, stance_type, court_side, ball_speed_m_s, outcome
//
// and, from tables that were exported, what season.Edit calls discarded, stretch and event.<kind> of a serve.
// What is absent is unknown.
type Facts map[string]string

// ParseFact reads what is said of one field, such as "stance=pinpoint" or "ball speed kmh=180".
func ParseFact(text string) (field, value string, err error) {
	name, value, ok := strings.Cut(text, "=")
	c := columnOf(name)
	if !ok || c.field == "" || strings.TrimSpace(value) == "" {
		return "", "", fmt.Errorf("%s: expected one of player, session, hand, %s, as in level=club", text,
			strings.Join(order[:said], ", "))
	}
	value, err = read(c.field, strings.TrimSpace(value), c.unit)
	if err != nil {
		return "", "", fmt.Errorf("%s: %w", text, err)
	}
	return c.field, value, nil
}

// options puts what is known of a recording into o, where nothing was said.
func (f Facts) options(o recording.Options) recording.Options {
	say := func(to *string, field string) {
		if *to == "" {
			*to = f[field]
		}
	}
	say(&o.Player, "player")
	say(&o.Session, "session")
	say((*string)(&o.Hand), "hand")
	if o.HeightM == 0 && f["height_m"] != "" {
		o.HeightM, _ = strconv.ParseFloat(f["height_m"], 64) // it was read as a number
	}
	return o
}

// targets says of what each field that becomes an edit is.
var targets = map[string]season.Target{
	"level": season.OnPlayer, "birth_year": season.OnPlayer, "height_m": season.OnPlayer,
	"serve_type": season.OnServe, "stance_type": season.OnServe, "court_side": season.OnServe,
	"ball_speed_m_s": season.OnServe, "outcome": season.OnServe, "discarded": season.OnServe, "stretch": season.OnServe,
}

// order is the order in which edits are made.
var order = fieldsInOrder()

// said is how many of them, the first, people say of serves and players; the others are in exported tables.
const said = 8

func fieldsInOrder() []string {
	fields := []string{"level", "birth_year", "height_m", "serve_type", "stance_type", "court_side", "ball_speed_m_s",
		"outcome", "discarded", "stretch"}
	for _, kind := range motion.EventKinds {
		field := season.MoveEvent("", kind, 0).Field
		fields, targets[field] = append(fields, field), season.OnServe
	}
	return fields
}

// edits gives the edits of a target; subject is a serve's id or a player's name.
func (f Facts) edits(target season.Target, subject string) []season.Edit {
	var out []season.Edit
	for _, field := range order {
		if value := f[field]; value != "" && targets[field] == target && subject != "" {
			out = append(out, season.Edit{Target: target, Subject: subject, Field: field, Value: value})
		}
	}
	return out
}

// words are what columns and patterns call the fields, in lower case without blanks and underscores.
var words = map[string]string{
	"player": "player", "athlete": "player", "subject": "player", "name": "player", "playername": "player",
	"session": "session", "date": "session", "day": "session", "sessiondate": "session",
	"hand": "hand", "hittinghand": "hand", "handedness": "hand", "hittingside": "hand",
	"height": "height_m", "stature": "height_m", "bodyheight": "height_m",
	"level": "level", "birthyear": "birth_year", "yearofbirth": "birth_year", "born": "birth_year",
	"servetype": "serve_type", "type": "serve_type", "spin": "serve_type",
	"stance": "stance_type", "stancetype": "stance_type",
	"courtside": "court_side", "court": "court_side", "side": "court_side",
	"ballspeed": "ball_speed_m_s", "speed": "ball_speed_m_s", "servespeed": "ball_speed_m_s",
	"outcome": "outcome", "result": "outcome",
}

// read turns a text into the value of a field. unit is what the title says of it, or "".
func read(field, text, unit string) (string, error) {
	switch field {
	case "session":
		return readDate(text)
	case "hand":
		switch strings.ToLower(text) {
		case "left", "l", "lh", "left-handed", "lefthanded":
			return string(motion.HandLeft), nil
		case "right", "r", "rh", "right-handed", "righthanded":
			return string(motion.HandRight), nil
		}
		return "", fmt.Errorf("expected left or right, found %s", recording.Quote(text))
	case "stance_type":
		switch squeeze(text) {
		case "platform", "footback":
			return "platform", nil
		case "pinpoint", "footup":
			return "pinpoint", nil
		}
		return "", fmt.Errorf("expected platform (foot back) or pinpoint (foot up), found %s", recording.Quote(text))
	case "court_side":
		switch strings.ToLower(text) {
		case "deuce", "d", "right":
			return "deuce", nil
		case "ad", "a", "advantage", "left":
			return "ad", nil
		}
		return "", fmt.Errorf("expected deuce or ad, found %s", recording.Quote(text))
	case "height_m":
		return readHeight(text, unit)
	case "ball_speed_m_s":
		return readSpeed(text, unit)
	case "birth_year":
		if n, err := strconv.Atoi(text); err != nil || n < 1900 || n > time.Now().Year() {
			return "", fmt.Errorf("expected a year, found %s", recording.Quote(text))
		}
	}
	return text, nil
}

var dates = []struct {
	form   *regexp.Regexp
	layout string
}{
	{regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`), time.DateOnly},
	{regexp.MustCompile(`^\d{4}/\d{2}/\d{2}$`), "2006/01/02"},
	{regexp.MustCompile(`^\d{8}$`), "20060102"},
	{regexp.MustCompile(`^\d{1,2}\.\d{1,2}\.\d{4}$`), "2.1.2006"},
}

func readDate(text string) (string, error) {
	for _, d := range dates {
		if d.form.MatchString(text) {
			if t, err := time.Parse(d.layout, text); err == nil {
				return t.Format(time.DateOnly), nil
			}
		}
	}
	return "", fmt.Errorf("expected a date such as 2026-03-14, found %s", recording.Quote(text))
}

// number reads a number, with a decimal comma too.
func number(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	return v, err == nil && v-v == 0
}

// readHeight reads metres, or centimetres where no person is so many metres tall.
func readHeight(text, unit string) (string, error) {
	v, ok := number(text)
	factor := 1.0
	if unit == "cm" || unit == "" && v > 3 {
		factor = 0.01
	}
	if !ok || v*factor < 0.5 || v*factor > 2.6 {
		return "", fmt.Errorf("expected a height in metres or centimetres, found %s", recording.Quote(text))
	}
	return converted(v, factor), nil
}

// perSecond gives the metres a second of a unit of speed.
var perSecond = map[string]float64{"ms": 1, "m/s": 1, "kmh": 1 / 3.6, "km/h": 1 / 3.6, "kph": 1 / 3.6, "mph": 0.44704}

// readSpeed reads a speed whose unit the title tells: miles and kilometres an hour cannot be told apart by the number.
func readSpeed(text, unit string) (string, error) {
	factor, known := perSecond[unit]
	if !known {
		return "", fmt.Errorf("the unit of the ball speed is missing: call it ball_speed_kmh, ball_speed_mph or " +
			"ball_speed_m_s")
	}
	v, ok := number(text)
	if !ok || v*factor < 1 || v*factor > 100 {
		return "", fmt.Errorf("expected a ball speed, found %s", recording.Quote(text))
	}
	return converted(v, factor), nil
}

// converted is a number in another unit, without the digits that multiplying adds; in its own it is what was read.
func converted(v, factor float64) string {
	if factor == 1 {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v*factor, 'g', 6, 64)
}
