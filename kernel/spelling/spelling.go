// Package spelling guesses which name somebody meant who wrote another.
package spelling

import (
	"strconv"
	"strings"
)

// Nearest is the name that a word begins, or the one that takes the fewest letters to insert, delete or replace
// (Levenshtein 1966): one at most, or a third of the word's, but never all. It is "" where no name is that near.
func Nearest(word string, names []string) string {
	best, least := "", min(max(1, len(word)/3), len(word)-1)+1
	for _, name := range names {
		if len(word) > 2 && strings.HasPrefix(name, word) {
			return name
		}
		if d := distance(word, name); d < least {
			best, least = name, d
		}
	}
	return best
}

// Hint ends the sentence that there is no such name: with the nearest that there is, or with the first dozen of them.
func Hint(word string, names []string) string {
	const show = 12
	switch near := Nearest(word, names); {
	case near != "":
		return "; did you mean " + strconv.Quote(near) + "?"
	case len(names) == 0:
		return ""
	case len(names) == 1:
		return "; there is " + names[0]
	case len(names) > show:
		return "; there are " + strings.Join(names[:show], ", ") + " and more"
	}
	last := len(names) - 1
	return "; there are " + strings.Join(names[:last], ", ") + " and " + names[last]
}

// distance counts the letters to insert, delete or replace between a and b.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], cost
		}
	}
	return row[len(b)]
}
