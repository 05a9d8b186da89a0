package web_test

import (
	"net/http"
	"os"
	"testing"

	"go.uber.org/goleak"
)

// No goroutine of the server outlives it. The connections that tests keep open
// for later are theirs.
func TestMain(m *testing.M) {
	status := m.Run()
	http.DefaultClient.CloseIdleConnections()
	if err := goleak.Find(); err != nil && status == 0 {
		os.Stderr.WriteString("goroutines left: " + err.Error() + "\n")
		status = 1
	}
	os.Exit(status)
}
