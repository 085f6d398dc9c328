package bvh

import (
	"math"
	"strings"

	"tossline/datasets/recording"
)

// matrix is a rotation, row by row; it turns a column vector.
type matrix [9]float64

// pose computes where the joints are from the numbers of a motion line: forward kinematics.
//
// A joint lies at its parent's place plus its parent's rotation times its own translation. The translation is the
// joint's OFFSET; position channels add to the OFFSET of a root, and to that of another joint unless the file's first
// frame shows that they already contain it.
type pose struct {
	joints   []joint
	replaces []bool // by joint: position channels stand in place of the offset
	at       [][3]float64
	turn     []matrix
	started  bool
	notes    []recording.Note
}

func (p *pose) init(s *skeleton) {
	p.joints = s.joints
	p.replaces = make([]bool, len(s.joints))
	p.at = make([][3]float64, len(s.joints))
	p.turn = make([]matrix, len(s.joints))
}

// place appends the positions of all joints, x y z each, for one motion line.
func (p *pose) place(values []float64, xyz []float32) []float32 {
	if !p.started {
		p.started = true
		p.settleOffsets(values)
	}
	for i := range p.joints {
		j := &p.joints[i]
		move, turn := j.offset, matrix{1, 0, 0, 0, 1, 0, 0, 0, 1}
		for k, c := range j.channels {
			v := values[j.first+k]
			switch {
			case c > zPosition:
				turn = turn.times(int(c-xRotation), v*math.Pi/180)
			case p.replaces[i]:
				move[c] = v
			default:
				move[c] += v
			}
		}
		if j.parent >= 0 {
			parent := &p.turn[j.parent]
			move = add(p.at[j.parent], parent.apply(move))
			turn = parent.multiply(&turn)
		}
		p.at[i], p.turn[i] = move, turn
		xyz = append(xyz, float32(move[0]), float32(move[1]), float32(move[2]))
	}
	return xyz
}

// settleOffsets decides from the first frame, for each joint below the root that has position channels, whether they
// contain the offset: they do when they lie nearer to it than to zero. Both kinds of file exist.
func (p *pose) settleOffsets(values []float64) {
	var names []string
	for i := range p.joints {
		j := &p.joints[i]
		if j.parent < 0 || !j.moves() {
			continue
		}
		var toOffset, toZero float64
		for k, c := range j.channels {
			if c <= zPosition {
				v := values[j.first+k]
				toOffset += (v - j.offset[c]) * (v - j.offset[c])
				toZero += v * v
			}
		}
		if toOffset < toZero {
			p.replaces[i] = true
			names = append(names, j.name)
		}
	}
	if len(names) > 0 {
		p.notes = append(p.notes, recording.Note{Severity: recording.Info, Where: strings.Join(first(names, 3), ", "),
			Text: "the position channels of these joints contain their offsets: the offsets are not added again"})
	}
}

func first(names []string, n int) []string {
	if len(names) > n {
		return append(names[:n:n], "...")
	}
	return names
}

// times is m multiplied by a rotation of rad about axis 0, 1 or 2 (x, y, z), right-handed.
func (m matrix) times(axis int, rad float64) matrix {
	sin, cos := math.Sincos(rad)
	a, b := (axis+1)%3, (axis+2)%3
	for row := 0; row < 9; row += 3 {
		u, v := m[row+a], m[row+b]
		m[row+a] = u*cos + v*sin
		m[row+b] = v*cos - u*sin
	}
	return m
}

func (m *matrix) multiply(n *matrix) matrix {
	var out matrix
	for row := 0; row < 9; row += 3 {
		for col := range 3 {
			out[row+col] = m[row]*n[col] + m[row+1]*n[3+col] + m[row+2]*n[6+col]
		}
	}
	return out
}

func (m *matrix) apply(v [3]float64) [3]float64 {
	return [3]float64{
		m[0]*v[0] + m[1]*v[1] + m[2]*v[2],
		m[3]*v[0] + m[4]*v[1] + m[5]*v[2],
		m[6]*v[0] + m[7]*v[1] + m[8]*v[2],
	}
}

func add(a, b [3]float64) [3]float64 { return [3]float64{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
