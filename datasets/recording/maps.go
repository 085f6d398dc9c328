package recording

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// Maps are landmark maps made by hand, by marker set: what one file of a system needed, the next one needs too.
type Maps map[string]map[string]string

// MarkerSet names a set of points by their names, in any order and whoever they are of: "Subject1:LKNE" and
// "Subject2:LKNE" are the same marker.
func MarkerSet(points []string) string {
	names := make([]string, len(points))
	for i, p := range points {
		names[i] = withoutSubject(p)
	}
	slices.Sort(names)
	sum := sha256.Sum256([]byte(strings.Join(names, "\n")))
	return hex.EncodeToString(sum[:6])
}

func withoutSubject(point string) string {
	if i := strings.LastIndexByte(point, ':'); i >= 0 && i+1 < len(point) {
		return point[i+1:]
	}
	return point
}

// ParseMaps reads maps as Text writes them; "" has none.
func ParseMaps(text string) (Maps, error) {
	m := Maps{}
	if text == "" {
		return m, nil
	}
	if err := json.Unmarshal([]byte(text), &m); err != nil {
		return nil, fmt.Errorf("the landmark maps that were kept cannot be read: %w", err)
	}
	return m, nil
}

// Keep adds the map of a marker set, in place of an older one; an empty map removes it.
func (m Maps) Keep(set string, byHand map[string]string) {
	if len(byHand) == 0 {
		delete(m, set)
		return
	}
	m[set] = byHand
}

// Text writes maps for keeping.
func (m Maps) Text() string {
	text, err := json.Marshal(m)
	if err != nil {
		panic(err) // maps of texts have a JSON form
	}
	return string(text)
}
