package words

import "testing"

func TestCount(t *testing.T) {
	for n, want := range map[int]string{0: "0 serves", 1: "1 serve", 2: "2 serves"} {
		if got := Count(n, "serve"); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestCapital(t *testing.T) {
	for text, want := range map[string]string{"": "", "a": "A", "contact of": "Contact of", "übung.csv": "Übung.csv", "9 a": "9 a"} {
		if got := Capital(text); got != want {
			t.Errorf("%q became %q, want %q", text, got, want)
		}
	}
}
