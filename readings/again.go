package readings

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
)

// firstIn tells of each reading, by what it says, which source brought it first: a
// locator that exports all it holds every evening, a log given packed and plain, or rows
// pasted twice into one file bring readings again, and two of one would count as
// independent.
type firstIn map[[sha256.Size]byte]int

// again reports whether the reading came before, and in which source; it keeps a new one.
func (f firstIn) again(r *Reading, source int) (before int, known bool) {
	if r.Time.IsZero() {
		return 0, false // no two of these are known to be one
	}
	key := r.key()
	before, known = f[key]
	if !known {
		f[key] = source
	}
	return before, known
}

// key is the same for two readings that say the same, wherever they stand.
func (r *Reading) key() [sha256.Size]byte {
	b := make([]byte, 0, 256)
	b = binary.LittleEndian.AppendUint64(b, uint64(r.Time.UnixNano()))
	for _, text := range []string{r.Line, string(r.Utility), string(r.Method), string(r.Response), r.Feature, r.Fix, r.Note, r.Instrument} {
		b = binary.LittleEndian.AppendUint32(b, uint32(len(text)))
		b = append(b, text...)
	}
	for _, v := range []float64{r.Frequency, r.Depth, r.Cover, r.Easting, r.Northing, r.Current, r.Signal, r.Gain, r.Compass, r.NullOffset, r.BottomCoil, r.TopCoil,
		r.CoilSpacing, r.Diameter, r.MeasuredDepth, r.Lat, r.Lon, r.HDOP} {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return sha256.Sum256(b)
}
