package server

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"
)

// raw sends a request as it stands and gives the status.
func (s *standing) raw(lines ...string) int {
	s.t.Helper()
	conn, err := net.Dial("tcp", "127.0.0.1:"+s.door.port)
	if err != nil {
		s.t.Fatal(err)
	}
	defer conn.Close()
	conn.SetDeadline(time.Now().Add(patience))
	fmt.Fprint(conn, strings.Join(lines, "\r\n")+"\r\n\r\n")
	method, _, _ := strings.Cut(lines[0], " ")
	response, err := http.ReadResponse(bufio.NewReader(conn), &http.Request{Method: method})
	if err != nil {
		s.t.Fatal(err)
	}
	response.Body.Close()
	return response.StatusCode
}

// TestOnlyTheOwnPageComesIn tries who may talk to the port: pages of other sites and other ports, names that are bound
// to this address by someone else, and other programs of this machine.
func TestOnlyTheOwnPageComesIn(t *testing.T) {
	s := stand(t)
	_, code, _ := strings.Cut(s.StartURL(), "#code=")
	_, key, cookie := s.enter(code)
	port := s.door.port
	own := "127.0.0.1:" + port
	inside := []string{"Cookie: " + cookie.Name + "=" + cookie.Value, keyHeader + ": " + key}
	upgrade := []string{"Connection: Upgrade", "Upgrade: websocket", "Sec-WebSocket-Version: 13",
		"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==", inside[0]}
	upload := append([]string{"Content-Length: 1", "X-Tossline-Name: a.csv"}, inside...)

	for _, c := range []struct {
		name   string
		first  string
		host   string
		header []string
		want   int
	}{
		{"page", "GET /", own, nil, 200},
		{"page by name", "GET /", "localhost:" + port, nil, 200},
		{"page by IPv6", "GET /", "[::1]:" + port, nil, 200},
		{"page with a HEAD", "HEAD /", own, nil, 200},
		{"asset", "GET /assets/page-1.js", own, nil, 200},
		{"asset that is not there", "GET /assets/other.js", own, nil, 404},
		{"folder of assets", "GET /assets/", own, nil, 404},
		{"outside of assets", "GET /assets/../index.html", own, nil, 307},
		{"rebound name", "GET /", "evil.example:" + port, nil, 421},
		{"rebound name of a file", "GET /assets/page-1.js", "evil.example", nil, 421},
		{"longer name", "GET /", "127.0.0.1.evil.example:" + port, nil, 421},
		{"name with a dot", "GET /", "localhost.:" + port, nil, 421},
		{"other port", "GET /", "127.0.0.1:1", nil, 421},
		{"no port", "GET /", "127.0.0.1", nil, 421},
		{"any address", "GET /", "0.0.0.0:" + port, nil, 421},
		{"image of another site", "GET /assets/page-1.js", own, []string{"Sec-Fetch-Site: cross-site"}, 403},
		{"page of another port", "GET /", own, []string{"Sec-Fetch-Site: same-site"}, 403},
		{"link from the address line", "GET /", own, []string{"Sec-Fetch-Site: none"}, 200},

		{"table without cookie", "GET /table/x.csv", own, nil, 401},
		{"table without key", "GET /table/x.csv", own, inside[:1], 401},
		{"table with another key", "GET /table/x.csv", own, append([]string{keyHeader + ": " + strings.Repeat("0", 64)},
			inside[0]), 401},
		{"table that is not there", "GET /table/x.csv", own, inside, 404},
		{"document without key", "GET /document/shipped", own, inside[:1], 401},
		{"unknown address", "GET /season.db", own, inside, 404},

		{"upload", "POST /upload", own, append([]string{"Origin: http://" + own}, upload...), 200},
		{"upload without origin", "POST /upload", own, upload, 403},
		{"upload of another site", "POST /upload", own, append([]string{"Origin: http://evil.example"}, upload...), 403},
		{"upload of a page of another port", "POST /upload", own,
			append([]string{"Origin: http://127.0.0.1:1"}, upload...), 403},
		{"upload of nowhere", "POST /upload", own, append([]string{"Origin: null"}, upload...), 403},
		{"upload by another name of this host", "POST /upload", own,
			append([]string{"Origin: http://localhost:" + port}, upload...), 403},
		{"upload over https", "POST /upload", own, append([]string{"Origin: https://" + own}, upload...), 403},
		{"upload without cookie", "POST /upload", own, []string{"Origin: http://" + own, "Content-Length: 1"}, 401},
		{"other method", "DELETE /", own, []string{"Origin: http://" + own}, 405},

		{"websocket", "GET /link", own, append([]string{"Origin: http://" + own}, upgrade...), 101},
		{"websocket without origin", "GET /link", own, upgrade, 403},
		{"websocket of another site", "GET /link", own, append([]string{"Origin: http://evil.example"}, upgrade...), 403},
		{"websocket of a page of another port", "GET /link", own,
			append([]string{"Origin: http://127.0.0.1:1"}, upgrade...), 403},
		{"websocket of nowhere", "GET /link", own, append([]string{"Origin: null"}, upgrade...), 403},
		{"websocket by a rebound name", "GET /link", "evil.example:" + port,
			append([]string{"Origin: http://evil.example:" + port}, upgrade...), 421},
		{"websocket without cookie", "GET /link", own, append([]string{"Origin: http://" + own}, upgrade[:4]...), 401},

		{"entering from another site", "POST /enter", own, []string{"Origin: http://evil.example", "Content-Length: 0"}, 403},
		{"entering by a form", "POST /enter", own, []string{"Origin: http://" + own, "Content-Length: 0",
			"Content-Type: application/x-www-form-urlencoded"}, 403},
		{"header of 20 kB", "GET /", own, []string{"X-Long: " + strings.Repeat("x", 20<<10)}, 431},
	} {
		t.Run(c.name, func(t *testing.T) {
			s.t = t
			lines := append([]string{c.first + " HTTP/1.1", "Host: " + c.host}, c.header...)
			body := ""
			if strings.Contains(strings.Join(c.header, "\n"), "Content-Length: 1") {
				body = "x"
			}
			if body != "" {
				lines = append(lines, "", body)
			}
			if got := s.raw(lines...); got != c.want {
				t.Errorf("answered %d, want %d", got, c.want)
			}
		})
	}
}

func TestCodeWorksOnce(t *testing.T) {
	s := stand(t)
	_, code, _ := strings.Cut(s.StartURL(), "#code=")
	for _, wrong := range []string{"", code[:63], code + "0", strings.Repeat("0", 64)} {
		if response, _, cookie := s.enter(wrong); response.StatusCode != 403 || cookie != nil {
			t.Errorf("code %q: %d", wrong, response.StatusCode)
		}
	}
	response, key, cookie := s.enter(code)
	if response.StatusCode != 200 || key == "" || cookie == nil {
		t.Fatalf("the code does not let in: %d", response.StatusCode)
	}
	if !cookie.HttpOnly || cookie.SameSite != http.SameSiteStrictMode || !strings.HasSuffix(cookie.Name, s.door.port) {
		t.Errorf("cookie %v", cookie)
	}
	if response, _, cookie := s.enter(code); response.StatusCode != 403 || cookie != nil {
		t.Errorf("the second use of the code: %d", response.StatusCode)
	}
	if strings.Contains(s.address, "?") || !strings.Contains(s.address, "/#code=") {
		t.Errorf("the address %s sends the code to the server, where it stays in histories and logs", s.address)
	}
}

func TestPageIsShutIn(t *testing.T) {
	s := stand(t)
	nonces := map[string]bool{}
	for range 2 {
		response, err := http.Get(s.origin() + "/")
		if err != nil {
			t.Fatal(err)
		}
		response.Body.Close()
		policy := response.Header.Get("Content-Security-Policy")
		_, rest, _ := strings.Cut(policy, "'nonce-")
		nonce, _, _ := strings.Cut(rest, "'")
		nonces[nonce] = true
		for _, want := range []string{"default-src 'none'", "script-src 'self';", "frame-ancestors 'none'",
			"form-action 'none'"} {
			if !strings.Contains(policy, want) {
				t.Errorf("the policy %q lacks %q", policy, want)
			}
		}
		if strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") {
			t.Errorf("the policy %q lets too much in", policy)
		}
		for header, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
			"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
			"Access-Control-Allow-Origin": ""} {
			if got := response.Header.Get(header); got != want {
				t.Errorf("%s is %q, want %q", header, got, want)
			}
		}
	}
	if len(nonces) != 2 || nonces[""] {
		t.Errorf("nonces %v", nonces)
	}
}

// Nobody on the network reaches the server: it listens on the loopback address alone.
func TestListensOnLoopback(t *testing.T) {
	s := stand(t)
	if ip := s.listener.Addr().(*net.TCPAddr).IP; !ip.IsLoopback() {
		t.Errorf("listens on %v", ip)
	}
	port := s.listener.Addr().(*net.TCPAddr).Port
	other := &Server{}
	if _, err := other.Listen(port); err == nil || !strings.Contains(err.Error(), "is taken; leave --port out") {
		t.Errorf("a port that is taken: %v", err)
	}
	if _, err := other.Listen(99999); err == nil || !strings.Contains(err.Error(), "there is no port 99999") {
		t.Errorf("a port that can't be: %v", err)
	}
}

// TestLinkRefuses sends what no page sends; the server hangs up and goes on.
func TestLinkRefuses(t *testing.T) {
	s := stand(t)
	for name, send := range map[string]func(c *client) error{
		"no hello":         func(c *client) error { return c.conn.WriteJSON(map[string]any{"type": "open"}) },
		"hello of another": func(c *client) error { return c.conn.WriteJSON(map[string]any{"type": "hello", "page": "x"}) },
		"no JSON":          func(c *client) error { return c.conn.WriteMessage(websocket.TextMessage, []byte("{")) },
		"binary":           func(c *client) error { return c.conn.WriteMessage(websocket.BinaryMessage, []byte("{}")) },
		"5 MB": func(c *client) error {
			return c.conn.WriteMessage(websocket.TextMessage, []byte(strings.Repeat("x", 5<<20)))
		},
	} {
		t.Run(name, func(t *testing.T) {
			s.t = t
			_, code, _ := strings.Cut(s.StartURL(), "#code=")
			_, key, cookie := s.enter(code)
			c := &client{t: t, server: s, key: key, cookie: cookie, frames: make(chan frame, 10)}
			c.dial()
			send(c) // may fail where the server hung up within it
			select {
			case f, ok := <-c.frames:
				if ok {
					t.Errorf("answered %+v", f)
				}
			case <-time.After(patience):
				t.Error("the server did not hang up")
			}
		})
	}
	s.t = t
	s.page().reply("open", map[string]any{"recipe": "shipped"})
}

func TestTooManyPages(t *testing.T) {
	s := stand(t)
	for range maxPages {
		s.page()
	}
	_, code, _ := strings.Cut(s.StartURL(), "#code=")
	_, key, cookie := s.enter(code)
	c := &client{t: t, server: s, key: key, cookie: cookie, frames: make(chan frame, 10)}
	c.dial()
	select {
	case f, ok := <-c.frames:
		if ok {
			t.Errorf("answered %+v", f)
		}
	case <-time.After(patience):
		t.Error("the server did not hang up on one page too many")
	}
}
