package recording

import (
	"reflect"
	"strings"
	"testing"
)

// TestMapPoints maps point sets of the kinds that systems write. The names are trade terms of marker and joint sets,
// from memory; what they must become follows from their anatomical meaning.
func TestMapPoints(t *testing.T) {
	for _, c := range []struct {
		name   string
		points string            // comma-separated
		want   map[string]string // landmark to origin
		not    []string          // landmarks that must not be there
	}{
		{"joints by their names", "Hips,Chest,Neck,Head,Head_end,LeftCollar,LeftShoulder,LeftElbow,LeftWrist,LeftWrist_end," +
			"LeftHip,LeftKnee,LeftAnkle,LeftAnkle_end", map[string]string{
			"pelvis": "Hips", "chest": "Chest", "c7": "Neck", "head": "Head", "head_top": "Head_end",
			"left_collar": "LeftCollar", "left_shoulder": "LeftShoulder", "left_elbow": "LeftElbow",
			"left_wrist": "LeftWrist", "left_hand": "LeftWrist_end", "left_hip": "LeftHip", "left_knee": "LeftKnee",
			"left_ankle": "LeftAnkle", "left_toe": "LeftAnkle_end"}, nil},
		{"joints by their bones", "Hips,Spine,Spine1,Neck,Head,RightShoulder,RightArm,RightForeArm,RightHand," +
			"RightHandMiddle1,RightUpLeg,RightLeg,RightFoot,RightToeBase,RightToeBase_end", map[string]string{
			"right_shoulder": "RightArm", "right_collar": "RightShoulder", "right_elbow": "RightForeArm",
			"right_wrist": "RightHand", "right_hand": "RightHandMiddle1", "right_hip": "RightUpLeg",
			"right_knee": "RightLeg", "right_ankle": "RightFoot", "right_toe": "RightToeBase_end", "chest": "Spine1"}, nil},
		{"bones with a prefix", "mixamorig:LeftArm,mixamorig:LeftForeArm,mixamorig:LeftHand,mixamorig:LeftShoulder",
			map[string]string{"left_shoulder": "mixamorig:LeftArm", "left_wrist": "mixamorig:LeftHand"}, nil},
		{"segments", "thigh_l,calf_l,foot_l,upperarm_l,lowerarm_l,hand_l", map[string]string{
			"left_hip": "thigh_l", "left_knee": "calf_l", "left_ankle": "foot_l", "left_shoulder": "upperarm_l",
			"left_elbow": "lowerarm_l", "left_wrist": "hand_l"}, []string{"left_hand"}},
		{"skin markers in pairs", "S1:LASI,S1:RASI,S1:LPSI,S1:RPSI,S1:LKNE,S1:LKNM,S1:LANK,S1:LMED,S1:LFHD,S1:RFHD,S1:LBHD," +
			"S1:RBHD,S1:C7,S1:CLAV,S1:LWRA,S1:LWRB,S1:LFIN,S1:LTOE,S1:LHEE,S1:LTHI,S1:LSHO,S1:LELB", map[string]string{
			"left_hip":  "hip(left, S1:LASI, S1:RASI, S1:LPSI, S1:RPSI)",
			"right_hip": "hip(right, S1:LASI, S1:RASI, S1:LPSI, S1:RPSI)",
			"left_knee": "middle(S1:LKNE, S1:LKNM)", "left_ankle": "S1:LANK",
			"head": "middle(S1:LFHD, S1:RFHD, S1:LBHD, S1:RBHD)", "c7": "S1:C7", "sternum": "S1:CLAV",
			"left_wrist": "middle(S1:LWRA, S1:LWRB)", "left_hand": "S1:LFIN", "left_toe": "S1:LTOE", "left_heel": "S1:LHEE",
			"left_thi": "S1:LTHI", "left_shoulder": "S1:LSHO", "left_elbow": "S1:LELB"}, nil},
		{"medial and lateral in words", "R.Knee.Lateral,R.Knee.Medial,Right Ankle Lateral,Right Ankle " +
			"Medial,RElbowLat,RElbowMed",
			map[string]string{"right_knee": "middle(R.Knee.Lateral, R.Knee.Medial)",
				"right_ankle": "middle(Right Ankle Lateral, Right Ankle Medial)",
				"right_elbow": "middle(RElbowLat, RElbowMed)"}, nil},
		{"one marker of a pair", "LKneeLat", map[string]string{"left_knee": "LKneeLat"}, nil},
		{"joint centres", "LHJC,RKJC,lajc", map[string]string{"left_hip": "LHJC", "right_knee": "RKJC", "left_ankle": "lajc"},
			nil},
		{"pose estimation", "nose,left_eye,left_ear,right_ear,left_shoulder,left_elbow,left_wrist,left_hip,left_knee," +
			"left_ankle,left_foot_index,left_heel", map[string]string{"head": "middle(left_ear, right_ear)",
			"left_toe": "left_foot_index", "left_heel": "left_heel", "nose": "nose"}, nil},
		{"short names", "LSh,L_hip,hip_R,kneeR,leftwrist,MidHip,LBigToe", map[string]string{"left_hip": "L_hip",
			"right_hip": "hip_R", "right_knee": "kneeR", "left_wrist": "leftwrist", "pelvis": "MidHip", "left_toe": "LBigToe"},
			nil},
		{"racket and ball", "Racket_Tip,racquet.butt,RacketThroat,RacketLeft,Racket R,Ball", map[string]string{
			"racket_tip": "Racket_Tip", "racket_grip": "racquet.butt", "racket_throat": "RacketThroat",
			"racket_left": "RacketLeft", "racket_right": "Racket R", "ball": "Ball"}, nil},
		{"our own names", "head_top,head,c7,sternum,chest,pelvis,left_shoulder,right_toe,racket_grip,racket_left,ball",
			map[string]string{"head_top": "head_top", "pelvis": "pelvis", "racket_left": "racket_left", "ball": "ball"}, nil},
		{"names that mean nothing here", "M1,Foo Bar,left_thing,LLEG3", map[string]string{"m1": "M1", "foo_bar": "Foo Bar",
			"left_thing": "left_thing"}, []string{"left_knee"}},
		{"a name of ours that is not meant", "LeftArm,LeftForeArm,LeftShoulder,LeftCollar", map[string]string{
			"left_shoulder": "LeftArm", "left_collar": "LeftCollar", "left_shoulder_2": "LeftShoulder"}, nil},
	} {
		m, err := mapPoints(strings.Split(c.points, ","), nil, false)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got := m.text()
		for name, origin := range c.want {
			if got[name] != origin {
				t.Errorf("%s: %s is %q, want %q", c.name, name, got[name], origin)
			}
		}
		for _, name := range c.not {
			if got[name] != "" {
				t.Errorf("%s: %s is %q, want none", c.name, name, got[name])
			}
		}
	}
}

func TestMapByHand(t *testing.T) {
	points := []string{"A", "B", "with, comma", "LKNE"}
	m, err := mapPoints(points, map[string]string{
		"left_knee": "", "left_hip": "middle(a, B)", "left_hand": "along(A, B, 1.25)", "ball": "with, comma",
		"racket_tip": `middle("with, comma", LKNE)`,
	}, false)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"left_hip": "middle(A, B)", "left_hand": "along(A, B, 1.25)", "ball": `"with, comma"`,
		"racket_tip": `middle("with, comma", LKNE)`, "a": "A", "b": "B", "left_kne": "LKNE"}
	if got := m.text(); !reflect.DeepEqual(got, want) {
		t.Errorf("map %v, want %v", got, want)
	}
	again, err := mapPoints(points, m.text(), false)
	if err != nil || !reflect.DeepEqual(again.text(), m.text()) {
		t.Errorf("the map does not give itself again: %v, %v", again.text(), err)
	}
}

func TestMapRefusals(t *testing.T) {
	for text, want := range map[string]string{
		"C": "which the file does not have", "middle(A)": "the landmark map has", "sum(A, B)": "the landmark map has",
		"along(A, B)": "the landmark map has", "along(A, B, much)": "the landmark map has",
		"middle(A, B": "the landmark map has", "hip(up, A, B, A)": "the landmark map has", "middle(A, X)": `names point "X"`,
	} {
		if _, err := mapPoints([]string{"A", "B"}, map[string]string{"ball": text}, false); err == nil ||
			!strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
	if _, err := mapPoints([]string{"A"}, map[string]string{"Left Knee": "A"}, false); err == nil {
		t.Error("a landmark with a blank was accepted")
	}
}

// FuzzMapPoints checks that no names break the rules' promises: every point of the file is there, names are unique
// and can be put into a list with commas.
func FuzzMapPoints(f *testing.F) {
	f.Add("Hips\nLeftShoulder\nLKNE\nLKNM", "middle(Hips, LKNE)")
	f.Add("S1:LASI\nS1:RASI\nSACR\nhead_top_2\nhead_top", `along("Hips", LKNE, 2)`)
	f.Fuzz(func(t *testing.T, names, hand string) {
		points := strings.Split(names, "\n")
		m, err := mapPoints(points, nil, false)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{}
		used := map[int]bool{}
		for _, c := range m.channels {
			n := string(c.name)
			if n == "" || seen[n] || strings.ContainsAny(n, ", \"\n") {
				t.Errorf("channel %q", n)
			}
			seen[n] = true
			if c.from.kind == itself {
				used[c.from.points[0]] = true
			}
		}
		for i := range points {
			if !used[i] {
				t.Errorf("point %q is lost", points[i])
			}
		}
		if m, err := mapPoints(points, map[string]string{"ball": hand}, false); err == nil {
			if _, err := mapPoints(points, map[string]string{"ball": m.text()["ball"]}, false); err != nil && hand != "" {
				t.Errorf("the text %q of %q does not parse: %v", m.text()["ball"], hand, err)
			}
		}
	})
}
