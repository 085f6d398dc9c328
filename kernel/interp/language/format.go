package language

import (
	"errors"
	"fmt"
	"go/format"
	"go/scanner"
)

// Format is the source as gofmt writes it. The error says which line keeps it from being read.
func Format(source string) (string, error) {
	text, err := format.Source([]byte(source))
	if list, ok := errors.AsType[scanner.ErrorList](err); ok && len(list) > 0 {
		return "", fmt.Errorf("line %d, column %d: %s; correct it and format again",
			list[0].Pos.Line, list[0].Pos.Column, list[0].Msg)
	}
	if err != nil {
		return "", err
	}
	return string(text), nil
}
