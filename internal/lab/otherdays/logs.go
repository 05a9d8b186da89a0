package otherdays

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"time"
)

// sentence writes one sentence with its checksum.
func sentence(out *bytes.Buffer, format string, args ...any) {
	body := fmt.Sprintf(format, args...)
	var sum byte
	for i := range len(body) {
		sum ^= body[i]
	}
	fmt.Fprintf(out, "$%s*%02X\r\n", body, sum)
}

// angle writes degrees as ddmm.mmmmmmm.
func angle(deg float64, width int) string {
	deg = math.Abs(deg)
	whole := math.Floor(deg)
	minutes := (deg - whole) * 60
	if minutes > 59.99999995 {
		whole, minutes = whole+1, 0
	}
	return fmt.Sprintf("%0*d%010.7f", width, int(whole), minutes)
}

func letter(x float64, plus, minus string) string {
	if x < 0 {
		return minus
	}
	return plus
}

// writeNMEA writes GGA, RMC and, where the receiver knows it, GST.
func writeNMEA(list []epoch, o plane, start time.Time, precise bool) []byte {
	mode := map[int]string{1: "A", 2: "D", 4: "R", 5: "F"}
	var out bytes.Buffer
	for _, e := range list {
		when := start.Add(time.Duration(math.Round(e.t*1e3)) * time.Millisecond)
		clock := when.Format("150405.00")
		lat, lon := o.degrees(e.at)
		ns, ew := letter(lat, "N", "S"), letter(lon, "E", "W")
		y, x := angle(lat, 2), angle(lon, 3)
		sentence(&out, "GNGGA,%s,%s,%s,%s,%s,%d,17,%.1f,%.3f,M,46.900,M,1.0,0000", clock, y, ns, x, ew, e.fix, e.hdop, e.up-46.9)
		course := fmt.Sprintf("%.1f", e.course)
		if e.speed < 0.06 {
			course = ""
		}
		sentence(&out, "GNRMC,%s,A,%s,%s,%s,%s,%.3f,%s,%s,,,%s,V", clock, y, ns, x, ew, e.speed*3600/1852, course, when.Format("020106"), mode[e.fix])
		if precise {
			sentence(&out, "GNGST,%s,%.3f,,,,%.3f,%.3f,%.3f", clock, 1.1*e.sigma.length(), e.sigma.n, e.sigma.e, e.sigmaUp)
		}
	}
	return out.Bytes()
}

// A clock is the locator's: its time minus UTC.
type clock struct {
	offset, perSecond float64
	cut               time.Duration // times are cut to this, or rounded
	rounds            bool
}

// shows returns what the log says of an instant.
func (c clock) shows(start time.Time, t float64) time.Time {
	x := start.Add(time.Duration((t + c.offset + c.perSecond*t) * float64(time.Second)))
	if c.rounds {
		return x.Round(c.cut)
	}
	return x.Truncate(c.cut)
}

// clocks draws the clock of each instrument.
func (k kind) clocks(d dice) []clock {
	var list []clock
	for range max(1, k.instruments) {
		var c clock
		switch k.clock {
		case "seconds":
			c.offset = d.sign() * d.between(1.5, 45)
		case "minutes":
			c.offset = d.sign() * d.between(60, 300)
		case "hours":
			c.offset = d.sign()*3600*float64(1+d.IntN(9)) + d.between(-40, 40)
		case "drifting":
			c.offset = d.sign() * d.between(2, 60)
			c.perSecond = d.sign() * d.between(20e-6, 300e-6)
		default:
			c.offset = d.normal(0.1)
		}
		c.cut = []time.Duration{time.Second, time.Second, 100 * time.Millisecond}[d.IntN(3)]
		c.rounds = d.chance(0.4)
		if k.cut > 0 {
			c.cut, c.rounds = k.cut, false
		}
		list = append(list, c)
	}
	return list
}

// writeReadings writes the locator's log and returns it with the truth of its
// rows and, for each instrument, the mean of what its log's times are ahead of
// UTC.
func (k kind) writeReadings(d dice, w *walker, list []*course, start time.Time) ([]byte, []Row, []float64) {
	var out bytes.Buffer
	names := []string{"A17", "B42"}
	instrument := ""
	if k.instruments > 1 {
		instrument = "instrument,"
	}
	response := "peak"
	if k.single {
		response = "single"
	}
	fmt.Fprintf(&out, "time,%sline,utility,method,response,frequency_hz,depth_m,current_ma,feature,measured_depth_m\n", instrument)
	clocks := k.clocks(d)
	ahead, count := make([]float64, len(clocks)), make([]float64, len(clocks))
	coil := k.coil * d.between(0.7, 1.3)         // relative error of each coil
	soil := newMemory(d, 0.02, d.between(5, 30)) // of the depth, alike along the line
	tilt := newMemory(d, 6*math.Pi/180, d.between(1, 10))
	var rows []Row
	var last *course
	lock := 0.0
	for _, v := range w.visits {
		if v.course != last {
			soil.after(d, 1e6)
			last = v.course
			lock = d.between(0.5, 1.6)
		} else {
			soil.after(d, 2)
		}
		z, c := v.course.deep(v.s), v.course
		ma := c.ma[min(len(c.ma)-1, int((v.s+beyond)/grain))]
		depth, current := z, ma
		at := c.place(v.s).plus(c.left(v.s), v.off-v.clutter)
		if v.locked { // another line: its own depth and share
			depth, current = max(0.35, z*lock+d.normal(0.05)), ma*d.between(0.15, 0.7)
		} else if v.feature == "" {
			depth, current = measured(coils(c.wires, at, c.left(v.s)))
		}
		// Both coils err: their difference errs by (d + s)/s as much.
		wrong := d.normal(coil*math.Sqrt2*(depth+coilSpacing)/coilSpacing) + soil.now
		depth *= 1 + wrong
		current *= (1 + wrong) * math.Cos(tilt.after(d, 1)) * (1 + d.normal(0.01))
		shown := clocks[v.by].shows(start, v.t)
		rows = append(rows, Row{
			Time: start.Add(time.Duration(v.t * float64(time.Second))), Stamp: shown, Line: slices.Index(list, c),
			Station: v.s, Feature: v.feature, Locked: v.locked, Instrument: v.by,
		})
		ahead[v.by] += shown.Sub(start).Seconds() - v.t
		count[v.by]++
		if instrument != "" {
			instrument = names[v.by] + ","
		}
		depthCell, seen := fmt.Sprintf("%.2f", depth), ""
		if v.feature != "" {
			depthCell, seen = "", fmt.Sprintf("%.2f", v.seen)
		}
		fmt.Fprintf(&out, "%s,%s%s,water,direct,%s,8192,%s,%.*f,%s,%s\n", shown.Format("2006-01-02T15:04:05.0Z"), instrument,
			c.name, response, depthCell, k.digits, max(0, current), v.feature, seen)
	}
	for i := range ahead {
		ahead[i] /= max(1, count[i])
	}
	return out.Bytes(), rows, ahead
}
