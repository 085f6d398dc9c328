package particulars

import (
	"cmp"
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"tossline/datasets/recording"
	"tossline/datasets/season"
)

// Pseudonyms gives players names such as P01. It keeps no names but a keyed hash of each, so that the same player gets
// the same pseudonym again. Whoever has the season can still try out the names that they know.
type Pseudonyms struct {
	Key   string            `json:"key"`   // of the hash, hex
	Given map[string]string `json:"given"` // pseudonym by the hash of the name
}

// ParsePseudonyms reads what Text wrote; "" begins anew.
func ParsePseudonyms(text string) (*Pseudonyms, error) {
	p := &Pseudonyms{Given: map[string]string{}}
	if text == "" {
		key := make([]byte, 16)
		rand.Read(key) // never fails
		p.Key = hex.EncodeToString(key)
		return p, nil
	}
	if err := json.Unmarshal([]byte(text), p); err != nil || p.Given == nil {
		return nil, fmt.Errorf("the pseudonyms that were given cannot be read: %v", err)
	}
	return p, nil
}

// Text is for keeping.
func (p *Pseudonyms) Text() string {
	text, err := json.Marshal(p)
	if err != nil {
		panic(err) // texts have a JSON form
	}
	return string(text)
}

// setting is the setting of a season that keeps pseudonyms.
const setting = "pseudonyms"

// Kept gives the pseudonyms that a season keeps, nil where it keeps none.
func Kept(ctx context.Context, s *season.Season) (*Pseudonyms, error) {
	text, err := s.Setting(ctx, setting)
	if err != nil || text == "" {
		return nil, err
	}
	return ParsePseudonyms(text)
}

// Keep has a season keep the pseudonyms; nil keeps none.
func (p *Pseudonyms) Keep(ctx context.Context, w *season.Writer) error {
	if p == nil {
		return nil
	}
	return w.SetSetting(ctx, setting, p.Text())
}

// Called is what a season that keeps pseudonyms, or none, calls a player: a name that it has stays.
func (p *Pseudonyms) Called(name string, players []string) string {
	if p == nil || slices.Contains(players, name) {
		return name
	}
	return p.Of(name, players)
}

var isPseudonym = regexp.MustCompile(`^P\d{2,}$`)

// Of gives the pseudonym of a name, a new one that is not among taken where the name has none. A name that is a
// pseudonym already stays.
func (p *Pseudonyms) Of(name string, taken []string) string {
	name = strings.Join(strings.Fields(strings.ToLower(name)), " ")
	if name == "" || isPseudonym.MatchString(strings.ToUpper(name)) {
		return strings.ToUpper(name)
	}
	hash := p.hash(name)
	if old, ok := p.Given[hash]; ok {
		return old
	}
	used := map[string]bool{}
	for _, given := range p.Given {
		used[given] = true
	}
	for _, name := range taken {
		used[name] = true
	}
	for n := 1; ; n++ {
		if next := fmt.Sprintf("P%02d", n); !used[next] {
			p.Given[hash] = next
			return next
		}
	}
}

// hash is of a name in lower case with single blanks.
func (p *Pseudonyms) hash(name string) string {
	mac := hmac.New(sha256.New, []byte(p.Key))
	mac.Write([]byte(name))
	return hex.EncodeToString(mac.Sum(nil)[:12])
}

var (
	wordForm = regexp.MustCompile(`[^\s_.,-]+`)
	gapForm  = regexp.MustCompile(`[\s_.,]+`)
)

// longestName is how many words of a file's name are tried as one name.
const longestName = 6

// Hidden is the name of a file with pseudonyms in place of the names that have one, as the season has it.
func (p *Pseudonyms) Hidden(file string) string {
	if p == nil || len(p.Given) == 0 {
		return file
	}
	words := wordForm.FindAllStringIndex(file, -1)
	var b strings.Builder
	done := 0
	for i := 0; i < len(words); i++ {
		for j := min(i+longestName, len(words)) - 1; j >= i; j-- {
			run := gapForm.ReplaceAllString(strings.ToLower(file[words[i][0]:words[j][1]]), " ")
			pseudonym := cmp.Or(p.Given[p.hash(strings.ReplaceAll(run, "-", " "))], p.Given[p.hash(run)])
			if pseudonym != "" {
				b.WriteString(file[done:words[i][0]] + pseudonym)
				done, i = words[j][1], j
				break
			}
		}
	}
	return b.String() + file[done:]
}

// Hide has the tables know files and parts by the names too that a season has for them which keeps pseudonyms.
func (b Beside) Hide(p *Pseudonyms) {
	known := map[string]string{}
	hidden := func(name string) string {
		if _, ok := known[name]; !ok {
			known[name] = p.Hidden(name)
		}
		return known[name]
	}
	for _, s := range b.Sheets {
		for _, r := range s.rows {
			r.hiddenFile, r.hiddenPart = hidden(r.file), hidden(r.part)
		}
		for _, c := range s.changes {
			c.file = hidden(c.file)
		}
	}
}

// Hide puts a pseudonym in place of a player's name, wherever the understanding of a recording has it.
func Hide(u *recording.Understanding, pseudonym string) {
	name := u.Player.Value
	if name == "" || name == pseudonym {
		return
	}
	parts := strings.Fields(name)
	for i := range parts {
		parts[i] = regexp.QuoteMeta(parts[i])
	}
	form := regexp.MustCompile(`(?i)` + strings.Join(parts, `[\s_.,-]*`))
	hide := func(text *string) { *text = form.ReplaceAllLiteralString(*text, pseudonym) }
	u.Player.Value = pseudonym
	for _, text := range []*string{&u.File, &u.Part, &u.Player.Evidence, &u.Session.Evidence} {
		hide(text)
	}
	for i := range u.Notes {
		hide(&u.Notes[i].Where)
		hide(&u.Notes[i].Text)
	}
	for i := range u.Landmarks.Unknown {
		hide(&u.Landmarks.Unknown[i])
	}
	for landmark, origin := range u.Landmarks.Map {
		hide(&origin)
		u.Landmarks.Map[landmark] = origin
	}
	for i := range u.Signals {
		hide(&u.Signals[i].Name)
	}
}
