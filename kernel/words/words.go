// Package words puts together the small parts of sentences.
package words

import (
	"fmt"
	"unicode"
	"unicode/utf8"
)

// Count is a number with its noun: "1 serve", "3 serves".
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Capital starts a text with a capital letter.
func Capital(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return text
	}
	return string(unicode.ToUpper(first)) + text[size:]
}
