package survey

import (
	"fmt"
	"math"

	"tracemap/nmea"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/remarks"
)

// asideShown is how many rows that could not be read are named one by one.
const asideShown = 5

// asideWarnings names the first rows that could not be read and counts the rest.
func asideWarnings(aside []readings.SetAside) []string {
	var out []string
	for _, a := range aside[:min(len(aside), asideShown)] {
		out = append(out, DescribeAside(a)+"; row set aside")
	}
	if more := len(aside) - asideShown; more > 0 {
		out = append(out, fmt.Sprintf("%d more rows could not be read: see the flag %s in readings.csv", more, remarks.BadRow))
	}
	return out
}

// antennaWarnings tell of an antenna whose height nobody gave.
func (d *Day) antennaWarnings() []string {
	height, assumed := d.opt.Fuse.Antenna()
	if !assumed {
		return nil
	}
	return []string{fmt.Sprintf("antenna height not given, %.1f m assumed: ground heights are off by the difference (--antenna-height)", height)}
}

// gridWarning says that coordinates of a grid were read and not used.
func (d *Day) gridWarning() []string {
	n := 0
	for i := range d.Readings.Readings {
		if r := &d.Readings.Readings[i]; !math.IsNaN(r.Easting) && !math.IsNaN(r.Northing) {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s easting and northing, which are not used: in which grid they are is not known; give lat and lon", present.Count(n, "reading has", "readings have"))}
}

// unplacedWarnings tell of readings that have no place because of their time,
// which is mostly a log that was forgotten.
func (d *Day) unplacedWarnings() []string {
	var outside, outage, noFix int
	for i := range d.Located.Readings {
		p := &d.Located.Readings[i]
		switch {
		case p.OK:
		case p.Flags.Has(remarks.OutsideLog):
			outside++
		case p.Flags.Has(remarks.InOutage):
			outage++
		case p.Flags.Has(remarks.NoFix):
			noFix++
		}
	}
	var out []string
	if outside > 0 {
		out = append(out, fmt.Sprintf("%s from outside the receiver's log, %s to %s: give the log of that time too",
			present.Count(outside, "reading comes", "readings come"), stamp(d.NMEA.Stats.From), stamp(d.NMEA.Stats.To)))
	}
	if outage > 0 {
		out = append(out, fmt.Sprintf("%s in gaps of the receiver's log, not placed: see revisit.gpx", present.Count(outage, "reading lies", "readings lie")))
	}
	if noFix > 0 {
		out = append(out, fmt.Sprintf("%s taken without a usable position, not placed: see revisit.gpx", present.Count(noFix, "reading was", "readings were")))
	}
	return out
}

// hasRTK reports whether any position rests on carrier-phase corrections, whose
// frame then decides about decimetres.
func (d *Day) hasRTK() bool {
	fix := d.NMEA.Stats.Fix
	return fix[nmea.QualityRTKFixed.String()]+fix[nmea.QualityRTKFloat.String()] > 0
}
