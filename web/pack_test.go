package web_test

import (
	"bytes"
	"compress/gzip"
	"testing"
)

// packed is gzip of so many zeros.
func packed(t *testing.T, size int) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(make([]byte, size)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
