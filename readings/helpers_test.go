package readings_test

import (
	"fmt"
	"strings"

	"tracemap/readings"
)

// differ writes the fields in which two readings differ; NaN equals NaN. The
// format writes every float64 so that it can be read back exactly.
func differ(got, want readings.Reading) string {
	g, w := fmt.Sprintf("%+v", got), fmt.Sprintf("%+v", want)
	if g == w {
		return ""
	}
	return strings.Join([]string{"got  " + g, "want " + w}, "\n")
}
