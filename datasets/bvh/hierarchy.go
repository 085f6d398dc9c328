package bvh

import (
	"math"
	"strings"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// Limits on what a file may ask for. A whole body with every finger has some 80 joints.
const (
	maxJoints = 4096
	maxDepth  = 256
)

// channel is one number of a motion line: what it does to its joint.
type channel uint8

const (
	xPosition channel = iota
	yPosition
	zPosition
	xRotation
	yRotation
	zRotation
)

var channelNames = map[string]channel{
	"xposition": xPosition, "yposition": yPosition, "zposition": zPosition,
	"xrotation": xRotation, "yrotation": yRotation, "zrotation": zRotation,
}

// joint is one node of the hierarchy, in the order of the file, so that a parent stands before its children. An end
// site is a joint without channels.
type joint struct {
	name     string
	parent   int // index, -1 for a root
	offset   [3]float64
	channels []channel
	first    int // place of its first channel on a motion line
	end      bool
}

// moves reports whether the joint has position channels.
func (j *joint) moves() bool {
	for _, c := range j.channels {
		if c <= zPosition {
			return true
		}
	}
	return false
}

// skeleton reads HIERARCHY up to and with MOTION.
type skeleton struct {
	in     *lines
	joints []joint
	width  int // numbers on a motion line
	names  map[string]bool
	notes  []recording.Note
}

func readSkeleton(in *lines) (*skeleton, error) {
	s := &skeleton{in: in, names: map[string]bool{}}
	if err := s.expect("HIERARCHY"); err != nil {
		return nil, err
	}
	for {
		word, err := in.word("ROOT or MOTION")
		if err != nil {
			return nil, err
		}
		switch strings.ToUpper(word.text) {
		case "ROOT", "JOINT":
			if err := s.joint(-1, 0); err != nil {
				return nil, err
			}
		case "MOTION":
			if len(s.joints) == 0 {
				return nil, word.err("MOTION comes before any ROOT: the file has no skeleton")
			}
			return s, nil
		default:
			return nil, in.unexpected(word, "ROOT or MOTION")
		}
	}
}

// joint reads a joint from its name to its closing brace.
func (s *skeleton) joint(parent, depth int) error {
	name, err := s.in.rest("the name of a joint")
	if err != nil {
		return err
	}
	if depth > maxDepth || len(s.joints) >= maxJoints {
		return name.err("the skeleton has more than %d joints or is deeper than %d", maxJoints, maxDepth)
	}
	me := len(s.joints)
	s.joints = append(s.joints, joint{name: s.unique(name), parent: parent, first: s.width})
	if err := s.expect("{"); err != nil {
		return err
	}
	for {
		word, err := s.in.word("OFFSET, CHANNELS, JOINT, End Site or }")
		if err != nil {
			return err
		}
		switch strings.ToUpper(word.text) {
		case "OFFSET":
			err = s.offset(me)
		case "CHANNELS":
			err = s.channels(me, word)
		case "JOINT":
			err = s.joint(me, depth+1)
		case "END":
			err = s.endSite(me)
		case "}":
			return nil
		default:
			return s.in.unexpected(word, "OFFSET, CHANNELS, JOINT, End Site or }")
		}
		if err != nil {
			return err
		}
	}
}

// endSite reads an end site after the word End. It becomes a point of its own: the tip of its parent.
func (s *skeleton) endSite(parent int) error {
	word, err := s.in.rest("Site")
	if err != nil {
		return err
	}
	if !strings.EqualFold(word.text, "Site") && !strings.HasPrefix(strings.ToUpper(word.text), "SITE ") {
		return s.in.unexpected(word, "Site after End")
	}
	me := len(s.joints)
	if me >= maxJoints {
		return word.err("the skeleton has more than %d joints", maxJoints)
	}
	word.text = s.joints[parent].name + "_end"
	s.joints = append(s.joints, joint{name: s.unique(word), parent: parent, first: s.width, end: true})
	if err := s.expect("{"); err != nil {
		return err
	}
	if err := s.expect("OFFSET"); err != nil {
		return err
	}
	if err := s.offset(me); err != nil {
		return err
	}
	return s.expect("}")
}

// unique gives a joint's name, numbered where the file uses it twice.
func (s *skeleton) unique(name token) string {
	if !s.names[name.text] {
		s.names[name.text] = true
		return name.text
	}
	numbered := name.text
	for n := 2; s.names[numbered]; n++ {
		numbered = name.text + "_" + itoa(n)
	}
	s.names[numbered] = true
	if !strings.HasSuffix(name.text, "_end") {
		s.notes = append(s.notes, recording.Note{Severity: recording.Warn, Where: name.where(),
			Text: "a second joint is named " + name.text + "; it is called " + numbered + " here"})
	}
	return numbered
}

func (s *skeleton) offset(me int) error {
	for i := range s.joints[me].offset {
		word, err := s.in.word("a number of OFFSET")
		if err != nil {
			return err
		}
		v, n := decimal.Scan([]byte(word.text))
		if n != len(word.text) || math.IsInf(v, 0) {
			return s.in.unexpected(word, "the three numbers of OFFSET")
		}
		s.joints[me].offset[i] = v
	}
	return nil
}

func (s *skeleton) channels(me int, at token) error {
	if len(s.joints[me].channels) > 0 {
		return at.err("a second CHANNELS for joint %s", s.joints[me].name)
	}
	word, err := s.in.word("the number of channels")
	if err != nil {
		return err
	}
	v, n := decimal.Scan([]byte(word.text))
	if n != len(word.text) || v < 0 || v > 6 || v != math.Trunc(v) {
		return s.in.unexpected(word, "a number of channels from 0 to 6")
	}
	for range int(v) {
		word, err := s.in.word("a channel such as Xrotation")
		if err != nil {
			return err
		}
		c, ok := channelNames[strings.ToLower(word.text)]
		if !ok {
			return s.in.unexpected(word, "a channel such as Xrotation or Yposition")
		}
		for _, other := range s.joints[me].channels {
			if other == c {
				return word.err("channel %s is listed twice for joint %s", word.text, s.joints[me].name)
			}
		}
		s.joints[me].channels = append(s.joints[me].channels, c)
	}
	s.width += int(v)
	return nil
}

func (s *skeleton) expect(want string) error {
	word, err := s.in.word(want)
	if err != nil {
		return err
	}
	if !strings.EqualFold(word.text, want) {
		return s.in.unexpected(word, want)
	}
	return nil
}
