// Package python lets tests ask reference libraries through Debian's own Python:
// NumPy, SciPy, Shapely, GDAL, QGIS and others, which .ci/tools installs.
package python

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"testing"
)

// interpreter is the Python that Debian's packages belong to; one earlier on the
// path may know nothing of them.
const interpreter = "/usr/bin/python3"

// With gives the interpreter to a test that needs modules of a Debian package, as
// "scipy.interpolate" of "python3-scipy". Without them the test fails in CI and is
// skipped elsewhere.
func With(t testing.TB, modules, debian string) string {
	t.Helper()
	if err := exec.Command(interpreter, "-c", "import "+modules).Run(); err != nil {
		text := "this check needs " + interpreter + " with " + modules + ": apt-get install " + debian
		if os.Getenv("CI") != "" {
			t.Fatal(text)
		}
		t.Skip(text)
	}
	return interpreter
}

// Ask runs a script that needs NumPy and SciPy on in, as JSON on its standard input,
// and reads its answer, JSON as well, into out.
func Ask(t testing.TB, script string, in, out any) {
	t.Helper()
	b, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(With(t, "numpy, scipy.interpolate", "python3-numpy python3-scipy"), "-c", script)
	cmd.Stdin = bytes.NewReader(b)
	var said, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &complaint
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v\n%s", err, complaint.Bytes())
	}
	if err := json.Unmarshal(said.Bytes(), out); err != nil {
		t.Fatalf("%v in %q", err, said.Bytes())
	}
}
