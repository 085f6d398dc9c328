package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
)

// PoseAt gives the landmarks of a clip at a moment, in seconds from the start of the recording, as measures see
// them: gaps filled, filtered, mirrored for a left-hander; those that are missing are absent. Struck points (hitting
// arm, racket) are filtered up to contact alone when the moment is before it or at it, and through it when later.
func PoseAt(clip Clip, timeS float64) map[landmark.Name]r3.Vec {
	pose := map[landmark.Name]r3.Vec{}
	v, t := seenFor(&clip, timeS)
	if v == nil {
		return pose
	}
	for p := range pointCount {
		if at := v.shown(p, t); at.Y == at.Y {
			pose[p.name()] = at
		}
	}
	return pose
}

// Path gives a landmark at every frame from one moment to another, as PoseAt does at one.
func Path(clip Clip, name landmark.Name, fromS, toS float64) []r3.Vec {
	p := pointNamed(name)
	v, first := seenFor(&clip, fromS)
	if p < 0 || v == nil {
		return nil
	}
	last := v.sample(toS)
	var path []r3.Vec
	for i := int(math.Ceil(first - 1e-6)); float64(i) <= last+1e-6; i++ {
		path = append(path, v.shown(p, float64(i)))
	}
	return path
}

// seenFor looks at the whole clip and gives the sample of a moment.
func seenFor(clip *Clip, timeS float64) (*view, float64) {
	if clip.Len() < 10 || clip.Layout == nil {
		return nil, 0
	}
	v := new(view)
	v.look(clip, "", "")
	return v, v.sample(timeS)
}

// sample turns seconds of the recording into samples of the view.
func (v *view) sample(timeS float64) float64 {
	return timeS*v.rate - float64(v.clip.First) - float64(v.first)
}

// shown is a point at a sample for figures: the ball as recorded, struck points after contact filtered anew.
func (v *view) shown(p point, t float64) r3.Vec {
	switch {
	case v.places[p] < 0:
		return missingPoint
	case p == ball:
		return v.raw(p, int(math.Round(t)))
	case p.group().endsAtContact() && t > float64(v.last)+1:
		return v.through(p, t)
	}
	return v.posAt(p, t)
}

// through is a struck point filtered over the whole stretch.
func (v *view) through(p point, t float64) r3.Vec {
	last, track := v.last, v.tracks[p]
	v.last, v.tracks[p].samples = v.samples-1, 0
	at := v.posAt(p, t)
	v.last, v.tracks[p] = last, track
	return at
}

func pointNamed(name landmark.Name) point {
	for p := range pointCount {
		if p.name() == name {
			return p
		}
	}
	return -1
}
