package motion

// Lengths as parts of the player's height, so that players of different size can be compared.
var (
	DropDepthOfHeight      = ofHeight(DropDepth)
	ContactOffsetOfHeight  = ofHeight(ContactOffset)
	ContactForwardOfHeight = ofHeight(ContactForward)
	ContactHeightOfHeight  = ofHeight(ContactHeight)
)

func ofHeight(m Measure) Measure {
	length := byID[m.ID]
	return register(Measure{
		ID: m.ID + "_of_height", Title: m.Title + ", part of height", Unit: "%", Sign: m.Sign,
		Definition: m.Title + " in per cent of the player's standing height. " + m.Definition,
		Needs:      m.Needs + "; the player's height", Source: m.Source, Version: m.Version - methods,
	}, rule{from: length.from, to: length.to, points: length.points, oneOf: length.oneOf, eval: func(v *view) Value {
		if !(v.clip.HeightM > 0) {
			return missing(noHeight)
		}
		found := length.eval(v)
		if found.Missing == "" {
			found.Number *= 100 / v.clip.HeightM
		}
		return found
	}})
}
