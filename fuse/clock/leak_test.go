package clock_test

import (
	"testing"

	"go.uber.org/goleak"
)

// No goroutine outlives the work that started it.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
