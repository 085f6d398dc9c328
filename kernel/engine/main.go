package engine

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"time"
	_ "time/tzdata" // time zones by name, behind a fence that lets no file be opened

	"tossline/kernel/engine/fence"
)

// Main is the engine, from its first message to its end. It doesn't return.
func Main() {
	out := os.Stdout
	os.Stdout = os.Stderr // nothing that is printed gets between the messages
	time.Local = time.UTC // a recipe gives the same results everywhere
	fence.CloseInherited()
	if err := serve(os.Stdin, out); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// A service answers requests. Each is made by one kind of first message.
type service interface {
	// answer takes one request. It returns at once; what it starts ends in a frame of KindDone.
	answer(Frame) error
}

// serve opens the service that the first message asks for, raises the fence and answers until the input ends.
func serve(in io.Reader, out io.Writer) error {
	r, w := NewReader(bufio.NewReader(in), MaxQuestion), NewWriter(out)
	first, err := r.Read()
	if err != nil {
		return ending(err)
	}
	s, ready, limits, err := open(first, w)
	if err != nil {
		return say(w, KindRefused, 0, err.Error())
	}
	first = Frame{}
	ready.Fence = fence.Raise(limits)
	fence.Watch(limits)
	if err := say(w, KindReady, 0, ready); err != nil {
		return err
	}
	for {
		f, err := r.Read()
		if err != nil {
			return ending(err)
		}
		if err := s.answer(f); err != nil {
			return err
		}
	}
}

// open makes the service, with all that it will ever need from outside.
func open(first Frame, w *Writer) (service, Ready, fence.Limits, error) {
	switch first.Kind {
	case KindOpen:
		return openSeason(first, w)
	case KindImport:
		return openImport(first, w)
	case KindSheet:
		return openSheet(first, w)
	case KindKeep:
		return openKeep(first, w)
	}
	return nil, Ready{}, fence.Limits{}, fmt.Errorf("a first message of kind %q", first.Kind)
}

// ending is nil where the other side closed the pipe as it should.
func ending(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// say writes one message.
func say(w *Writer, kind Kind, id uint64, body any, parts ...Part) error {
	f, err := NewFrame(kind, id, body, parts...)
	if err != nil {
		return err
	}
	return w.Write(f)
}
