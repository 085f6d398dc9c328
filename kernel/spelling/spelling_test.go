package spelling

import "testing"

func TestNearest(t *testing.T) {
	names := []string{"player", "session", "contact_offset_m", "x"}
	for _, c := range []struct{ name, word, want string }{
		{"a letter too few", "plyer", "player"},
		{"a letter too many", "sesssion", "session"},
		{"two letters swapped", "palyer", "player"},
		{"the beginning", "contact", "contact_offset_m"},
		{"one letter of two", "xs", "x"},
		{"one letter of one", "y", ""},
		{"too far off", "racket", ""},
		{"a beginning too short to mean anything", "co", ""},
		{"nothing", "", ""},
	} {
		if got := Nearest(c.word, names); got != c.want {
			t.Errorf("%s: %q is taken for %q, want %q", c.name, c.word, got, c.want)
		}
	}
	if got := Nearest("player", nil); got != "" {
		t.Errorf("of no names: %q", got)
	}
}

// Distances as published: kitten to sitting is 3, Saturday to Sunday 3 (textbook examples, from memory).
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"Saturday", "Sunday", 3}, {"", "abc", 3}, {"abc", "", 3}, {"serve", "serve", 0}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%s to %s: %d, want %d", c.a, c.b, got, c.want)
		}
		if got := distance(c.b, c.a); got != c.want {
			t.Errorf("%s to %s: %d, want %d", c.b, c.a, got, c.want)
		}
	}
}
