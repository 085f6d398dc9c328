package engine

import (
	"context"
	"errors"

	"tossline/kernel/interp"
	"tossline/kernel/motion"
)

// Checked answers the question Check.
type Checked struct {
	Plan        interp.Plan         `json:"plan"`
	Diagnostics []interp.Diagnostic `json:"diagnostics"`
}

// language is what the engine needs of the interpreter.
type language interface {
	Run(context.Context, interp.Job, interp.Observer) error
}

type absent struct{}

func (absent) Run(context.Context, interp.Job, interp.Observer) error {
	return errors.New("the interpreter is not in place yet")
}

func newSession(motion.Source) language { return absent{} }

func (k *kitchen) reply(uint64, Ask) error { return errors.New("the interpreter is not in place yet") }
