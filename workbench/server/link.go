package server

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

// Limits of one page's websocket.
const (
	maxMessage  = 4 << 20 // bytes of one question
	maxWaiting  = 1024    // frames that a page may be behind before it is hung up; it comes back and asks anew
	maxBusy     = 8       // slow questions answered at once
	sendWithin  = 10 * time.Second
	pingEvery   = 20 * time.Second
	silentFor   = 60 * time.Second
	greetWithin = 10 * time.Second
)

// page is one connected page.
type page struct {
	conn *websocket.Conn
	out  chan outFrame
	gone context.CancelFunc

	// guarded by the hub
	recipe  string
	greeted bool
}

type outFrame struct {
	kind int
	data []byte
}

// send queues a text frame. It never blocks: a page that cannot keep up is hung up.
func (p *page) send(data []byte) { p.queue(outFrame{websocket.TextMessage, data}) }

func (p *page) queue(f outFrame) {
	select {
	case p.out <- f:
	default:
		p.gone()
	}
}

func (p *page) hangUp() { p.gone() }

func (p *page) reply(id uint32, body any) {
	frame, err := json.Marshal(struct {
		ID   uint32 `json:"id"`
		Type string `json:"type"`
		Body any    `json:"body"`
	}{id, "reply", body})
	if err != nil {
		p.fail(id, fmt.Errorf("the answer could not be written: %w", err))
		return
	}
	p.send(frame)
}

func (p *page) fail(id uint32, err error) {
	frame, _ := json.Marshal(struct {
		ID    uint32 `json:"id"`
		Type  string `json:"type"`
		Error string `json:"error"`
	}{id, "failed", err.Error()})
	p.send(frame)
}

// replyRows sends an Arrow stream behind the eight bytes that say what it answers and how many rows there are in all.
func (p *page) replyRows(id uint32, rows int, stream []byte) {
	data := make([]byte, 8, 8+len(stream))
	binary.LittleEndian.PutUint32(data, id)
	binary.LittleEndian.PutUint32(data[4:], uint32(rows))
	p.queue(outFrame{websocket.BinaryMessage, append(data, stream...)})
}

// link is the websocket: GET /link.
func (s *Server) link(w http.ResponseWriter, r *http.Request) {
	up := websocket.Upgrader{
		ReadBufferSize: 16 << 10, WriteBufferSize: 64 << 10,
		CheckOrigin: s.door.ownOrigin,
	}
	conn, err := up.Upgrade(w, r, nil)
	if err != nil {
		return // Upgrade has answered
	}
	ctx, gone := context.WithCancel(r.Context())
	p := &page{conn: conn, out: make(chan outFrame, maxWaiting), gone: gone}
	defer gone()
	if !s.hub.add(p) {
		conn.WriteControl(websocket.CloseMessage,
			websocket.FormatCloseMessage(websocket.CloseTryAgainLater, "too many pages are open"),
			time.Now().Add(sendWithin))
		conn.Close()
		return
	}
	defer s.hub.remove(p)
	var writer sync.WaitGroup
	writer.Go(func() { p.write(ctx) })
	s.read(ctx, p)
	gone()
	writer.Wait()
}

// write sends what is queued, and a ping now and then, until ctx ends; then it closes the connection.
func (p *page) write(ctx context.Context) {
	defer p.conn.Close()
	defer p.gone()
	ping := time.NewTicker(pingEvery)
	defer ping.Stop()
	for {
		var f outFrame
		select {
		case <-ctx.Done():
			return
		case <-ping.C:
			f.kind = websocket.PingMessage
		case f = <-p.out:
		}
		p.conn.SetWriteDeadline(time.Now().Add(sendWithin))
		if p.conn.WriteMessage(f.kind, f.data) != nil {
			return
		}
	}
}

// read answers the questions of a page until it goes. The first must be hello, with the key.
func (s *Server) read(ctx context.Context, p *page) {
	p.conn.SetReadLimit(maxMessage)
	p.conn.SetReadDeadline(time.Now().Add(greetWithin))
	p.conn.SetPongHandler(func(string) error { return p.conn.SetReadDeadline(time.Now().Add(silentFor)) })
	busy := make(chan struct{}, maxBusy)
	var working sync.WaitGroup
	defer working.Wait()
	greeted := false
	for {
		kind, data, err := p.conn.ReadMessage()
		if err != nil {
			p.gone()
			return
		}
		p.conn.SetReadDeadline(time.Now().Add(silentFor))
		var q request
		if kind != websocket.TextMessage || json.Unmarshal(data, &q) != nil {
			p.gone()
			return
		}
		if !greeted {
			if q.Type != "hello" || !same(q.Page, s.door.key) {
				p.conn.WriteControl(websocket.CloseMessage,
					websocket.FormatCloseMessage(websocket.ClosePolicyViolation, "wrong key"), time.Now().Add(sendWithin))
				p.gone()
				return
			}
			greeted = true
		}
		handle, ok := questions[q.Type]
		switch {
		case !ok:
			p.fail(q.ID, fmt.Errorf("the page asked for %q, which this version does not know; reload it", q.Type))
		case handle.slow:
			busy <- struct{}{}
			working.Go(func() {
				defer func() { <-busy }()
				handle.answer(s, ctx, p, q)
			})
		default:
			handle.answer(s, ctx, p, q)
		}
	}
}

// telling gives what tells one page how far something is, with fields that say what: ten times a second at most, and
// when it is done.
func (p *page) telling(kind string, fields map[string]any) func(done, total int) {
	var last time.Time
	return func(done, total int) {
		if done < total && time.Since(last) < 100*time.Millisecond {
			return
		}
		last = time.Now()
		told := maps.Clone(fields)
		told["done"], told["total"] = done, total
		p.push(kind, told)
	}
}

// push tells one page something unasked.
func (p *page) push(kind string, body any) {
	frame, err := json.Marshal(struct {
		Type string `json:"type"`
		Body any    `json:"body"`
	}{kind, body})
	if err == nil {
		p.send(frame)
	}
}
