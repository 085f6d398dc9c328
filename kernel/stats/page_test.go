package stats

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"tossline/kernel/result"
)

// noNaN fails when an answer can't be shown, or shows what isn't a number, or says nothing.
func noNaN(t *testing.T, answer result.Encoder) {
	t.Helper()
	encoded, _, err := answer.EncodeResult()
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(encoded)
	if err != nil {
		t.Fatal(err)
	}
	said := string(text) + fmt.Sprint(answer)
	for _, bad := range []string{"NaN", "Inf", `"sentence":""`, "%!"} {
		if strings.Contains(said, bad) {
			t.Errorf("%q in %s", bad, said)
		}
	}
}
