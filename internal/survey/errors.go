package survey

import (
	"errors"
	"fmt"
)

// The refusals: the input cannot give a map. Each error that Run returns for
// such an input wraps ErrNoMap and one of the others, and its text is one line
// that says what was found and what to do.
var (
	ErrNoMap      = errors.New("the input cannot give a map")
	ErrNoSentence = fmt.Errorf("%w: no readable sentence", ErrNoMap)
	ErrNoFix      = fmt.Errorf("%w: no valid fix", ErrNoMap)
	ErrNoReadings = fmt.Errorf("%w: no readings", ErrNoMap)
	ErrNoOverlap  = fmt.Errorf("%w: no overlap in time", ErrNoMap)
)

// refusal is an error whose text stands alone and which still is one of the
// sentinels.
type refusal struct {
	kind error
	text string
}

func refuse(kind error, format string, args ...any) error {
	return &refusal{kind, fmt.Sprintf(format, args...)}
}

func (r *refusal) Error() string { return r.text }
func (r *refusal) Unwrap() error { return r.kind }
