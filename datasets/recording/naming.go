package recording

import (
	"strings"
	"unicode"
)

// A point's name is read in three stages. spell takes it to pieces and finds the side: "Subject1:LeftUpLeg" is "left"
// and "upleg", "RKNE" is "right" and "kne". The dictionary says what a piece may mean, best meaning first, because
// names are used in two ways: in marker and joint sets a shoulder is a shoulder, while skeletons that name segments
// after their bones call the shoulder joint "arm" and the collar bone "shoulder". The style of the whole set decides.

// spelling is a name taken to pieces.
type spelling struct {
	side string // "left", "right" or ""
	part string // "kne", "upleg", "wristend"; lower case, letters and digits only
}

var sideWords = map[string]string{
	"left": "left", "l": "left", "lft": "left", "lt": "left",
	"right": "right", "r": "right", "rgt": "right", "rt": "right",
}

// fillers say nothing about which point of the body is meant.
var fillers = map[string]bool{
	"joint": true, "jnt": true, "center": true, "centre": true, "marker": true, "mrk": true, "point": true,
	"bone": true, "mixamorig": true, "bip": true, "bip01": true, "bip001": true, "virtual": true, "site": true,
}

func spell(name string) spelling {
	if i := strings.LastIndexByte(name, ':'); i >= 0 && i+1 < len(name) {
		name = name[i+1:] // "Subject1:LKNE"
	}
	var s spelling
	for _, w := range wordsOf(name) {
		if side, ok := sideWords[w]; ok && s.side == "" {
			s.side = side
			continue
		}
		if !fillers[w] {
			s.part += w
		}
	}
	if s.side != "" && s.part != "" {
		return s
	}
	return joinedSide(s)
}

// joinedSide finds a side that is written without a separator, where what remains is in the dictionary: "LKNE",
// "leftknee", "kneer".
func joinedSide(s spelling) spelling {
	for _, m := range dictionary[s.part] {
		if middle[m.name] {
			return s
		}
	}
	for _, w := range [...]string{"left", "right", "l", "r"} {
		if rest, ok := strings.CutPrefix(s.part, w); ok && known(rest) {
			return spelling{sideWords[w], rest}
		}
		if rest, ok := strings.CutSuffix(s.part, w); ok && known(rest) {
			return spelling{sideWords[w], rest}
		}
	}
	return s
}

func known(part string) bool { return len(dictionary[part]) > 0 }

// wordsOf splits a name at separators and where capitals begin, in lower case: "LeftUpLeg_2" gives left, up, leg, 2.
func wordsOf(name string) []string {
	var out []string
	var word []rune
	flush := func() {
		if len(word) > 0 {
			out = append(out, strings.ToLower(string(word)))
			word = word[:0]
		}
	}
	runes := []rune(name)
	for i, c := range runes {
		if !unicode.IsLetter(c) && !unicode.IsDigit(c) {
			flush()
			continue
		}
		if i > 0 && unicode.IsUpper(c) {
			before := unicode.IsLower(runes[i-1])
			after := i+1 < len(runes) && unicode.IsLower(runes[i+1]) && unicode.IsUpper(runes[i-1])
			if before || after {
				flush()
			}
		}
		word = append(word, c)
	}
	flush()
	return out
}

// snake is the name of a point that is no landmark of ours: lower snake case, side first.
func snake(name string) string {
	side, rest := "", []string(nil)
	if i := strings.LastIndexByte(name, ':'); i >= 0 && i+1 < len(name) {
		name = name[i+1:]
	}
	for _, w := range wordsOf(name) {
		if s, ok := sideWords[w]; ok && side == "" {
			side = s
			continue
		}
		rest = append(rest, w)
	}
	if side == "" && len(rest) == 1 {
		if s := joinedSide(spelling{part: rest[0]}); s.side != "" {
			side, rest = s.side, []string{s.part}
		}
	}
	if side != "" && len(rest) > 0 {
		rest = append([]string{side}, rest...)
	}
	if len(rest) == 0 {
		if side != "" {
			return side
		}
		return "point"
	}
	return strings.Join(rest, "_")
}

// meaning is what a part may stand for. Names without a side in them get the side of the spelling.
type meaning struct {
	name string
	rank int // the candidate of lowest rank wins
}

// Ranks. Segment ranks count only where the set has no name of the joint itself.
const (
	exact   = 0
	near    = 1 // a point close by
	segment = 2 // the bone that starts at the joint
	last    = 3
)

// dictionary gives the meanings of a part. It is built once from the lists below.
var dictionary = buildDictionary()

func buildDictionary() map[string][]meaning {
	d := map[string][]meaning{}
	add := func(rank int, name, parts string) {
		for _, p := range strings.Fields(parts) {
			d[p] = append(d[p], meaning{name, rank})
		}
	}
	addBody(add)
	addMarkers(add)
	addRacket(add)
	return d
}

// addBody lists joints and the segments of skeletons.
func addBody(add func(rank int, name, parts string)) {
	add(exact, "shoulder", "shoulder sho shjc sjc glenohumeral gh")
	add(near, "shoulder", "acromion acromium acr shoulderlat shouldertop")
	add(segment, "shoulder", "arm upperarm uparm upparm humerus")
	add(exact, "elbow", "elbow elb elbo ejc")
	add(segment, "elbow", "forearm lowerarm loarm lowarm ulna")
	add(exact, "wrist", "wrist wri wrst wjc")
	add(segment, "wrist", "hand")
	add(exact, "hand", "hand hnd mc3 mcp3 mch3 fist palm handmid handmiddle thirdmetacarpal middlemcp")
	add(near, "hand", "fin wristend handend knuckle knuckles handmiddle1 middle1 middlefinger1")
	add(last, "hand", "index indexmcp handindex1")
	add(exact, "hip", "hip hipjoint hjc hjoint upleg upperleg")
	add(segment, "hip", "thigh femur")
	add(exact, "knee", "knee kne kjc knee1")
	add(segment, "knee", "leg lowleg lowerleg shin shank calf tibia")
	add(exact, "ankle", "ankle ank ajc")
	add(segment, "ankle", "foot")
	add(exact, "heel", "heel hee calcaneus calc cal heelback")
	add(exact, "toe", "toeend toetip toebaseend toe2 footend ankleend")
	add(near, "toe", "toe toes bigtoe hallux footindex ballend toesend")
	add(last, "toe", "toebase mt2 forefoot ballfoot football")
	add(exact, "collar", "collar clavicle")
	add(last, "collar", "shoulder")
	add(exact, "head_top", "headtop topofhead tophead vertex headend htop")
	add(exact, "head", "head skull hed headcg")
	add(last, "head", "nose")
	add(exact, "c7", "c7 cervical7 cv7")
	add(near, "c7", "neck neckbase baseneck necklow lowerneck neck1 upperneck thorax")
	add(exact, "sternum", "sternum jugularnotch clav ij sjn manubrium suprasternal suprasternalnotch suprasternale")
	add(exact, "chest", "chest lowerribs")
	add(near, "chest", "spine1 torso trunk abdomen")
	add(last, "chest", "spine spine2 spinemid midspine")
	add(exact, "pelvis", "pelvis hips midhip hipcentre hipcenter hipmid")
	add(near, "pelvis", "hip root spinebase")
}

// addMarkers lists skin markers that come in pairs or serve for regressions. They are landmarks of no list of ours:
// makeFromMarkers turns them into joint centres.
func addMarkers(add func(rank int, name, parts string)) {
	add(exact, "knee_lateral", "kneelat kneelateral lateralknee latknee kneeouter kneeout lfe kel fle")
	add(exact, "knee_medial", "kneemed kneemedial medialknee medknee knem knm mkne kneeinner kneein mfe kem fme kneem")
	add(exact, "ankle_lateral", "anklelat anklelateral lateralankle latankle lmal mal anklelateralmalleolus latmal "+
		"lateralmalleolus malleoluslat ankleouter ankleout fal")
	add(exact, "ankle_medial", "anklemed anklemedial medialankle medankle mmal medmal ankm anm mank medialmalleolus "+
		"malleolusmed ankleinner anklein tam anklem")
	add(exact, "elbow_lateral", "elbowlat elbowlateral lateralelbow latelbow elbowouter elbowout "+
		"lep hle")
	add(exact, "elbow_medial", "elbowmed elbowmedial medialelbow medelbow elbm elm melb mep hme elbowinner elbowin elbowm")
	add(exact, "wrist_radial", "wra wristradius wristradial radialwrist wristthumb wristthumbside wrr rs radstyl "+
		"radialstyloid wristlat wristlateral wristin")
	add(exact, "wrist_ulnar", "wrb wristulna wristulnar ulnarwrist wristpinky wristpinkieside wru us ulnstyl "+
		"ulnarstyloid wristmed wristmedial wristout")
	add(exact, "head_front", "fhd fhead headfront frontofhead frontalhead")
	add(exact, "head_back", "bhd bhead headback backofhead")
	add(exact, "ear", "ear tragus")
	add(exact, "asis", "asi asis iasd iliacfront waistfront")
	add(exact, "psis", "psi psis iliacback waistback ips")
	add(exact, "sacrum", "sacr sacrum sac sacral")
	// Markers in the middle of a segment. They are no landmark, and are known here for the side in their names.
	add(exact, "thigh_marker", "thi thap")
	add(exact, "shank_marker", "tib tiap")
	add(exact, "upper_arm_marker", "upa uarm")
	add(exact, "forearm_marker", "fra frm farm")
}

func addRacket(add func(rank int, name, parts string)) {
	for _, r := range [...]string{"racket", "racquet", "rkt", "rac", "raq", "rqt"} {
		add(exact, "racket_tip", r+"tip "+r+"top "+r+"headtop "+r+"headtip "+r+"toe")
		add(near, "racket_tip", r+"head "+r+"end")
		add(exact, "racket_grip", r+"grip "+r+"butt "+r+"handle "+r+"buttcap "+r+"bottom "+r+"base")
		add(exact, "racket_throat", r+"throat "+r+"neck "+r+"heart")
		add(exact, "racket", r+" "+r+"side "+r+"edge "+r+"headside "+r+"face "+r+"headedge "+r+"frame")
	}
	add(exact, "ball", "ball tennisball theball ballcentre ballcenter")
}

// candidates gives what a point may be, as full names with the side in them.
func candidates(point string) []meaning {
	s := spell(point)
	var out []meaning
	for _, m := range dictionary[s.part] {
		if full, ok := m.sided(s.side); ok {
			out = append(out, meaning{full, m.rank})
		}
	}
	return out
}

// middle lists the names that have no side.
var middle = map[string]bool{
	"head_top": true, "head": true, "c7": true, "sternum": true, "chest": true, "pelvis": true, "sacrum": true,
	"racket_tip": true, "racket_grip": true, "racket_throat": true, "ball": true,
}

// sided puts the side where this name wants it, and reports false where the two do not go together.
func (m meaning) sided(side string) (string, bool) {
	switch {
	case m.name == "racket":
		return "racket_" + side, side != ""
	case middle[m.name]:
		return m.name, side == ""
	}
	return side + "_" + m.name, side != ""
}
