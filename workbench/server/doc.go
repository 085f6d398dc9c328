// Package server shows a season in the browser: it serves the page over HTTP on the loopback interface, and talks
// with it over one websocket (protocol.go).
//
// The server holds the truth and the page holds none: a Desk (desk.go) is one open recipe with its source, settings
// and results, the same for every page that looks at it, so a page can be reloaded at any moment and two pages agree.
// Recipe files lie in the season's recipes folder, where any editor may change them (shelf.go). Tables that a result
// brings along are kept by content hash and read in windows (tables.go). Files dropped on the page are previewed
// before anything is stored (intake.go). Who may talk to the port at all is decided in door.go, before everything
// else.
//
// The season and the engines are behind the small interfaces of outside.go.
package server
