package web

import (
	"context"
	"crypto/tls"
	"net"
	"net/http"
	"sync"
	"time"
)

// guests bounds the connections that a server holds, so that nobody can use them
// up: of one address no more than each, and all together no more than most. When
// all are taken, a new connection takes the place of the one that has been open
// longest without showing a session: whoever is logged in keeps theirs.
type guests struct {
	net.Listener
	most, each int // each 0: no bound for an address, as behind a proxy
	mu         sync.Mutex
	open       map[*guest]bool
	from       map[string]int
	made       int
}

// A guest is a connection and what is known of it.
type guest struct {
	net.Conn
	list    *guests
	address string
	number  int  // grows with each connection
	known   bool // a request on it came from somebody who may see something
	once    sync.Once
}

func newGuests(l net.Listener, most, each int) *guests {
	return &guests{Listener: l, most: most, each: each, open: map[*guest]bool{}, from: map[string]int{}}
}

// Accept waits for the next connection that has room, and closes those that have
// none.
func (g *guests) Accept() (net.Conn, error) {
	for {
		c, err := g.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if in := g.admit(c); in != nil {
			return in, nil
		}
		c.Close()
	}
}

func (g *guests) admit(c net.Conn) *guest {
	in := &guest{Conn: c, list: g, address: household(c.RemoteAddr().String())}
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.each > 0 && g.from[in.address] >= g.each {
		return nil
	}
	if len(g.open) >= g.most {
		oldest := g.oldestUnknown()
		if oldest == nil {
			return nil
		}
		g.drop(oldest)
		go oldest.Conn.Close() // outside the lock: closing may wait
	}
	g.made++
	in.number = g.made
	g.open[in] = true
	g.from[in.address]++
	return in
}

func (g *guests) oldestUnknown() (oldest *guest) {
	for c := range g.open {
		if !c.known && (oldest == nil || c.number < oldest.number) {
			oldest = c
		}
	}
	return oldest
}

// drop forgets a connection; the caller holds the lock.
func (g *guests) drop(c *guest) {
	if !g.open[c] {
		return
	}
	delete(g.open, c)
	if g.from[c.address]--; g.from[c.address] == 0 {
		delete(g.from, c.address)
	}
}

// Close closes the connection and gives its place back.
func (c *guest) Close() error {
	c.once.Do(func() {
		c.list.mu.Lock()
		defer c.list.mu.Unlock()
		c.list.drop(c)
	})
	return c.Conn.Close()
}

// guestKey is the context key of the guest behind a request.
type guestKey struct{}

// withGuest keeps a connection's guest in the context of its requests.
func withGuest(ctx context.Context, c net.Conn) context.Context {
	if t, ok := c.(*tls.Conn); ok {
		c = t.NetConn()
	}
	if g, ok := c.(*guest); ok {
		return context.WithValue(ctx, guestKey{}, g)
	}
	return ctx
}

// welcome marks the connection of a request whose sender may see something.
func welcome(r *http.Request) {
	if g, ok := r.Context().Value(guestKey{}).(*guest); ok {
		g.list.mu.Lock()
		defer g.list.mu.Unlock()
		g.known = true
	}
}

// A patientWriter gives each piece of an answer the same time to be taken, so
// that a reader who stops reading does not hold the connection.
type patientWriter struct {
	http.ResponseWriter
	control *http.ResponseController
	pause   time.Duration
}

func (w *patientWriter) Write(p []byte) (int, error) {
	w.control.SetWriteDeadline(time.Now().Add(w.pause)) // not offered by test recorders, and no harm without
	return w.ResponseWriter.Write(p)
}

// Unwrap lets http.ResponseController find the connection.
func (w *patientWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }
