package server

import (
	"encoding/json"
	"sync"
)

// maxPages is how many pages may look at a season at once.
const maxPages = 8

// hub knows the pages that are connected and the desks they look at.
type hub struct {
	mu     sync.Mutex
	pages  map[*page]bool
	desks  map[string]*desk
	engine EngineState
}

func newHub() *hub {
	return &hub{pages: map[*page]bool{}, desks: map[string]*desk{}, engine: EngineState{State: "starting"}}
}

// add lets a page in, unless there are too many.
func (h *hub) add(p *page) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.pages) >= maxPages {
		return false
	}
	h.pages[p] = true
	return true
}

func (h *hub) remove(p *page) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.pages, p)
}

// tell sends a push to every page that looks at the recipe, or to all pages where recipe is "".
func (h *hub) tell(recipe, kind string, body any) {
	frame, err := json.Marshal(struct {
		Type   string `json:"type"`
		Recipe string `json:"recipe,omitempty"`
		Body   any    `json:"body"`
	}{kind, recipe, body})
	if err != nil {
		panic("server: a push that is not JSON: " + err.Error())
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	for p := range h.pages {
		if p.greeted && (recipe == "" || p.recipe == recipe) {
			p.send(frame)
		}
	}
}

// look notes which recipe a page shows.
func (h *hub) look(p *page, recipe string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	p.recipe = recipe
}

// greet lets a page hear pushes from now on.
func (h *hub) greet(p *page) {
	h.mu.Lock()
	defer h.mu.Unlock()
	p.greeted = true
}

// desk gives the open recipe of that name, made by open if it is not there yet.
func (h *hub) desk(recipe string, open func() (*desk, error)) (*desk, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if d := h.desks[recipe]; d != nil {
		return d, nil
	}
	d, err := open()
	if err != nil {
		return nil, err
	}
	h.desks[recipe] = d
	return d, nil
}

// lying is the open desk of that name, or nil.
func (h *hub) lying(recipe string) *desk {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.desks[recipe]
}

// allDesks lists the open recipes.
func (h *hub) allDesks() []*desk {
	h.mu.Lock()
	defer h.mu.Unlock()
	list := make([]*desk, 0, len(h.desks))
	for _, d := range h.desks {
		list = append(list, d)
	}
	return list
}

func (h *hub) setEngine(state EngineState) {
	h.mu.Lock()
	h.engine = state
	h.mu.Unlock()
	h.tell("", "engine", state)
}

func (h *hub) engineState() EngineState {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.engine
}

// closeAll hangs up on every page.
func (h *hub) closeAll() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for p := range h.pages {
		p.hangUp()
	}
}

// stopAll stops every run and waits for it.
func (h *hub) stopAll() {
	for _, d := range h.allDesks() {
		d.stop()
		d.wait()
	}
}
