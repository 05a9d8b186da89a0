package geodesy

import (
	_ "embed" // the tables made from the EPSG dataset
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

//go:generate /usr/bin/python3 epsg/generate.py /usr/share/proj/proj.db

// The tables hold parts of the EPSG Geodetic Parameter Dataset v10.076, © IOGP
// Geomatics Committee. epsg/generate.py makes them and says what is in them.
//
//go:embed epsg/crs.csv
var crsTable string

//go:embed epsg/bases.csv
var baseTable string

// gridCRSTable and gridBaseTable are the same for datums that a grid leads to.
//
//go:embed epsg/gridcrs.csv
var gridCRSTable string

//go:embed epsg/gridbases.csv
var gridBaseTable string

//go:embed epsg/refused.csv
var refusedTable string

// geographic is a row of the table of geographic systems.
type geographic struct {
	code, code3D, datumCode, ellipsoidCode int
	name, datum                            string
	esri, esriDatum                        string // names in Esri's dialect, or empty
	frame                                  Frame
	accuracy                               float64
	refEpoch                               string // of a dynamic frame, else empty
	ellipsoid                              Ellipsoid
	area                                   Area
}

// ch1903 is what is added to geocentric coordinates on the datum CH1903+ to
// reach CHTRS95, the Swiss realization of ETRS89; the figures define the datum
// (EPSG:1509; swisstopo).
var ch1903 = XYZ{674.374, 15.056, 405.346}

const ch1903Datum = 6150

// toDatum takes a place in the frame to the datum, where that is another. The
// height stays the one above the frame's ellipsoid. It matters: 1000 m of it
// turn a place in Switzerland by 3 cm, so without height a place is taken on
// the ellipsoid and may be off by that.
func (b geographic) toDatum(g Geo) Geo {
	if b.datumCode != ch1903Datum {
		return g
	}
	out := moveDatum(g, b.frame.Ellipsoid(), b.ellipsoid, XYZ{-ch1903.X, -ch1903.Y, -ch1903.Z})
	out.H = g.H
	return out
}

func (b geographic) fromDatum(g Geo) Geo {
	if b.datumCode != ch1903Datum {
		return g
	}
	// What height above the datum's ellipsoid gives the known one above the
	// frame's? They differ by some 50 m, evenly: one correction is enough.
	guess := g
	out := moveDatum(guess, b.ellipsoid, b.frame.Ellipsoid(), ch1903)
	if !math.IsNaN(g.H) {
		guess.H += g.H - out.H
	} else {
		guess.H = -out.H
	}
	out = moveDatum(guess, b.ellipsoid, b.frame.Ellipsoid(), ch1903)
	out.H = g.H
	return out
}

// moveDatum moves a place by a geocentric translation from one ellipsoid to
// another. Without height it is taken on the ellipsoid.
func moveDatum(g Geo, from, to Ellipsoid, by XYZ) Geo {
	if math.IsNaN(g.H) {
		g.H = 0
	}
	p := from.ToXYZ(g)
	return to.ToGeo(XYZ{p.X + by.X, p.Y + by.Y, p.Z + by.Z})
}

// LookupCRS gives the coordinate system of an EPSG code. Built in are
//
//   - the geographic systems of the frames that Transform knows, two- and
//     three-dimensional, and of national realizations of ETRS89;
//   - UTM on WGS 84, ETRS89, NAD83(2011), NAD83(CSRS), GDA2020 and GDA94;
//   - State Plane and county grids on NAD83(2011) in metres, feet and US survey
//     feet; the grids of Hawaii and Guam on NAD83(PA11) and (MA11);
//   - national grids on ETRS89 and its realizations, on GDA2020, GDA94 and
//     NAD83(CSRS), and the Swiss grid;
//   - Transverse Mercator and Lambert grids on WGS 84, and EPSG:3857, which is for
//     reading only (see Distorts);
//   - geographic and map systems on national frames that stand alone (Frame.Alone).
//
// The error for another code says why it is not: a datum that needs correction
// grids (EPSG:27700, see LookupCRSOn) or has several realizations (NAD83 without
// a year), a code withdrawn or unknown.
func LookupCRS(code int) (*CRS, error) {
	bases, err := loadBases()
	if err != nil {
		return nil, err
	}
	if code == webMercatorCode {
		return webMercatorCRS(bases[0]), nil
	}
	return lookup(code, bases, crsTable)
}

// LookupCRSOn gives a system whose datum a grid leads to, EPSG:27700 for one. The
// grid has to be the one published for the datum, from it to the frame of the
// country's corrections: what it holds cannot be told from its numbers. A code
// that needs no grid is refused.
func LookupCRSOn(code int, grid *ShiftGrid) (*CRS, error) {
	bases, err := loadGridBases()
	if err != nil {
		return nil, err
	}
	c, err := lookup(code, bases, gridCRSTable)
	if err != nil {
		if c, err := LookupCRS(code); err == nil {
			return nil, fmt.Errorf("%v needs no correction grid: leave --grid out", c)
		}
		return nil, err
	}
	c.shift = grid
	return c, nil
}

// GeographicCRS gives the first two-dimensional geographic system on a frame, by
// which a map in it is named where no map grid was asked for.
func GeographicCRS(f Frame) (*CRS, error) {
	bases, err := loadBases()
	if err != nil {
		return nil, err
	}
	for _, b := range bases {
		if b.frame == f {
			return LookupCRS(b.code)
		}
	}
	return nil, fmt.Errorf("no geographic coordinate system on %v is built in", f)
}

// lookup finds a code among geographic systems and in the table of those that
// rest on them.
func lookup(code int, bases []geographic, table string) (*CRS, error) {
	for _, b := range bases {
		if code == b.code || code == b.code3D {
			return &CRS{code: code, name: b.name, base: b, threeD: code == b.code3D, esri: b.esri, area: b.area, accuracy: b.accuracy}, nil
		}
	}
	row, ok := findRow(table, code)
	if !ok {
		return nil, refusal(code)
	}
	c, err := projectedCRS(row, bases)
	if err != nil {
		return nil, fmt.Errorf("reading EPSG:%d from the built-in table: %w", code, err)
	}
	return c, nil
}

// findRow gives the row of a table that begins with a code.
func findRow(table string, code int) (string, bool) {
	i := strings.Index(table, "\n"+strconv.Itoa(code)+",")
	if i < 0 {
		return "", false
	}
	row, _, _ := strings.Cut(table[i+1:], "\n")
	return row, true
}

// projectedCRS reads a row of crs.csv: code, name, base, conversion, method,
// unit, axes, seven parameters, box, area, Esri's name.
func projectedCRS(row string, bases []geographic) (*CRS, error) {
	f, err := csv.NewReader(strings.NewReader(row)).Read()
	if err != nil {
		return nil, err
	}
	const columns = 20
	if len(f) != columns {
		return nil, fmt.Errorf("%d columns instead of %d", len(f), columns)
	}
	r := rowReader{f: f}
	c := &CRS{code: r.integer(0), name: f[1], esri: f[19], area: r.area(14)}
	base := r.integer(2)
	for _, b := range bases {
		if b.code == base {
			c.base, c.accuracy = b, b.accuracy
		}
	}
	g := &grid{conversion: f[3], method: f[4], northFirst: f[6] == "north/east"}
	switch f[5] {
	case "m":
		g.unit = metre
	case "ft":
		g.unit = foot
	case "ftUS":
		g.unit = usSurveyFoot
	default:
		return nil, fmt.Errorf("unknown unit %q", f[5])
	}
	for i := 7; i < 14 && f[i] != ""; i++ {
		g.params = append(g.params, r.number(i))
	}
	if r.err != nil {
		return nil, r.err
	}
	g.proj, err = newProjection(g.method, c.base.ellipsoid, g.params, g.unit.Metres)
	c.grid = g
	return c, err
}

// loadBases reads bases.csv: code, 3D code, name, frame, accuracy, datum code,
// datum, ensemble, epoch, ellipsoid code, ellipsoid, a, 1/f, box, area, Esri's
// name of the system and of the datum.
var loadBases = sync.OnceValues(func() ([]geographic, error) { return readBases(baseTable) })

var loadGridBases = sync.OnceValues(func() ([]geographic, error) { return readBases(gridBaseTable) })

func readBases(table string) ([]geographic, error) {
	csvr := csv.NewReader(strings.NewReader(table))
	csvr.Comment = '#'
	rows, err := csvr.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("reading the built-in table of geographic systems: %w", err)
	}
	var bases []geographic
	for _, f := range rows[1:] {
		r := rowReader{f: f}
		b := geographic{code: r.integer(0), name: f[2], accuracy: r.number(4), datumCode: r.integer(5), datum: f[6], refEpoch: f[8],
			ellipsoidCode: r.integer(9), ellipsoid: NewEllipsoid(f[10], r.number(11), r.number(12)),
			area: r.area(13), esri: f[18], esriDatum: f[19]}
		if f[1] != "" {
			b.code3D = r.integer(1)
		}
		if b.frame, err = ParseFrame(f[3]); err == nil {
			err = r.err
		}
		if err != nil {
			return nil, fmt.Errorf("reading the built-in table of geographic systems: %w", err)
		}
		bases = append(bases, b)
	}
	return bases, nil
}

// rowReader reads the numbers of a row and keeps the first error.
type rowReader struct {
	f   []string
	err error
}

func (r *rowReader) number(i int) float64 {
	v, err := strconv.ParseFloat(r.f[i], 64)
	if err != nil && r.err == nil {
		r.err = err
	}
	return v
}

func (r *rowReader) integer(i int) int { return int(r.number(i)) }

// area reads a box and its name from five columns.
func (r *rowReader) area(i int) Area {
	return Area{West: r.number(i), South: r.number(i + 1), East: r.number(i + 2), North: r.number(i + 3), Name: r.f[i+4]}
}

// refusal says why a code is not built in. The table has a row a datum or other
// reason (datum, reason, codes as ranges), and last the codes of the same zone
// on NAD83(2011) for those on older realizations.
func refusal(code int) error {
	csvr := csv.NewReader(strings.NewReader(refusedTable))
	csvr.Comment = '#'
	rows, err := csvr.ReadAll()
	if err != nil {
		return fmt.Errorf("reading the built-in table of refused systems: %w", err)
	}
	hint := ""
	for _, pair := range strings.Fields(rows[len(rows)-1][2]) {
		if old, successor, _ := strings.Cut(pair, "="); old == strconv.Itoa(code) {
			hint = fmt.Sprintf("; if the data is on NAD83(2011), take EPSG:%s, the same zone", successor)
		}
	}
	for _, r := range rows[1 : len(rows)-1] {
		if !inRanges(r[2], code) {
			continue
		}
		datum, reason := r[0], r[1]
		switch {
		case datum == "":
			return fmt.Errorf("EPSG:%d cannot be used: it %s", code, reason)
		case reason == "":
			reason = "has no transformation built in that holds to centimetres"
		}
		return fmt.Errorf("EPSG:%d cannot be used: its datum %s %s%s", code, datum, reason, hint)
	}
	return fmt.Errorf("EPSG:%d is unknown (EPSG dataset v10.076)", code)
}

// inRanges reports whether a code is in a list such as "1-3 5 7-9".
func inRanges(list string, code int) bool {
	for _, part := range strings.Fields(list) {
		lo, hi, ranged := strings.Cut(part, "-")
		if !ranged {
			hi = lo
		}
		a, _ := strconv.Atoi(lo)
		b, _ := strconv.Atoi(hi)
		if a <= code && code <= b {
			return true
		}
	}
	return false
}
