package supervisor

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"tossline/kernel/engine"
)

// Ask puts a question of the editor to the engine that does nothing else, and decodes its answer, whose type the
// question names, into answer. Where that engine ends over it, another takes its place and the error says so.
func (s *Supervisor) Ask(ctx context.Context, ask engine.Ask, answer any) error {
	p, err := s.readingEngine(ctx)
	if err != nil {
		return err
	}
	heard := false
	hear := func(f engine.Frame) (time.Duration, error) {
		if f.Kind != engine.KindAnswer {
			return 0, errors.New(string(f.Kind) + " does not answer a question")
		}
		if heard {
			return 0, errors.New("a second answer to one question")
		}
		heard = true
		return 0, json.Unmarshal(f.Body, answer)
	}
	err = p.ask(ctx, engine.KindAsk, ask, s.limits.Read, hear)
	if ending, ok := errors.AsType[*Ending](err); ok {
		return s.ended(ending.at("while reading the recipe", "was started anew"))
	}
	return err
}

// readingEngine gives the engine that answers questions, a new one where it has ended.
func (s *Supervisor) readingEngine(ctx context.Context) (*process, error) {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return nil, ErrClosed
	}
	if !s.reader.usable() {
		s.reader = s.next()
	}
	w := s.reader
	s.mu.Unlock()
	return w.get(ctx)
}
