package record

import (
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"sync"
	"time"

	"tracemap/internal/parallel"
)

const (
	// teeQueue is how many pieces wait for a program that reads slowly.
	teeQueue = 256
	// teeTime is how long it may take one.
	teeTime = 5 * time.Second
)

// Listen opens the address that other programs read the stream from: PORT,
// :PORT or HOST:PORT, of this machine only – whoever can connect sees where the
// receiver is.
func Listen(addr string) (net.Listener, error) {
	if !strings.Contains(addr, ":") {
		addr = ":" + addr
	}
	host, port, err := net.SplitHostPort(addr)
	if err != nil || port == "" {
		return nil, fmt.Errorf("%q is no port or host:port", addr)
	}
	if host == "" || strings.EqualFold(host, "localhost") {
		host = "127.0.0.1"
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsLoopback() {
		return nil, fmt.Errorf("%s is not this machine alone: the stream is served on 127.0.0.1 or ::1 only", host)
	}
	return net.Listen("tcp", net.JoinHostPort(host, port))
}

// tee serves whole lines to every program that connects, from when it does. One
// that does not keep up is let go: the log never waits for it.
type tee struct {
	ln   net.Listener
	news chan string // for the one who tells people; what does not fit is not told

	mu      sync.Mutex
	readers map[net.Conn]chan []byte
	closed  bool
	group   sync.WaitGroup
}

func newTee(ln net.Listener) *tee {
	t := &tee{ln: ln, news: make(chan string, 16), readers: map[net.Conn]chan []byte{}}
	t.beside("accepting a program", t.accept)
	return t
}

func (t *tee) accept() {
	for {
		conn, err := t.ln.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			time.Sleep(poll) // out of file descriptors, mostly
			continue
		}
		t.join(conn)
	}
}

func (t *tee) join(conn net.Conn) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.closed {
		conn.Close()
		return
	}
	lines := make(chan []byte, teeQueue)
	t.readers[conn] = lines
	t.tell("another program reads along: " + conn.RemoteAddr().String())
	t.beside("serving a program", func() { t.serve(conn, lines) })
	t.beside("hearing a program", func() {
		io.Copy(io.Discard, conn) // what it says does not matter, but when it goes
		t.leave(conn, "left")
	})
}

// beside runs f in a goroutine of its own. A defect in it is told; the log goes on.
func (t *tee) beside(part string, f func()) {
	t.group.Go(func() {
		if err := parallel.Catch(part, func() error { f(); return nil }); err != nil {
			t.tell(err.Error())
		}
	})
}

func (t *tee) serve(conn net.Conn, lines <-chan []byte) {
	for b := range lines {
		conn.SetWriteDeadline(time.Now().Add(teeTime))
		if _, err := conn.Write(b); err != nil {
			t.leave(conn, "left")
			break
		}
	}
	conn.Close()
}

// leave forgets a reader; its queue is served to the end.
func (t *tee) leave(conn net.Conn, why string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.forget(conn, why)
}

func (t *tee) forget(conn net.Conn, why string) {
	if lines, ok := t.readers[conn]; ok {
		delete(t.readers, conn)
		close(lines)
		if why != "" {
			t.tell(conn.RemoteAddr().String() + " " + why)
		}
	}
}

// send gives lines to all readers. It keeps them.
func (t *tee) send(lines []byte) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for conn, queue := range t.readers {
		select {
		case queue <- lines:
		default:
			t.forget(conn, "does not keep up and was let go")
			conn.Close()
		}
	}
}

func (t *tee) tell(text string) {
	select {
	case t.news <- text:
	default:
	}
}

// close lets all readers go, after what they still have to get.
func (t *tee) close() {
	t.ln.Close()
	t.mu.Lock()
	t.closed = true
	for conn := range t.readers {
		t.forget(conn, "")
	}
	t.mu.Unlock()
	t.group.Wait()
}
