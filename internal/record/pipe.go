package record

import (
	"io"
	"time"

	"tracemap/internal/parallel"
)

// pipe is a reader that cannot be asked to stop waiting. Its own goroutine waits
// with it, and ends with the reader or, once closed, with the next bytes.
type pipe struct {
	pieces chan piece
	rest   []byte
	err    error
	closed chan struct{}
}

type piece struct {
	data []byte
	err  error
}

func newPipe(r io.Reader) *pipe {
	p := &pipe{pieces: make(chan piece), closed: make(chan struct{})}
	go func() {
		for {
			buf := make([]byte, 32<<10)
			var n int
			err := parallel.Catch("reading a pipe", func() (err error) { n, err = r.Read(buf); return err })
			select {
			case p.pieces <- piece{buf[:n], err}:
			case <-p.closed:
				return
			}
			if err != nil {
				return
			}
		}
	}()
	return p
}

func (p *pipe) Read(b []byte) (int, error) {
	if len(p.rest) == 0 && p.err == nil {
		wait := time.NewTimer(poll)
		defer wait.Stop()
		select {
		case got := <-p.pieces:
			p.rest, p.err = got.data, got.err
		case <-wait.C:
			return 0, nil
		}
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	if len(p.rest) > 0 {
		return n, nil
	}
	return n, p.err
}

func (p *pipe) Close() error {
	close(p.closed)
	return nil
}

func (p *pipe) About() string { return "" }
