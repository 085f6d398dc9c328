package engine

import (
	"fmt"

	"tossline/kernel/interp"
	"tossline/kernel/interp/language"
)

// Checked answers the question Check.
type Checked struct {
	Plan        interp.Plan         `json:"plan"`
	Diagnostics []interp.Diagnostic `json:"diagnostics"`
}

// reply answers a question of the editor.
func (k *kitchen) reply(id uint64, ask Ask) error {
	answer, err := k.consider(ask)
	if err != nil {
		return err
	}
	return say(k.w, KindAnswer, id, answer)
}

func (k *kitchen) consider(ask Ask) (any, error) {
	switch ask.Question {
	case Check:
		plan, found, err := k.session.Check(ask.File, ask.Source)
		return Checked{plan, remarks(found)}, err
	case Complete:
		return language.Complete(ask.Source, ask.Offset), nil
	case Hover:
		return language.HoverAt(ask.Source, ask.Offset), nil
	case Signature:
		return language.SignatureAt(ask.Source, ask.Offset), nil
	case Definition:
		return language.DefinitionAt(ask.Source, ask.Offset), nil
	case Format:
		return language.Format(ask.Source)
	}
	return nil, fmt.Errorf("no question %q", ask.Question)
}
