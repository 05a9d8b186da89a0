package record

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"go.bug.st/serial"

	"tracemap/nmea"
)

// Bauds are the baud rates that are tried where none is given, in this order:
// the usual ones of receivers first, IEC 61162-1's 4800 and IEC 61162-2's 38400
// among them. A Bluetooth port takes any.
var bauds = []int{115200, 38400, 9600, 4800, 57600, 460800, 230400, 921600, 19200}

// tryTime is how long a baud rate is listened to: receivers speak every second.
const tryTime = 2200 * time.Millisecond

// A serialStream is an open port. What was heard while its baud rate was looked
// for comes first.
type serialStream struct {
	port  serial.Port
	heard []byte
	about string
}

// openSerial opens a port. Where baud is 0, it listens at one rate after the
// other until it hears a sentence; where it hears none at any, the port is left at
// the first.
func openSerial(ctx context.Context, name string, baud int) (stream, error) {
	first := baud
	if first == 0 {
		first = bauds[0]
	}
	port, err := serial.Open(name, &serial.Mode{BaudRate: first, DataBits: 8})
	if err != nil {
		return nil, portError(name, err)
	}
	s := &serialStream{port: port, about: fmt.Sprintf("%d baud", first)}
	if err := port.SetReadTimeout(poll); err != nil {
		port.Close()
		return nil, portError(name, err)
	}
	if baud == 0 {
		if err := s.findBaud(ctx, tryTime); err != nil {
			port.Close()
			return nil, portError(name, err)
		}
	}
	return s, nil
}

// findBaud leaves the port at the first rate at which a sentence is heard within
// a time.
func (s *serialStream) findBaud(ctx context.Context, each time.Duration) error {
	for i, baud := range bauds {
		if i > 0 {
			if err := s.port.SetMode(&serial.Mode{BaudRate: baud, DataBits: 8}); err != nil {
				continue // this port cannot do it
			}
		}
		heard, err := listen(ctx, s.port, each)
		if err != nil {
			return err
		}
		if nmea.Sniff(heard) {
			s.heard, s.about = heard, fmt.Sprintf("%d baud", baud)
			return nil
		}
	}
	s.about = fmt.Sprintf("no sentence at any baud rate, left at %d baud", bauds[0])
	return s.port.SetMode(&serial.Mode{BaudRate: bauds[0], DataBits: 8})
}

// listen gives what comes within a time, or until it holds a sentence.
func listen(ctx context.Context, port serial.Port, span time.Duration) ([]byte, error) {
	var heard []byte
	buf := make([]byte, 4096)
	for end := time.Now().Add(span); time.Now().Before(end) && ctx.Err() == nil; {
		n, err := port.Read(buf)
		heard = append(heard, buf[:n]...)
		if err != nil {
			return nil, err
		}
		if n > 0 && nmea.Sniff(heard) {
			break
		}
	}
	return heard, ctx.Err()
}

func (s *serialStream) Read(p []byte) (int, error) {
	if len(s.heard) > 0 {
		n := copy(p, s.heard)
		s.heard = s.heard[n:]
		return n, nil
	}
	return s.port.Read(p)
}

func (s *serialStream) Close() error { return s.port.Close() }

func (s *serialStream) About() string { return s.about }

// portError says in the words of people who plug cables why a port cannot be
// used.
func portError(name string, err error) error {
	var p *serial.PortError
	if !errors.As(err, &p) {
		if errors.Is(err, fs.ErrNotExist) {
			return noPort(name)
		}
		return err
	}
	switch p.Code() {
	case serial.PortNotFound:
		return noPort(name)
	case serial.PortBusy:
		return errors.New("the port is in use by another program")
	case serial.PermissionDenied:
		return errors.New("no permission to use the port; on Linux, ports belong to the group dialout or uucp")
	case serial.InvalidSerialPort:
		return errors.New("it is no serial port")
	case serial.PortClosed:
		return errors.New("the port has gone: unplugged, switched off or out of reach")
	}
	return err
}

// noPort names the ports that are there.
func noPort(name string) error {
	ports, err := serial.GetPortsList()
	if err != nil || len(ports) == 0 {
		return errors.New("there is no such port, and this machine has no other")
	}
	return fmt.Errorf("there is no such port; there are %s", strings.Join(ports, ", "))
}
