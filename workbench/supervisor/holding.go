package supervisor

import (
	"slices"

	"tossline/kernel/interp"
)

// holding keeps the results of steps by key. The zero value is empty.
type holding struct {
	size  int64
	steps map[string]interp.Step
	order []string // keys, oldest first
}

// put holds a step's results.
func (h *holding) put(step interp.Step) {
	if step.Key == "" || len(step.Results) == 0 {
		return
	}
	if h.steps == nil {
		h.steps = map[string]interp.Step{}
	}
	if old, ok := h.steps[step.Key]; ok {
		h.forget(old)
	}
	step.Kept = false
	h.steps[step.Key] = step
	h.order = append(h.order, step.Key)
	h.size += weight(step)
}

// trim forgets the oldest results beyond most bytes. It is for between runs: an engine counts on what is held.
func (h *holding) trim(most int64) {
	for h.size > most {
		h.forget(h.steps[h.order[0]])
	}
}

// get gives what is held under key.
func (h *holding) get(key string) (interp.Step, bool) {
	step, ok := h.steps[key]
	return step, ok
}

// keys are those of all steps that are held.
func (h *holding) keys() []string { return slices.Clone(h.order) }

func (h *holding) forget(step interp.Step) {
	delete(h.steps, step.Key)
	h.order = slices.DeleteFunc(h.order, func(key string) bool { return key == step.Key })
	h.size -= weight(step)
}

// weight is about the memory that a step's results take.
func weight(step interp.Step) int64 {
	n := int64(1000)
	for _, a := range step.Attachments {
		n += int64(len(a.Bytes))
	}
	for _, r := range step.Results {
		n += r.Size()
	}
	return n
}
