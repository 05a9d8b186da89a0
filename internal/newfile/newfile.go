// Package newfile writes a file that is not there yet.
package newfile

import (
	"bufio"
	"os"
)

// Write makes the file of the name and fills it through a buffer. A file that is
// there already is not touched: that is an error, for two writers of one name would
// be a mistake. After an error what was written by then stays.
func Write(name string, fill func(*bufio.Writer) error) (err error) {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	w := bufio.NewWriterSize(f, 64<<10)
	if err := fill(w); err != nil {
		return err
	}
	return w.Flush()
}
