package host

// Defers are the deferred calls of one call of a function.
type Defers struct {
	calls     []func()
	panicking bool
	value     any
}

// Run calls the body of a function and then what it deferred, last first, also when one of them panics.
func Run(body func(*Defers)) {
	d := &Defers{}
	d.call(func() { body(d) })
	for len(d.calls) > 0 {
		last := d.calls[len(d.calls)-1]
		d.calls = d.calls[:len(d.calls)-1]
		d.call(last)
		token = nil
	}
	if d.panicking {
		panic(d.value)
	}
}

func (d *Defers) call(f func()) {
	returned := false
	defer func() {
		if !returned {
			d.panicking, d.value = true, Reason(recover())
		}
	}()
	f()
	returned = true
}

// Push defers a call.
func (d *Defers) Push(call func()) { d.calls = append(d.calls, call) }

// token is held out to the function that is called next: that one may recover.
var token *Defers

// Pass holds out the token.
func (d *Defers) Pass() { token = d }

// Token takes the token if the caller was deferred itself. Steps run one at a time, so that there is just one.
func Token() *Defers {
	t := token
	token = nil
	return t
}

// Recover ends the panic and gives its value, or nil.
func (d *Defers) Recover() any {
	if d == nil || !d.panicking {
		return nil
	}
	v := d.value
	d.panicking, d.value = false, nil
	return v
}
