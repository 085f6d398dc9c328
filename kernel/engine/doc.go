// Package engine is the process in which recipes run and foreign files are read: expendable, and shut off from
// everything.
//
// Main is what the process does. It reads one frame that says what it is for, opens and maps everything that this
// takes, raises the fence (package fence), says that it is ready, and from then on answers requests on its standard
// input until that ends. Protocol.go lists the messages; Frame is their form on the wire.
//
// The other side is workbench/supervisor. Each side treats the other's silence, end and nonsense as things that
// happen: the engine ends when its input does.
package engine
