package coco

import "bufio"

// plainJSON makes JSON of what programs write that have numbers which JSON lacks: NaN and Infinity become null.
type plainJSON struct {
	in     *bufio.Reader
	quoted bool   // within a text
	held   []byte // of a null that did not fit
}

func (p *plainJSON) Read(to []byte) (n int, err error) {
	for n < len(to) {
		if len(p.held) > 0 {
			to[n], p.held = p.held[0], p.held[1:]
			n++
			continue
		}
		if n > 0 && p.in.Buffered() == 0 {
			return n, nil
		}
		c, err := p.in.ReadByte()
		if err != nil {
			return n, err
		}
		switch {
		case p.quoted && c == '\\':
			to[n] = c
			n++
			if c, err = p.in.ReadByte(); err != nil {
				return n, err
			}
			p.held = append(p.held, c)
			continue
		case c == '"':
			p.quoted = !p.quoted
		case !p.quoted && (c == 'N' && p.follows("aN") || c == 'I' && p.follows("nfinity") ||
			c == '-' && p.follows("Infinity")):
			p.held = append(p.held, "null"...)
			continue
		}
		to[n] = c
		n++
	}
	return n, nil
}

// follows skips a word if it comes next.
func (p *plainJSON) follows(word string) bool {
	next, _ := p.in.Peek(len(word))
	if string(next) != word {
		return false
	}
	p.in.Discard(len(word))
	return true
}
