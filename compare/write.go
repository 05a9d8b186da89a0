package compare

import (
	"bufio"
	"context"
	"encoding/csv"
	"io"
	"math"
	"path/filepath"
	"strconv"

	"tracemap/internal/formula"
	"tracemap/internal/newfile"
	"tracemap/internal/parallel"
	"tracemap/present"
)

// outputs are the files of a comparison, in the order in which they are written.
var outputs = []struct {
	name  string
	write func(w io.Writer, r *Result) error
}{
	{"comparison.html", writePage},
	{"comparison.json", writeJSON},
	{"deviations.csv", writeDeviations},
	{"deviations.geojson", writeGeoJSON},
	{"comparison.kml", writeKML},
}

// Ours reports whether a file in an output folder is one that Write makes.
func Ours(name string) bool {
	for _, o := range outputs {
		if o.name == name {
			return true
		}
	}
	return false
}

// Write writes all files of a result into an existing folder.
func Write(ctx context.Context, dir string, r *Result) (err error) {
	defer parallel.Recover("writing the comparison", &err)
	parallel.Trip("writing the comparison")
	for _, o := range outputs {
		if err := ctx.Err(); err != nil {
			return err
		}
		err := newfile.Write(filepath.Join(dir, o.name), func(w *bufio.Writer) error { return o.write(w, r) })
		if err != nil {
			return err
		}
	}
	return nil
}

// deviationColumns are a promise to scripts: none may change.
var deviationColumns = []string{"as_built_id", "line_id", "part", "station_m", "lon", "lat", "lateral_m", "lateral_95_m",
	"depth_located_m", "depth_as_built_m", "depth_diff_m", "depth_95_m", "verdict"}

// writeDeviations writes a row a station by RFC 4180; lon and lat are those of
// the station on the record, in the frame of the located lines.
func writeDeviations(w io.Writer, r *Result) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	if err := c.Write(deviationColumns); err != nil {
		return err
	}
	for i := range r.Pairs {
		p := &r.Pairs[i]
		for k := range p.Stations {
			s := &p.Stations[k]
			if err := c.Write([]string{
				formula.Guard(p.AsBuiltID), formula.Guard(s.LineID), s.partText(), number(s.Station, 3), number(s.At.Lon, 9), number(s.At.Lat, 9),
				number(s.Lateral, 3), number(s.Lateral95, 3), number(s.DepthLocated, 3), number(s.DepthAsBuilt, 3), number(s.DepthDiff, 3), number(s.Depth95, 3),
				s.Verdict().String(),
			}); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// partText is the number of the located part; blank for a point that is in none.
func (s *Station) partText() string {
	if s.Part == 0 {
		return ""
	}
	return strconv.Itoa(s.Part)
}

// number writes a figure with at most so many decimals; blank for none.
func number(v float64, decimals int) string {
	if !present.Known(v) {
		return ""
	}
	return strconv.FormatFloat(present.Round(v, decimals), 'f', -1, 64)
}

// figure is a number in JSON: rounded, null where there is none.
type figure float64

func (f figure) MarshalJSON() ([]byte, error) {
	v := float64(f)
	if !present.Known(v) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, present.Round(v, 4), 'f', -1, 64), nil
}

// perCent is a share in JSON.
type perCent float64

func (p perCent) MarshalJSON() ([]byte, error) {
	return strconv.AppendFloat(nil, math.Round(float64(p)*10)/10, 'f', -1, 64), nil
}
