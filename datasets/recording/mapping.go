package recording

import (
	"fmt"
	"sort"
	"strconv"
	"strings"

	"tossline/datasets/landmark"
)

// origin says which points of a file a landmark is made of. Its text form is what Understanding shows and what
// Options.Map takes:
//
//	LKNE                        the point itself
//	middle(LKNE, LKNM)          the middle of two or more points
//	along(LELB, LWRI, 1.3)      on the line from the first to the second, 1.3 times as far
//	along(LELB, LWRI, 80 mm)    on that line, so far from the first
//	hip(left, LASI, RASI, LPSI, RPSI)   hip centre by regression; one point behind (the sacrum) will do
//
// A name with a comma, a bracket or a blank at its ends is put in double quotes.
type origin struct {
	kind   originKind
	points []int
	part   float64 // of along
	reach  float64 // of along instead of part, metres; 0 where part counts
	side   string  // of hip
}

type originKind string

const (
	itself      originKind = ""
	middleOf    originKind = "middle"
	alongLine   originKind = "along"
	hipFromBone originKind = "hip"
)

// text is the origin's text form.
func (o origin) text(points []string) string {
	var args []string
	if o.kind == hipFromBone {
		args = append(args, o.side)
	}
	for _, p := range o.points {
		args = append(args, quotePoint(points[p]))
	}
	if o.kind == itself {
		return args[0]
	}
	switch {
	case o.kind == alongLine && o.reach != 0:
		args = append(args, strconv.FormatFloat(1000*o.reach, 'g', 12, 64)+" mm")
	case o.kind == alongLine:
		args = append(args, strconv.FormatFloat(o.part, 'g', -1, 64))
	}
	return string(o.kind) + "(" + strings.Join(args, ", ") + ")"
}

func quotePoint(name string) string {
	if strings.ContainsAny(name, `,()"`) || strings.TrimSpace(name) != name {
		return strconv.Quote(name)
	}
	return name
}

// parseOrigin reads the text form.
func parseOrigin(text string, points []string) (origin, error) {
	kind, inside, call := strings.Cut(text, "(")
	kind = strings.TrimSpace(kind)
	if i := indexPoint(points, strings.TrimSpace(text)); i >= 0 {
		return origin{points: []int{i}}, nil
	}
	if !call || strings.HasPrefix(kind, `"`) {
		i, err := findPoint(points, text)
		return origin{points: []int{i}}, err
	}
	inside, closed := strings.CutSuffix(strings.TrimSpace(inside), ")")
	args := splitArguments(inside)
	o := origin{kind: originKind(strings.ToLower(kind))}
	ok := closed
	switch o.kind {
	case middleOf:
		ok = ok && len(args) >= 2
	case alongLine:
		if ok = ok && len(args) == 3; ok {
			ok, args = o.setAlong(args[2]), args[:2]
		}
	case hipFromBone:
		if ok = ok && (len(args) == 4 || len(args) == 5); ok {
			o.side, args = args[0], args[1:]
			ok = o.side == "left" || o.side == "right"
		}
	default:
		ok = false
	}
	if !ok {
		return origin{}, Refuse("write a point's name, middle(A, B), along(A, B, 1.3), along(A, B, 80 mm) or "+
			"hip(left, LASI, RASI, LPSI, RPSI)",
			"the landmark map has %s", Quote(text))
	}
	for _, a := range args {
		i, err := findPoint(points, a)
		if err != nil {
			return origin{}, err
		}
		o.points = append(o.points, i)
	}
	return o, nil
}

// setAlong reads how far along the line a point lies: so many times its length, or a length.
func (o *origin) setAlong(text string) bool {
	if part, err := strconv.ParseFloat(text, 64); err == nil {
		o.part = part
		return part > -10 && part < 10
	}
	sign := 1.0
	if rest, minus := strings.CutPrefix(text, "-"); minus {
		sign, text = -1, rest
	}
	m, ok := metresOf(text)
	o.reach = sign * m
	return ok && m < 10
}

// splitArguments splits at commas outside of quotes.
func splitArguments(s string) []string {
	var out []string
	quoted, start := false, 0
	for i := 0; i <= len(s); i++ {
		switch {
		case i < len(s) && s[i] == '"' && (i == 0 || s[i-1] != '\\'):
			quoted = !quoted
		case i == len(s) || s[i] == ',' && !quoted:
			out = append(out, strings.TrimSpace(s[start:i]))
			start = i + 1
		}
	}
	return out
}

// findPoint finds a point by its name in the map: as written, else without regard to case.
func findPoint(points []string, text string) (int, error) {
	name := strings.TrimSpace(text)
	if unquoted, err := strconv.Unquote(name); err == nil && strings.HasPrefix(name, `"`) {
		name = unquoted
	}
	if i := indexPoint(points, name); i >= 0 {
		return i, nil
	}
	for i, p := range points {
		if strings.EqualFold(p, name) {
			return i, nil
		}
	}
	for i, p := range points {
		if strings.EqualFold(withoutSubject(p), withoutSubject(name)) {
			return i, nil // the map was made for another subject
		}
	}
	return 0, Refuse("the file has: "+list(points, 40), "the landmark map names point %s, which the file does not have",
		Quote(name))
}

func indexPoint(points []string, name string) int {
	for i, p := range points {
		if p == name {
			return i
		}
	}
	return -1
}

func list(names []string, most int) string {
	if len(names) > most {
		return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
	}
	return strings.Join(names, ", ")
}

// channelOf is one channel of a take: its name and where it comes from.
type channelOf struct {
	name landmark.Name
	from origin
}

// mapping is the landmark map of one set of points.
type mapping struct {
	points   []string
	channels []channelOf // in the order of the take: landmarks of ours first
	unknown  []string    // points kept under their own names
	notes    []Note
}

// mapPoints maps a set of points by rules, and by hand where byHand says so: a landmark's name to the text of an
// origin, or to "" for leaving it out. Settled points are named as we name them already.
func mapPoints(points []string, byHand map[string]string, settled bool) (mapping, error) {
	r := newResolver(points)
	r.exact(settled)
	if !settled {
		r.direct()
		r.fromMarkers()
	}
	if err := r.byHand(byHand); err != nil {
		return mapping{}, err
	}
	return r.mapping(), nil
}

// resolver gives every landmark its best origin.
type resolver struct {
	points  []string
	options map[string][]candidate // by full name, best first
	bones   map[string]bool        // by side: names are those of bones
	used    map[int]bool           // points that are a landmark by themselves
	found   map[string]origin
	notes   []Note
}

type candidate struct {
	point, rank int
}

func newResolver(points []string) *resolver {
	r := &resolver{points: points, options: map[string][]candidate{}, bones: map[string]bool{}, used: map[int]bool{},
		found: map[string]origin{}}
	others := r.otherPersons()
	for i, p := range points {
		if others[subjectOf(p)] {
			continue
		}
		for _, m := range candidates(p) {
			r.options[m.name] = append(r.options[m.name], candidate{i, m.rank})
		}
	}
	for _, c := range r.options {
		sort.SliceStable(c, func(i, j int) bool { return c[i].rank < c[j].rank })
	}
	for _, side := range [...]string{"left", "right"} {
		elbow := r.options[side+"_elbow"]
		r.bones[side] = len(elbow) > 0 && elbow[0].rank == segment
	}
	return r
}

// otherPersons finds the subjects of a file, "Server" of "Server:LKNE", that are not the one with the most landmarks
// and have some of the same: other persons, whose points are no landmarks. A racket or a ball with a name of its own is
// none.
func (r *resolver) otherPersons() map[string]bool {
	has := map[string]map[string]bool{}
	var subjects []string
	for _, p := range r.points {
		s := subjectOf(p)
		if has[s] == nil {
			has[s] = map[string]bool{}
			subjects = append(subjects, s)
		}
		for _, m := range candidates(p) {
			has[s][m.name] = true
		}
	}
	if len(subjects) < 2 {
		return nil
	}
	first := subjects[0]
	for _, s := range subjects {
		if len(has[s]) > len(has[first]) {
			first = s
		}
	}
	others := map[string]bool{}
	var names []string
	for _, s := range subjects {
		same := 0
		for name := range has[s] {
			if has[first][name] {
				same++
			}
		}
		if s != first && same >= fewestSame {
			others[s] = true
			names = append(names, orUnnamed(s))
		}
	}
	if len(names) > 0 {
		r.notes = append(r.notes, Note{Warn, "", fmt.Sprintf("the file has several persons: the landmarks are those of %s; "+
			"the points of %s keep their names, and a landmark map by hand chooses others", orUnnamed(first), list(names, 6))})
	}
	return others
}

// fewestSame is how many landmarks two subjects of a file must both have to be two persons.
const fewestSame = 3

func subjectOf(point string) string { return strings.TrimSuffix(point, withoutSubject(point)) }

func orUnnamed(subject string) string {
	if name := strings.TrimSuffix(subject, ":"); name != "" {
		return name
	}
	return "the points without a subject"
}

// order is the order in which points are given to landmarks: where a name may mean two things, the first gets it.
var order = []string{"shoulder", "elbow", "wrist", "hand", "hip", "knee", "ankle", "heel", "toe", "collar"}

// exact maps the points that have a landmark's own name; where all are settled, each to itself.
func (r *resolver) exact(all bool) {
	for i, p := range r.points {
		if _, taken := r.found[p]; !taken && (landmark.IsStandard(landmark.Name(p)) || all && snakeOnly(p) == p && p != "") {
			r.found[p] = origin{points: []int{i}}
			r.used[i] = true
		}
	}
}

// direct maps the landmarks that a point of the file is.
func (r *resolver) direct() {
	for _, side := range [...]string{"left", "right"} {
		for _, part := range order {
			r.choose(side+"_"+part, r.bones[side] && (part == "shoulder" || part == "wrist"), part != "wrist")
		}
		r.choose("racket_"+side, false, false)
	}
	for name := range middle {
		r.choose(name, false, false)
	}
}

// choose gives a landmark its best free candidate. Names of bones count only where boneFirst or boneAllowed says so:
// first of all, or for want of anything else.
func (r *resolver) choose(name string, boneFirst, boneAllowed bool) {
	if _, ok := r.found[name]; ok {
		return
	}
	best, bestRank := -1, 1<<30
	for _, c := range r.options[name] {
		rank := c.rank
		if rank == segment {
			if boneFirst {
				rank = -1
			} else if !boneAllowed {
				continue
			}
		}
		if !r.used[c.point] && rank < bestRank {
			best, bestRank = c.point, rank
		}
	}
	if best >= 0 {
		r.found[name] = origin{points: []int{best}}
		r.used[best] = true
	}
}

// any gives the first candidate for a marker's name, or -1.
func (r *resolver) any(name string) int {
	if c := r.options[name]; len(c) > 0 {
		return c[0].point
	}
	return -1
}

// fromMarkers makes joint centres from pairs of skin markers, the head from its band, and hips from the pelvis.
func (r *resolver) fromMarkers() {
	for _, side := range [...]string{"left", "right"} {
		for _, part := range [...]string{"knee", "ankle", "elbow"} {
			r.fromPair(side+"_"+part, r.any(side+"_"+part+"_lateral"), r.any(side+"_"+part+"_medial"))
		}
		r.fromPair(side+"_wrist", r.any(side+"_wrist_radial"), r.any(side+"_wrist_ulnar"))
		r.hip(side)
	}
	r.head()
}

// fromPair makes a joint from the markers on its two sides. A point that has the joint's plain name is taken for the
// lateral one where only the medial one stands beside it: marker sets are named so.
func (r *resolver) fromPair(name string, lateral, medial int) {
	plain, hasPlain := r.found[name]
	switch {
	case lateral >= 0 && medial >= 0:
		if !hasPlain {
			r.found[name] = origin{kind: middleOf, points: []int{lateral, medial}}
		}
	case medial >= 0 && hasPlain && plain.kind == itself:
		r.used[plain.points[0]] = false
		r.found[name] = origin{kind: middleOf, points: []int{plain.points[0], medial}}
	case !hasPlain && max(lateral, medial) >= 0:
		only := max(lateral, medial)
		r.found[name] = origin{points: []int{only}}
		r.used[only] = true
		r.notes = append(r.notes, Note{Info, name, "made from the single skin marker " + r.points[only] +
			", which lies beside the joint's centre"})
	}
}

// hip regresses a hip centre from the markers of the pelvis where the file has no hip.
func (r *resolver) hip(side string) {
	name := side + "_hip"
	if _, ok := r.found[name]; ok {
		return
	}
	la, ra, lp, rp := r.any("left_asis"), r.any("right_asis"), r.any("left_psis"), r.any("right_psis")
	sacrum := r.any("sacrum")
	switch {
	case la < 0 || ra < 0:
	case lp >= 0 && rp >= 0:
		r.found[name] = origin{kind: hipFromBone, side: side, points: []int{la, ra, lp, rp}}
	case sacrum >= 0:
		r.found[name] = origin{kind: hipFromBone, side: side, points: []int{la, ra, sacrum}}
	}
}

// head makes the centre of the head from a head band or the ears.
func (r *resolver) head() {
	if o, ok := r.found["head"]; ok && spell(r.points[o.points[0]]).part != "nose" {
		return
	}
	for _, names := range [...][]string{
		{"left_head_front", "right_head_front", "left_head_back", "right_head_back"},
		{"left_ear", "right_ear"},
	} {
		var points []int
		for _, n := range names {
			if p := r.any(n); p >= 0 {
				points = append(points, p)
			}
		}
		if len(points) == len(names) {
			if o, ok := r.found["head"]; ok {
				r.used[o.points[0]] = false
			}
			r.found["head"] = origin{kind: middleOf, points: points}
			return
		}
	}
}

// byHand lets a person's map win over the rules.
func (r *resolver) byHand(by map[string]string) error {
	names := make([]string, 0, len(by))
	for n := range by {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, name := range names {
		if snakeOnly(name) != name || name == "" {
			return Refuse("write it like left_knee", "the landmark map has the name %s", Quote(name))
		}
		if old, ok := r.found[name]; ok && old.kind == itself {
			r.used[old.points[0]] = false
		}
		delete(r.found, name)
		if strings.TrimSpace(by[name]) == "" {
			continue
		}
		o, err := parseOrigin(by[name], r.points)
		if err != nil {
			return err
		}
		if o.kind == itself {
			r.release(o.points[0])
			r.used[o.points[0]] = true
		}
		r.found[name] = o
	}
	return nil
}

// release takes a point away from the landmark that the rules gave it to.
func (r *resolver) release(point int) {
	for name, o := range r.found {
		if o.kind == itself && o.points[0] == point {
			delete(r.found, name)
		}
	}
}

// snakeOnly keeps what a channel's name may hold: lower-case letters, digits and single underscores.
func snakeOnly(name string) string { return strings.Join(wordsOf(strings.ToLower(name)), "_") }

// mapping lists the channels: landmarks of ours in their order, then other names, then points under their own names.
func (r *resolver) mapping() mapping {
	m := mapping{points: r.points, notes: r.notes}
	taken := map[string]bool{}
	put := func(name string, o origin) {
		taken[name] = true
		m.channels = append(m.channels, channelOf{landmark.Name(name), o})
	}
	var others []string
	for name := range r.found {
		if !landmark.IsStandard(landmark.Name(name)) {
			others = append(others, name)
		}
	}
	sort.Strings(others)
	for _, n := range landmark.Standard {
		if o, ok := r.found[string(n)]; ok {
			put(string(n), o)
		}
	}
	for _, n := range others {
		put(n, r.found[n])
	}
	for i, p := range r.points {
		if !r.used[i] {
			put(free(snake(p), taken), origin{points: []int{i}})
			m.unknown = append(m.unknown, p)
		}
	}
	return m
}

// free numbers a name that is taken. A name of ours that did not come out of the rules is never given away.
func free(name string, taken map[string]bool) string {
	if !taken[name] && !landmark.IsStandard(landmark.Name(name)) {
		return name
	}
	for i := 2; ; i++ {
		if n := name + "_" + strconv.Itoa(i); !taken[n] {
			return n
		}
	}
}

// found and missing list the landmarks of ours that the take has and lacks.
func (m mapping) found() (found, missing []string) {
	has := map[landmark.Name]bool{}
	for _, c := range m.channels {
		has[c.name] = true
	}
	for _, n := range landmark.Standard {
		if has[n] {
			found = append(found, string(n))
		} else {
			missing = append(missing, string(n))
		}
	}
	return found, missing
}

// text gives the map in text form, by landmark.
func (m mapping) text() map[string]string {
	out := map[string]string{}
	for _, c := range m.channels {
		out[string(c.name)] = c.from.text(m.points)
	}
	return out
}
