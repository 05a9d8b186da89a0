package nmea

import (
	"bytes"
	"errors"
	"strings"

	gonmea "github.com/adrianmo/go-nmea"
)

// What is rare, or looked at only now and then, is read by
// github.com/adrianmo/go-nmea: the true heading (HDT, THS), the satellites in
// view (GSV, see sky.go), and the first sentence of every type that epochs are not
// made of, for a word on whether anybody could read it.

// Other tells of a type of sentence from which nothing is taken.
type Other struct {
	N   int    // with right checksum
	Why string // why it cannot be read, by its first sentence; empty where it could be, but is of no use here
}

// library is go-nmea, kept from doing harm. The zero value is ready; each
// goroutine has its own.
type library struct{ parser gonmea.SentenceParser }

var (
	errUnsafe   = errors.New("not looked into")
	errPanicked = errors.New("cannot be taken apart")
)

// addressIn gives the address of the sentence at the start of data.
func addressIn(data []byte) []byte {
	if classes[data[0]] != start {
		return data[:bareAddress]
	}
	return data[1 : 1+address(data)]
}

// read parses the sentence with right checksum at the start of data. Version
// 1.10.0 indexes past the fields of a short TXT and ALC: these it does not get.
func (l *library) read(data []byte) (s gonmea.Sentence, err error) {
	addr := addressIn(data)
	if bytes.HasSuffix(addr, []byte("TXT")) || bytes.HasSuffix(addr, []byte("ALC")) {
		return nil, errUnsafe
	}
	defer func() {
		if recover() != nil {
			s, err = nil, errPanicked
		}
	}()
	end := bytes.IndexByte(data, '*') + len("*hh")
	text := string(data[:min(end, len(data))])
	if classes[data[0]] != start {
		text = "$" + text
	}
	return l.parser.Parse(text)
}

// heading parses the HDT or THS at the start of data into r, and reports whether
// it tells a heading that a receiver measured with antennas: not one of a ship's
// compass (talkers HC, HE, HN), nor one that is estimated, typed in or simulated.
// The library takes an empty field for 0.
//
//	HDT: 1 heading, degrees from true north · 2 T
//	THS: 1 heading, degrees from true north · 2 mode, A autonomous, E estimated,
//	     M typed in, S simulated, V not valid
//
// It tells no time and belongs, as GSA and VTG do, to the epoch spoken of last: where
// a receiver writes it ahead of its position, to the epoch before.
func (l *library) heading(data []byte, r *record) bool {
	s, err := l.read(data)
	if err != nil || !byReceiver(s.TalkerID()) {
		return false
	}
	*r = record{kind: kindHeading, date: noDate, clock: noTime}
	var told string
	var degrees float64
	switch m := s.(type) {
	case gonmea.HDT:
		told, degrees, r.fix = m.Fields[0], m.Heading, m.True
	case gonmea.THS:
		told, degrees, r.fix = m.Fields[0], m.Heading, m.Status == gonmea.AutonomousTHS
	}
	r.course = float32(degrees)
	return r.fix && told != "" && degrees >= 0 && degrees <= 360
}

// byReceiver reports whether a talker is a satellite receiver, alone or with
// inertial sensors.
func byReceiver(talker string) bool {
	return strings.HasPrefix(talker, "G") || talker == "BD" || talker == "QZ" || talker == "IN"
}

// judge keeps why the sentence at the start of data cannot be read, where it is the
// first of its type in the log.
func (in *intake) judge(data []byte) {
	addr := addressIn(data)
	name := string(typeName(addr))
	// A GGA without a talker is no type of its own: whether it comes first must not
	// hang on where the log was cut.
	switch kindOf([]byte("GP" + name)) {
	case kindOther, kindSky, kindHeading:
	default:
		return
	}
	if _, known := in.whys[name]; known {
		return
	}
	_, err := in.sky.lib.read(data)
	in.whys[name] = why(err, string(addr))
}

// why puts an error of the library into our words.
func why(err error, addr string) string {
	var unknown *gonmea.NotSupportedError
	switch {
	case err == nil:
		return ""
	case errors.As(err, &unknown):
		return "not known"
	}
	text := strings.TrimPrefix(err.Error(), "nmea: ")
	const longest = 60 // bytes: what cannot be read may be a whole sentence
	text = strings.TrimPrefix(text, addr+" ")
	if len(text) > longest {
		text = text[:longest] + "…"
	}
	return text
}

// listOthers gives the types from which nothing is taken.
func (in *intake) listOthers() {
	for name, why := range in.whys {
		used := name == "HDT" || name == "THS" || name == "GSV"
		if !used || why != "" {
			in.log.Stats.Other[name] = Other{in.log.Stats.Sentences[name], why}
		}
	}
}
