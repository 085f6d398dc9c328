package server

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/gorilla/websocket"

	"tossline/datasets/demo"
	_ "tossline/datasets/formats"
	"tossline/datasets/season"
	"tossline/kernel/engine"
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// TestMain lets the test program be the process that reads foreign files.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == "engine" {
		engine.Main()
	}
	os.Exit(m.Run())
}

// patience is more than anything here should ever take.
const patience = 30 * time.Second

// shortTake is a take of the demo season's first player with its first serves.
var shortTake = sync.OnceValue(func() (short demo.Take) {
	enough := errors.New("one take will do")
	demo.Generate(context.Background(), demo.DefaultSeed, func(t demo.Take) error {
		short = t
		return enough
	})
	end := int((short.Serves[1].Truth.Events[motion.Contact] + 1.2) * short.Rate)
	short.Frames = short.Frames[:end*3*short.Layout.Len()]
	return short
})

// takeAsCSV is the short take as a file that somebody may drop on the page.
var takeAsCSV = sync.OnceValue(func() []byte {
	t := shortTake()
	var b bytes.Buffer
	b.WriteString("time_s")
	for _, n := range t.Layout.Names() {
		fmt.Fprintf(&b, ",%[1]s_x_m,%[1]s_y_m,%[1]s_z_m", n)
	}
	width := 3 * t.Layout.Len()
	for i := range t.Len() {
		fmt.Fprintf(&b, "\n%g", float64(i)/t.Rate)
		for _, v := range t.Frames[i*width : (i+1)*width] {
			if v != v {
				b.WriteString(",")
			} else {
				fmt.Fprintf(&b, ",%.4f", v)
			}
		}
	}
	return b.Bytes()
})

// standing is a server of a season with one take, and with an engine that does as its source says.
type standing struct {
	*Server
	t       *testing.T
	folder  *Folder
	engine  *scripted
	address string
	serves  []motion.ServeID
}

// stand starts a server over a new season.
func stand(t *testing.T) *standing {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "harbour-lane")
	w, err := season.Create(dir, "test")
	if err != nil {
		t.Fatal(err)
	}
	take := shortTake()
	added, err := w.AddRecording(context.Background(), season.Import{
		File: "take.csv", SourceSHA256: strings.Repeat("a1", 32), Format: "csv", RateHz: take.Rate, Layout: take.Layout,
		Frames: take.Frames, Hand: take.Player.Hand, Player: "Oriel Nash", Session: "2026-03-14",
		Serves: motion.Cut(take.Take).Serves,
	})
	if err := errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	s := standOn(t, dir)
	s.serves = added.Serves
	return s
}

// standOn starts a server over a season that is there.
func standOn(t *testing.T, dir string) *standing {
	t.Helper()
	folder, closeSeason, err := openFolder(dir, "tossline open")
	if err != nil {
		t.Fatal(err)
	}
	s := &standing{t: t, folder: folder, engine: &scripted{}}
	s.engine.serves = s.measured
	s.Server, err = New(Options{
		Season: folder, Engine: s.engine, Version: "test",
		Shipped: []Shipped{{"shipped.go", recipeText("Shipped", "says hello")}},
		Recipes: filepath.Join(dir, "recipes"), Aside: filepath.Join(t.TempDir(), "aside"),
		Page: fstest.MapFS{
			"index.html":       {Data: []byte("<html><style nonce=__NONCE__></style></html>")},
			"assets/page-1.js": {Data: []byte("1")},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	if s.address, err = s.Listen(0); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error)
	go func() { served <- s.Serve(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-served; err != nil {
			t.Error(err)
		}
		closeSeason()
	})
	return s
}

// measured has every serve of the season with its contact offset.
func (s *standing) measured() table.Table {
	source, err := s.folder.Source(context.Background())
	if err != nil {
		s.t.Fatal(err)
	}
	t, err := motion.NewSeason(context.Background(), source, nil).Measure(motion.ContactOffset)
	if err != nil {
		s.t.Fatal(err)
	}
	return t
}

// recipeText is a recipe for the scripted engine, which goes by its script line.
func recipeText(title, script string) string {
	return fmt.Sprintf("// %s\n//\n// What it shows.\npackage recipe\n\n// script: %s\n", title, script)
}

func (s *standing) origin() string { return "http://127.0.0.1:" + s.door.port }

// enter exchanges a code for the cookie and the key.
func (s *standing) enter(code string) (*http.Response, string, *http.Cookie) {
	s.t.Helper()
	body, _ := json.Marshal(map[string]string{"code": code})
	r, _ := http.NewRequest(http.MethodPost, s.origin()+"/enter", bytes.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Origin", s.origin())
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer response.Body.Close()
	var answer struct{ Key string }
	json.NewDecoder(response.Body).Decode(&answer)
	for _, c := range response.Cookies() {
		return response, answer.Key, c
	}
	return response, answer.Key, nil
}

// client is a page.
type client struct {
	t      *testing.T
	server *standing
	key    string
	cookie *http.Cookie
	conn   *websocket.Conn
	frames chan frame
	id     uint32
	pushed []frame
}

// frame is what the server sent.
type frame struct {
	ID     uint32
	Type   string
	Recipe string
	Body   json.RawMessage
	Error  string
	rows   uint32
	stream []byte
}

// page opens a page: code, cookie, key, websocket, hello.
func (s *standing) page() *client {
	s.t.Helper()
	_, code, _ := strings.Cut(s.StartURL(), "#code=")
	_, key, cookie := s.enter(code)
	c := &client{t: s.t, server: s, key: key, cookie: cookie, frames: make(chan frame, 1000)}
	c.dial()
	c.reply("hello", map[string]any{"page": key})
	return c
}

func (c *client) dial() {
	c.t.Helper()
	header := http.Header{"Origin": {c.server.origin()}, "Cookie": {c.cookie.Name + "=" + c.cookie.Value}}
	conn, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(c.server.origin(), "http")+"/link", header)
	if err != nil {
		c.t.Fatal(err)
	}
	c.conn = conn
	c.t.Cleanup(func() { conn.Close() })
	go func() {
		defer close(c.frames)
		for {
			kind, data, err := conn.ReadMessage()
			if err != nil {
				return
			}
			var f frame
			if kind == websocket.BinaryMessage {
				f = frame{Type: "rows", ID: binary.LittleEndian.Uint32(data), rows: binary.LittleEndian.Uint32(data[4:]),
					stream: data[8:]}
			} else if json.Unmarshal(data, &f) != nil {
				return
			}
			c.frames <- f
		}
	}()
}

// ask asks and waits for the answer; what is pushed meanwhile is kept.
func (c *client) ask(kind string, fields map[string]any) frame {
	c.t.Helper()
	c.id++
	q := map[string]any{"id": c.id, "type": kind}
	for k, v := range fields {
		q[k] = v
	}
	if err := c.conn.WriteJSON(q); err != nil {
		c.t.Fatal(err)
	}
	return c.until(kind, func(f frame) bool { return f.ID == c.id })
}

// reply is ask where the answer must be one.
func (c *client) reply(kind string, fields map[string]any) frame {
	c.t.Helper()
	f := c.ask(kind, fields)
	if f.Type == "failed" {
		c.t.Fatalf("%s: %s", kind, f.Error)
	}
	return f
}

// answerOf is reply into a value.
func answerOf[T any](c *client, kind string, fields map[string]any) (value T) {
	c.t.Helper()
	f := c.reply(kind, fields)
	if err := json.Unmarshal(f.Body, &value); err != nil {
		c.t.Fatalf("%s: %v: %s", kind, err, f.Body)
	}
	return value
}

// until waits for a frame, and keeps those before it.
func (c *client) until(what string, is func(frame) bool) frame {
	c.t.Helper()
	late := time.After(patience)
	for {
		select {
		case f, ok := <-c.frames:
			if !ok {
				c.t.Fatalf("%s: the server hung up", what)
			}
			if is(f) {
				return f
			}
			c.pushed = append(c.pushed, f)
		case <-late:
			c.t.Fatalf("%s: no answer within %v; pushed: %v", what, patience, c.kinds())
		}
	}
}

// push waits for a push of a kind, which may have come already.
func (c *client) push(kind string) frame {
	c.t.Helper()
	is := func(f frame) bool { return f.ID == 0 && f.Type == kind }
	if i := slices.IndexFunc(c.pushed, is); i >= 0 {
		f := c.pushed[i]
		c.pushed = slices.Delete(c.pushed, 0, i+1)
		return f
	}
	c.pushed = nil
	return c.until("push "+kind, is)
}

func (c *client) kinds() (kinds []string) {
	for _, f := range c.pushed {
		kinds = append(kinds, f.Type)
	}
	return kinds
}

// get asks over HTTP as the page does.
func (c *client) get(path string) (*http.Response, []byte) {
	c.t.Helper()
	r, _ := http.NewRequest(http.MethodGet, c.server.origin()+path, nil)
	return c.send(r)
}

func (c *client) send(r *http.Request) (*http.Response, []byte) {
	c.t.Helper()
	r.AddCookie(c.cookie)
	r.Header.Set(keyHeader, c.key)
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return response, body
}

// upload drops a file on the page.
func (c *client) upload(name string, content []byte) (*http.Response, string) {
	c.t.Helper()
	r, _ := http.NewRequest(http.MethodPost, c.server.origin()+"/upload", bytes.NewReader(content))
	r.Header.Set("Origin", c.server.origin())
	r.Header.Set("X-Tossline-Name", name)
	response, body := c.send(r)
	var answer struct{ Upload string }
	json.Unmarshal(body, &answer)
	return response, answer.Upload
}
