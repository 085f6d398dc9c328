package motion

// NewMeasurer gives the function that one worker of Season.Measure calls for each serve.
func NewMeasurer(ms ...Measure) func(clip *Clip, values []Value) { return newEvaluator(ms).run }
