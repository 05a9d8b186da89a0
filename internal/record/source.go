package record

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"strings"
	"time"
)

// poll is how long a read may take: after that the reader looks whether it shall
// end.
const poll = 200 * time.Millisecond

// A stream is an open source. Read gives 0 and no error where nothing came
// within poll; it ends with an error, io.EOF included, where the source is lost.
// One goroutine reads and closes.
type stream interface {
	Read(p []byte) (int, error)
	Close() error
	// About says what was found out in opening it; blank for nothing.
	About() string
}

// A Source is where a receiver's bytes come from.
type Source struct {
	Name string
	// Ends says that the source ends for good when it ends, as standard input does.
	Ends bool

	open func(ctx context.Context) (stream, error)
}

// ErrSource is a source text that names nothing that can be opened.
var ErrSource = errors.New("no source")

// NewSource reads the name of a source: tcp://host:port, - for in, or a serial
// port, whose baud rate is found by trying where baud is 0.
func NewSource(text string, baud int, in io.Reader) (Source, error) {
	switch {
	case text == "-":
		return Source{Name: "standard input", Ends: true, open: func(context.Context) (stream, error) { return newPipe(in), nil }}, nil
	case strings.HasPrefix(strings.ToLower(text), "tcp:"):
		addr, err := tcpAddress(text)
		if err != nil {
			return Source{}, err
		}
		return Source{Name: "tcp://" + addr, open: func(ctx context.Context) (stream, error) { return openTCP(ctx, addr) }}, nil
	case strings.Contains(text, "://"):
		scheme, _, _ := strings.Cut(text, "://")
		return Source{}, fmt.Errorf("%w: %q begins with %s://, and only tcp:// is read", ErrSource, text, scheme)
	case text == "":
		return Source{}, fmt.Errorf("%w: the name is empty", ErrSource)
	}
	if info, err := os.Stat(text); err == nil && (info.Mode().IsRegular() || info.IsDir()) {
		return Source{}, fmt.Errorf("%w: %s is a file or a folder, not a port", ErrSource, text)
	}
	return Source{Name: text, open: func(ctx context.Context) (stream, error) { return openSerial(ctx, text, baud) }}, nil
}

// tcpAddress gives host:port of tcp://host:port.
func tcpAddress(text string) (string, error) {
	u, err := url.Parse(text)
	switch {
	case err != nil:
		return "", fmt.Errorf("%w: %q is no tcp://host:port", ErrSource, text)
	case u.Hostname() == "" || u.Port() == "":
		return "", fmt.Errorf("%w: %q lacks the host or the port: it must be tcp://host:port", ErrSource, text)
	case u.User != nil || u.RawQuery != "" || u.Fragment != "" || strings.Trim(u.Path, "/") != "":
		return "", fmt.Errorf("%w: %q has more than tcp://host:port", ErrSource, text)
	}
	return net.JoinHostPort(u.Hostname(), u.Port()), nil
}
