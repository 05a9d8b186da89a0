package tracks

import (
	"bytes"
	"errors"
	"slices"
	"time"
)

// A form is one way in which tracks are kept.
type form struct {
	name   string
	markup bool
	is     func(head []byte) bool
	read   func(data []byte, out *sink) error
}

// forms in the order in which they are tried. To add one: a row and a reader.
var forms = []form{
	{"GPX track", true, hasRoot("gpx"), readGPX},
	{"KML track", true, hasRoot("kml"), readKML},
	{"track in JSON", false, isJSON, readJSON},
	{"table of positions", false, isTable, readTable},
}

func formOf(data []byte) *form {
	for i := range forms {
		if forms[i].is(data) {
			return &forms[i]
		}
	}
	return nil
}

// Found says what a file seems to be.
type Found struct {
	Form string // in plain words
	// Sure says that it can only be a track. Where it is false the file has a time,
	// latitude and longitude in each row, and could be readings of which no more was
	// kept.
	Sure bool
	// Markup says that waypoints or placemarks beside the track are something else.
	Markup bool
	Days   []time.Time // the first of the days that it is of
}

// What a table must have to be surely a track that has no more than times and places:
// so many rows, and so large a share of its steps of one length, of at most so many
// seconds. Choices: who reads by hand does not keep step.
const (
	evenRows  = 10
	evenShare = 0.8
	evenStep  = 10 * time.Second
)

// lookedAt is how many places are looked at to tell what a file is.
const lookedAt = 2000

// Look tells whether a file is a track, from its beginning, or of markup and JSON as
// much as there is. reading reports whether a heading names something that a locator
// measures, or the line that it was measured on: a table with such a column is none.
func Look(head []byte, reading func(heading string) bool) (found Found, ok bool) {
	head = utf8(head)
	f := formOf(head)
	if f == nil {
		return found, false
	}
	found.Form = f.name
	var at []time.Time
	places, measures, strange, telling := 0, false, false, false
	enough := errors.New("enough")
	out := &sink{ // the end of head may cut a record: what comes before it counts
		add: func(r *record, _ int) error {
			places++
			if e, _, reason := epochOf(r); reason == "" {
				at = append(at, e.UTC())
				if day := e.UTC().Truncate(24 * time.Hour); !slices.Contains(found.Days, day) && len(found.Days) < 4 {
					found.Days = append(found.Days, day)
				}
				telling = telling || e.SigmaN == e.SigmaN || r[colMoving] != "" || r[colProvider] != ""
			}
			if places == lookedAt {
				return enough
			}
			return nil
		},
		foreign: func(heading string) {
			measures = measures || reading(heading)
			strange = true
		},
	}
	_ = f.read(head, out)
	const fewest = 2 // places with a time
	if len(at) < fewest || 2*len(at) < places || measures {
		return found, false
	}
	found.Markup = f.markup
	found.Sure = f.markup || telling || out.line || !strange && even(at)
	return found, true
}

// even reports times that a clock kept, and not a person.
func even(at []time.Time) bool {
	var steps []time.Duration
	for i := 1; i < len(at); i++ {
		steps = append(steps, at[i].Sub(at[i-1]))
	}
	if len(steps) < evenRows {
		return false
	}
	slices.Sort(steps)
	usual := steps[len(steps)/2]
	same := 0
	for _, s := range steps {
		if (s - usual).Abs() <= usual/5 {
			same++
		}
	}
	return usual > 0 && usual <= evenStep && float64(same) >= evenShare*float64(len(steps))
}

// hasRoot gives a test for markup whose first element is of that name.
func hasRoot(name string) func(head []byte) bool {
	return func(head []byte) bool {
		rest := trimmed(head)
		for len(rest) > 1 && rest[0] == '<' {
			switch {
			case bytes.HasPrefix(rest, []byte("<!--")):
				end := bytes.Index(rest, []byte("-->"))
				if end < 0 {
					return false
				}
				rest = bytes.TrimSpace(rest[end+3:])
			case rest[1] == '?' || rest[1] == '!':
				end := bytes.IndexByte(rest, '>')
				if end < 0 {
					return false
				}
				rest = bytes.TrimSpace(rest[end+1:])
			default:
				word := rest[1:]
				if end := bytes.IndexAny(word, " \t\r\n/>"); end >= 0 {
					word = word[:end]
				}
				if colon := bytes.LastIndexByte(word, ':'); colon >= 0 {
					word = word[colon+1:]
				}
				return string(word) == name
			}
		}
		return false
	}
}

func isJSON(head []byte) bool {
	text := trimmed(head)
	if len(text) < 2 || text[0] != '{' && text[0] != '[' {
		return false
	}
	rest := bytes.TrimSpace(text[1:])
	return len(rest) > 0 && (rest[0] == '"' || text[0] == '[' && (rest[0] == '{' || rest[0] == '['))
}

// isTable reports text with a header of a track.
func isTable(head []byte) bool {
	if bytes.IndexByte(head, 0) >= 0 {
		return false
	}
	n := 0
	for line := range bytes.Lines(trimmedMark(head)) {
		if n++; n > headerReach || len(line) > longestLine {
			return false
		}
		if cols, _ := header(bytes.TrimRight(line, "\r\n"), &sink{foreign: func(string) {}}); cols != nil {
			return true
		}
	}
	return false
}
