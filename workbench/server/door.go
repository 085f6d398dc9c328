package server

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
)

// door decides who may come in. In order: the Host must be one of this server's own names, exactly, which stops
// pages that rebind a name to the loopback address; a request must not come from another site; one that changes
// anything, or opens the websocket, must name this server as its Origin; and all but the page's own files need the
// cookie and the key.
//
// Both are handed out once, for the code in the start address. The cookie alone is not enough because browsers send
// it to every port of this machine; the key alone is not enough because scripts can read it. The page keeps the key
// where only pages of this very port can.
type door struct {
	port   string
	hosts  map[string]bool
	cookie string // name, with the port, so that two seasons can be open at once
	token  string
	key    string

	mu    sync.Mutex
	codes map[string]bool // unused codes
}

const keyHeader = "X-Tossline-Key"

func newDoor(port int) *door {
	d := &door{
		port:   fmt.Sprint(port),
		hosts:  map[string]bool{},
		cookie: fmt.Sprintf("tossline-%d", port),
		token:  secret(),
		key:    secret(),
		codes:  map[string]bool{},
	}
	for _, name := range []string{"127.0.0.1", "localhost", "::1"} {
		d.hosts[net.JoinHostPort(name, d.port)] = true
	}
	return d
}

// secret is 256 random bits as text.
func secret() string {
	var b [32]byte
	rand.Read(b[:]) // never fails: crypto/rand ends the program where there is no randomness
	return hex.EncodeToString(b[:])
}

// newCode makes a code that lets one page in.
func (d *door) newCode() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	code := secret()
	d.codes[code] = true
	return code
}

// useCode reports whether code is good, and makes it useless.
func (d *door) useCode(code string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	for c := range d.codes {
		if subtle.ConstantTimeCompare([]byte(c), []byte(code)) == 1 {
			delete(d.codes, c)
			return true
		}
	}
	return false
}

// guard lets through to next what may come in.
func (d *door) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'; sandbox")
		if !d.hosts[r.Host] {
			http.Error(w, "this server answers to 127.0.0.1:"+d.port+" only", http.StatusMisdirectedRequest)
			return
		}
		if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" && site != "none" {
			http.Error(w, "requests from other sites are refused", http.StatusForbidden)
			return
		}
		if !safe(r) && !d.ownOrigin(r) {
			http.Error(w, "requests from other sites are refused", http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// safe reports whether a request neither changes anything nor opens the websocket.
func safe(r *http.Request) bool {
	return (r.Method == http.MethodGet || r.Method == http.MethodHead) && r.Header.Get("Upgrade") == ""
}

// ownOrigin reports whether the request says that it comes from the page of this server.
func (d *door) ownOrigin(r *http.Request) bool {
	host, ok := strings.CutPrefix(r.Header.Get("Origin"), "http://")
	return ok && d.hosts[host] && host == r.Host
}

// inside lets through to next who has the cookie, and the key where keyed says so.
func (d *door) inside(keyed bool, next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		c, err := r.Cookie(d.cookie)
		if err != nil || !same(c.Value, d.token) || keyed && !same(r.Header.Get(keyHeader), d.key) {
			http.Error(w, "open Tossline with the address it printed when it started", http.StatusUnauthorized)
			return
		}
		next(w, r)
	}
}

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// enter exchanges a code for the cookie and the key: POST /enter with {"code": "..."}.
func (d *door) enter(w http.ResponseWriter, r *http.Request) {
	var body struct {
		Code string `json:"code"`
	}
	if r.Header.Get("Content-Type") != "application/json" ||
		json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<10)).Decode(&body) != nil || !d.useCode(body.Code) {
		http.Error(w, "this address was used before; start Tossline again for a new one", http.StatusForbidden)
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: d.cookie, Value: d.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	answer(w, map[string]string{"key": d.key})
}

// answer writes v as JSON.
func answer(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(v) // the connection may be gone: nobody to tell
}

// policy is the page's Content Security Policy: nothing but the page's own files, and styles with this nonce, which
// the editor needs.
func policy(nonce string) string {
	return "default-src 'none'; script-src 'self'; style-src 'self' 'nonce-" + nonce + "'; img-src 'self' data: blob:; " +
		"connect-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

// newNonce is 128 random bits as text.
func newNonce() string {
	var b [16]byte
	rand.Read(b[:])
	return base64.StdEncoding.EncodeToString(b[:])
}
