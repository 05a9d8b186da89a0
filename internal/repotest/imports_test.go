package repotest

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const module = "tracemap/"

// order lists every package once, in the way of the data. Imports go up this
// list only: a package uses what stands above it.
var order = []string{
	"internal/parallel",
	"remarks",
	"grade",
	"internal/tiles",
	"internal/newfile",
	"internal/formula",
	"internal/python",
	"geodesy/plane",
	"internal/svg",
	"geodesy",
	"internal/geofile",
	"nmea",
	"tracks",
	"readings/table",
	"readings",
	"fuse/noise",
	"fuse/track",
	"fuse/clock",
	"fuse",
	"present",
	"compare",
	"result",
	"internal/lab/invented",
	"export",
	"export/report",
	"internal/lab/simulate",
	"internal/lab/otherdays",
	"internal/lab/speed",
	"internal/lab/score",
	"internal/outdir",
	"internal/record",
	"internal/survey",
	"internal/store",
	"internal/lab/fieldlogs",
	"internal/lab/accuracy",
	"internal/lab/sensitivity",
	"internal/lab/release",
	"internal/repotest",
	"web",
	"cmd/tracemap",
}

// A ban forbids what the order alone would allow. A name stands for the
// package and those below it.
type ban struct{ from, to, why string }

var bans = []ban{
	{"nmea", "readings", "only fuse/clock compares the two devices; each log can be read without the other"},
	{"readings", "nmea", "only fuse/clock compares the two devices; each log can be read without the other"},
	{"readings", "tracks", "only fuse/clock compares the two devices; each log can be read without the other"},
	{"tracks", "geodesy", "as nmea"},
	{"nmea", "geodesy", "a log is read as it stands; places on earth are the stages' business"},
	{"fuse/track", "readings", "the track is the receiver's alone: it must not bend towards the readings"},
	{"fuse", "export", "the estimate knows no file format"},
	{"fuse", "present", "the estimate has no words for people"},
	{"fuse", "result", "the estimate does not judge itself"},
	{"result", "export", "what a day came to is the same in every file"},
	{"result", "internal", "what a day came to is read, not computed again"},
	{"present", "internal", "words and numbers need no machinery"},
	{"compare", "fuse", "a comparison reads what convert wrote, like any stranger"},
	{"compare", "nmea", "a comparison reads what convert wrote, like any stranger"},
	{"compare", "result", "a comparison reads what convert wrote, like any stranger"},
	{"export", "internal", "writers read a finished map; they neither compute nor choose folders"},
	{"internal/lab/simulate", "remarks", "the truth must not share the estimator's words"},
	{"internal/lab/simulate", "nmea", "the truth must not share the reader's assumptions, or both are wrong alike"},
	{"internal/lab/simulate", "readings", "the truth must not share the reader's assumptions, or both are wrong alike"},
	{"internal/lab/simulate", "fuse", "the truth must not share the estimator's assumptions, or both are wrong alike"},
	{"internal/lab/otherdays", "remarks", "the second truth must not share the estimator's words"},
	{"internal/lab/otherdays", "nmea", "the second truth must not share the reader's assumptions"},
	{"internal/lab/otherdays", "readings", "the second truth must not share the reader's assumptions"},
	{"internal/lab/otherdays", "fuse", "the second truth must not share the estimator's assumptions"},
	{"internal/lab/otherdays", "geodesy", "the second truth has a plane of its own"},
	{"internal/lab/otherdays", "internal/lab/simulate", "two generators that share code share mistakes"},
	{"internal/survey", "internal/outdir", "survey computes; who calls it chooses where to write"},
	{"internal/outdir", "export", "whole or nothing holds for any folder"},
	{"web", "fuse", "the page computes nothing: internal/survey does"},
	{"internal/store", "internal/survey", "what is kept outlives the program that made it: the store knows no computing"},
	{"cmd/tracemap", "geodesy", "the command has no geometry"},
	{"cmd/tracemap", "fuse", "the command computes nothing: internal/survey does"},
}

// exempt lifts a ban for one import, with the reason.
var exempt = map[[2]string]string{
	{"export", "internal/parallel"}:       "containing a defect is craft without a trade meaning",
	{"export", "internal/newfile"}:        "a file of its own, through a buffer, is craft without a trade meaning",
	{"export", "internal/formula"}:        "what a spreadsheet would run is the same for every table that is written",
	{"export/report", "internal/newfile"}: "as for export",
	{"export/report", "internal/svg"}:     "drawing is craft without a trade meaning",
}

// outside lists the modules of others and the packages that may import them, so
// that leaving one touches one place.
var outside = map[string][]string{
	"github.com/adrianmo/go-nmea":          {"nmea"},
	"github.com/ncruces/go-sqlite3":        {"export", "internal/geofile", "internal/store", "internal/tiles", "readings/table"},
	"github.com/paulmach/orb":              {"export"},
	"github.com/pelletier/go-toml/v2":      {"readings"},
	"github.com/peterstace/simplefeatures": {"export", "internal/geofile"},
	"github.com/spf13/pflag":               {"cmd/tracemap"},
	"github.com/tidwall/rtree":             {"geodesy/plane"},
	"github.com/twpayne/go-kml/v3":         {"compare", "export"},
	"go.bug.st/serial":                     {"internal/record"},
	"github.com/xuri/excelize/v2":          {"readings/table"},
	"golang.org/x/net":                     {"readings/table"},
	"golang.org/x/text":                    {"readings", "readings/table"},
	"golang.org/x/crypto":                  {"internal/store"},
	"golang.org/x/sys":                     {"internal/outdir", "internal/record"},
	"golang.org/x/term":                    {"cmd/tracemap"},
}

// imports gives each package's imports, tests left out, names without the
// module for its own.
func imports(t *testing.T) map[string][]string {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports", module+"...")
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("go list: %v\n%s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	all := map[string][]string{}
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p struct {
			ImportPath string
			Imports    []string
		}
		err := dec.Decode(&p)
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		all[strings.TrimPrefix(p.ImportPath, module)] = p.Imports
	}
}

// Every package has a row in the table of DEVELOPERS.md, and every row a package.
func TestPackagesAreInTheDocument(t *testing.T) {
	named := map[string]bool{}
	for _, row := range regexp.MustCompile("(?m)^\\| (`[^|]*) \\|").FindAllStringSubmatch(string(content(t, "DEVELOPERS.md")), -1) {
		for _, name := range regexp.MustCompile("`([a-z/]+)`").FindAllStringSubmatch(row[1], -1) {
			named[name[1]] = true
		}
	}
	text := string(content(t, "DEVELOPERS.md"))
	for _, name := range order {
		if !strings.Contains(text, "`"+name+"`") {
			t.Errorf("DEVELOPERS.md does not say what %s gives", name)
		}
		delete(named, name)
	}
	for name := range named {
		t.Errorf("DEVELOPERS.md has a row for %s, which is no package", name)
	}
}

// under reports whether a package is name or lies below it.
func under(pkg, name string) bool { return pkg == name || strings.HasPrefix(pkg, name+"/") }

func TestImportsGoOneWay(t *testing.T) {
	all := imports(t)
	for _, name := range order {
		if _, ok := all[name]; !ok {
			t.Errorf("order names %s, which is gone: take it out", name)
		}
	}
	for pkg, list := range all {
		at := slices.Index(order, pkg)
		if at < 0 {
			t.Errorf("package %s has no place in the order: add it where the data passes it", pkg)
			continue
		}
		for _, path := range list {
			if to, ok := strings.CutPrefix(path, module); ok && slices.Index(order, to) > at {
				t.Errorf("%s imports %s, which stands below it: imports go one way", pkg, to)
			}
		}
	}
}

// The laboratory judges the product and hands it out; the product never links it.
func TestTheProductDoesNotLinkTheLaboratory(t *testing.T) {
	const lab = "internal/lab"
	for pkg, list := range imports(t) {
		for _, path := range list {
			if !under(pkg, lab) && under(strings.TrimPrefix(path, module), lab) {
				t.Errorf("%s imports %s", pkg, path)
			}
		}
	}
}

func TestBans(t *testing.T) {
	all := imports(t)
	exists := func(name string) bool {
		for pkg := range all {
			if under(pkg, name) {
				return true
			}
		}
		return false
	}
	for _, b := range bans {
		for _, name := range []string{b.from, b.to} {
			if !exists(name) {
				t.Errorf("a ban names %s, which is gone: change the ban", name)
			}
		}
		for pkg, list := range all {
			if !under(pkg, b.from) {
				continue
			}
			for _, path := range list {
				to, ok := strings.CutPrefix(path, module)
				if ok && under(to, b.to) && !under(to, b.from) && exempt[[2]string{pkg, to}] == "" {
					t.Errorf("%s imports %s: %s", pkg, to, b.why)
				}
			}
		}
	}
	for pair := range exempt {
		if !slices.Contains(all[pair[0]], module+pair[1]) {
			t.Errorf("%s no longer imports %s: its exemption is not needed", pair[0], pair[1])
		}
	}
}

func TestOutsideModules(t *testing.T) {
	all := imports(t)
	used := map[string]bool{}
	for pkg, list := range all {
		for _, path := range list {
			if first, _, _ := strings.Cut(path, "/"); !strings.Contains(first, ".") {
				continue // this module or the standard library
			}
			found := false
			for mod, users := range outside {
				if !under(path, mod) {
					continue
				}
				found = true
				used[mod+" "+pkg] = true
				if !slices.Contains(users, pkg) {
					t.Errorf("%s imports %s, which only %v may", pkg, path, users)
				}
			}
			if !found {
				t.Errorf("%s imports %s: a new module needs a row here and its reason in DEVELOPERS.md", pkg, path)
			}
		}
	}
	for mod, users := range outside {
		for _, pkg := range users {
			if !used[mod+" "+pkg] {
				t.Errorf("%s may import %s and does not: take the row out", pkg, mod)
			}
		}
	}
}
