package server

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"go/doc"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Shipped is a recipe that comes with the program.
type Shipped struct {
	File   string // base name, "contact_offset.go"
	Source string
}

const maxRecipeBytes = 1 << 20

// shelf is the season's folder of recipe files. Shipped recipes are copied into it when it is first opened, so that
// they can be changed like any other; a shipped text is always allowed to run.
type shelf struct {
	dir     string
	root    *os.Root
	shipped []Shipped
	season  Season

	mu   sync.Mutex
	seen map[string]stamp // by recipe: what the last look found
}

// stamp tells whether a file changed without reading it.
type stamp struct {
	size int64
	time time.Time
}

func newShelf(dir string, shipped []Shipped, season Season) (*shelf, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("the recipes folder cannot be made: %w", err)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("the recipes folder cannot be opened: %w", err)
	}
	s := &shelf{dir: dir, root: root, shipped: shipped, season: season, seen: map[string]stamp{}}
	for _, r := range shipped {
		if _, err := root.Stat(r.File); errors.Is(err, fs.ErrNotExist) {
			// A season that may only be read shows the shipped recipes all the same: read falls back to them.
			_ = s.write(recipeName(r.File), r.Source)
		}
	}
	s.changed()
	return s, nil
}

func recipeName(file string) string { return strings.TrimSuffix(file, ".go") }

// goodName reports whether a recipe may be called so: a Go file name of letters, digits and underscores.
func goodName(recipe string) bool {
	ok := recipe != "" && len(recipe) <= 80 && !strings.HasSuffix(recipe, "_test") && recipe[0] != '_'
	for _, r := range recipe {
		ok = ok && (r == '_' || r == '-' || '0' <= r && r <= '9' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z')
	}
	return ok
}

// read gives the text of a recipe and when it was saved.
func (s *shelf) read(recipe string) (string, time.Time, error) {
	if !goodName(recipe) {
		return "", time.Time{}, fmt.Errorf("there is no recipe %q", recipe)
	}
	text, saved, err := s.readFile(recipe + ".go")
	if err == nil {
		return text, saved, nil
	}
	for _, r := range s.shipped {
		if r.File == recipe+".go" && errors.Is(err, fs.ErrNotExist) {
			return r.Source, time.Time{}, nil
		}
	}
	if errors.Is(err, fs.ErrNotExist) {
		return "", time.Time{}, fmt.Errorf("there is no recipe %q in %s", recipe, s.dir)
	}
	return "", time.Time{}, err
}

func (s *shelf) readFile(file string) (string, time.Time, error) {
	info, err := s.root.Stat(file)
	if err != nil {
		return "", time.Time{}, err
	}
	if info.Size() > maxRecipeBytes {
		return "", time.Time{}, fmt.Errorf("%s is larger than a recipe may be (1 MiB)", file)
	}
	text, err := s.root.ReadFile(file)
	return string(text), info.ModTime(), err
}

// write saves a recipe: to a new file beside it, flushed, then renamed, so that a crash leaves the old or the new text.
func (s *shelf) write(recipe, text string) error {
	if !goodName(recipe) {
		return fmt.Errorf("a recipe cannot be called %q: use letters, digits and underscores", recipe)
	}
	file, fresh := recipe+".go", "."+recipe+".go.new"
	err := s.writeFile(fresh, text)
	if err == nil {
		err = s.root.Rename(fresh, file)
	}
	if err == nil {
		err = syncDir(s.root)
	}
	if err != nil {
		return fmt.Errorf("%s cannot be saved in %s: %w", file, s.dir, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if info, err := s.root.Stat(file); err == nil {
		s.seen[recipe] = stamp{info.Size(), info.ModTime()}
	}
	return nil
}

func (s *shelf) writeFile(name, text string) error {
	f, err := s.root.OpenFile(name, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	return cmp.Or(err, f.Sync(), f.Close())
}

func syncDir(root *os.Root) error {
	d, err := root.Open(".")
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}

// changed looks at the folder and names the recipes that came, went or changed since it last looked.
func (s *shelf) changed() []string {
	now := map[string]stamp{}
	for _, name := range s.files() {
		if info, err := s.root.Stat(name); err == nil && info.Mode().IsRegular() {
			now[recipeName(name)] = stamp{info.Size(), info.ModTime()}
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	var names []string
	for name, st := range now {
		if s.seen[name] != st {
			names = append(names, name)
		}
	}
	for name := range s.seen {
		if _, ok := now[name]; !ok {
			names = append(names, name)
		}
	}
	s.seen = now
	return names
}

// files lists the recipe files of the folder.
func (s *shelf) files() []string {
	entries, err := fs.ReadDir(s.root.FS(), ".")
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		if name, ok := strings.CutSuffix(e.Name(), ".go"); ok && goodName(name) {
			names = append(names, e.Name())
		}
	}
	return names
}

// entries is the shelf in its order: shipped recipes first, then the season's own by title.
func (s *shelf) entries() []ShelfEntry {
	place := map[string]int{}
	for i, r := range s.shipped {
		place[recipeName(r.File)] = i + 1
	}
	files := s.files()
	for _, r := range s.shipped {
		if !slices.Contains(files, r.File) {
			files = append(files, r.File)
		}
	}
	var list []ShelfEntry
	for _, file := range files {
		if source, _, err := s.read(recipeName(file)); err == nil {
			e := s.entry(recipeName(file), source)
			e.Shipped = place[e.Recipe] > 0
			list = append(list, e)
		}
	}
	slices.SortStableFunc(list, func(a, b ShelfEntry) int {
		pa, pb := cmp.Or(place[a.Recipe], len(place)+1), cmp.Or(place[b.Recipe], len(place)+1)
		return cmp.Or(cmp.Compare(pa, pb), cmp.Compare(a.Title, b.Title))
	})
	return list
}

// entry describes one recipe by its package doc comment.
func (s *shelf) entry(recipe, source string) ShelfEntry {
	title, prose, _ := headOf(source)
	line := doc.Synopsis(prose)
	return ShelfEntry{Recipe: recipe, Title: cmp.Or(title, recipe), Line: line, Unread: !s.allowed(source)}
}

// headOf reads title, prose and imports of a recipe without checking the rest of it.
func headOf(source string) (title, prose string, imports []string) {
	f, err := parser.ParseFile(token.NewFileSet(), "", source, parser.ImportsOnly|parser.ParseComments)
	if f == nil || err != nil && f.Doc == nil {
		return "", "", nil
	}
	title, prose, _ = strings.Cut(f.Doc.Text(), "\n")
	for _, i := range f.Imports {
		if path, err := strconv.Unquote(i.Path.Value); err == nil {
			imports = append(imports, path)
		}
	}
	return strings.TrimSuffix(strings.TrimSpace(title), "."), strings.TrimSpace(prose), imports
}

// allowed reports whether this very text may run: it is shipped, or someone read it and allowed it.
func (s *shelf) allowed(source string) bool {
	for _, r := range s.shipped {
		if r.Source == source {
			return true
		}
	}
	ok, err := s.season.Allowed(context.Background(), sha(source))
	return ok && err == nil
}

// sha is the SHA-256 of text in hexadecimal.
func sha(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// freeName is recipe, or recipe with a number where that is taken by another text.
func (s *shelf) freeName(recipe, source string) string {
	for n := 1; ; n++ {
		name := recipe
		if n > 1 {
			name = fmt.Sprintf("%s_%d", recipe, n)
		}
		if text, _, err := s.read(name); err != nil || text == source {
			return name
		}
	}
}

// fromFile makes a recipe name of a file name.
func fromFile(file string) string {
	name := strings.Map(func(r rune) rune {
		switch {
		case r == '_', '0' <= r && r <= '9', 'a' <= r && r <= 'z':
			return r
		case 'A' <= r && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '_'
	}, recipeName(filepath.Base(file)))
	return strings.TrimSuffix(strings.TrimLeft(name, "_"), "_test")
}
