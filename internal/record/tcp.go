package record

import (
	"context"
	"errors"
	"net"
	"os"
	"time"
)

// dialTime is how long a connection may take to come about.
const dialTime = 5 * time.Second

type tcpStream struct{ net.Conn }

func openTCP(ctx context.Context, addr string) (stream, error) {
	d := net.Dialer{Timeout: dialTime, KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: 10 * time.Second, Interval: 5 * time.Second, Count: 3}}
	conn, err := d.DialContext(ctx, "tcp", addr)
	if err != nil {
		return nil, err
	}
	return tcpStream{conn}, nil
}

func (s tcpStream) Read(p []byte) (int, error) {
	if err := s.SetReadDeadline(time.Now().Add(poll)); err != nil {
		return 0, err
	}
	n, err := s.Conn.Read(p)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = nil
	}
	return n, err
}

func (s tcpStream) About() string { return "" }
