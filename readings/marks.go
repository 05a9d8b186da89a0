package readings

import (
	"bytes"
	"strings"
)

// MarkColumns are those of a file of marks, as a recording writes it: a readings log on
// UTC, of which other columns than the first three are left out.
var MarkColumns = []string{"time", "feature", "note", "locator_shows", "sync_flag", "receiver_time", "receiver_age_s", "machine_time"}

// IsMarks reports whether a file that starts with head holds a recording's marks. Their
// times are not of the locator's clock.
func IsMarks(head []byte) bool { return bytes.HasPrefix(head, []byte(strings.Join(MarkColumns, ","))) }
