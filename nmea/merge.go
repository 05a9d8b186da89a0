package nmea

import "math"

// merge joins the drafts of one time, taken in the given order, and keeps those
// with a measured position; the rest is counted.
func (in *intake) merge(order []int32) []Epoch {
	stats, list := &in.log.Stats, &in.group.drafts
	kept := make([]Epoch, 0, len(order))
	var fixes [256]int // by quality
	for i := 0; i < len(order); {
		d := *list.at(int(order[i]))
		for i++; i < len(order); i++ {
			other := list.at(int(order[i]))
			if other.Nanos != d.Nanos {
				break
			}
			if join(&d, other) {
				stats.Repeated++
			}
		}
		if d.seen&positions == 0 {
			continue // a date or an error estimate without a position
		}
		if !d.valid() {
			fixes[QualityNone]++
			continue
		}
		fixes[d.Quality]++
		if d.measured() {
			kept = append(kept, d.Epoch)
			in.useDraft(&d)
		}
	}
	for q, n := range fixes {
		if n > 0 {
			stats.Fix[Quality(q).String()] += n
		}
	}
	return kept
}

// useDraft keeps account of what a file's epochs rest on.
func (in *intake) useDraft(d *draft) {
	f := &in.log.Files[d.File]
	f.Epochs++
	f.digits = max(f.digits, d.digits)
}

// join adds draft b, which has the same time, to a. It reports whether b repeats
// a: it has a position from a kind that had given one already, or one from far
// away. What differs then is not mixed: the first counts, unless only the second
// had a right checksum.
func join(a, b *draft) (repeated bool) {
	repeated = a.fixed&b.fixed != 0
	if a.fixed != 0 && b.fixed != 0 {
		// Two kinds may write one position with fewer decimals, the same kind may not.
		limit := 30.0 // m
		if repeated {
			limit = resolution(min(a.digits, b.digits))
		}
		if metresApart(&a.Epoch, &b.Epoch) > limit {
			if b.rank >= checkedRank && a.rank < checkedRank {
				*a = *b
			}
			return true
		}
	}
	complete(a, b)
	return repeated
}

// complete takes the position of whichever of a and b is trusted more, and fills
// in from the other what that one does not tell.
func complete(a, b *draft) {
	first, second := *a, *b
	if b.rank > a.rank {
		first, second = second, first
	}
	first.seen |= second.seen
	first.fixed |= second.fixed
	if first.Quality == QualityUnknown && second.fixed != 0 {
		first.Quality = second.Quality
	}
	if math.IsNaN(first.Alt) {
		first.Alt, first.Sep = second.Alt, second.Sep
	}
	if !first.HasGST() {
		first.SigmaN, first.SigmaE, first.SigmaU, first.CovNE = second.SigmaN, second.SigmaE, second.SigmaU, second.CovNE
	}
	fillIn(&first.HDOP, second.HDOP)
	fillIn(&first.VDOP, second.VDOP)
	fillIn(&first.Age, second.Age)
	fillIn(&first.Speed, second.Speed)
	fillIn(&first.Course, second.Course)
	fillIn(&first.Heading, second.Heading)
	first.Sats = max(first.Sats, second.Sats)
	*a = first
}

// resolution is what the last of so many decimals of a minute of latitude is
// worth on the ground, m.
func resolution(decimals uint8) float64 { return 1852 * math.Pow10(-int(decimals)) }

// metresApart gives the distance of two positions on a sphere, flat between
// them: good to a hundredth of itself over the few kilometres that matter here.
func metresApart(a, b *Epoch) float64 {
	north, east := offset(a, b.Lat, b.Lon)
	return math.Hypot(north, east)
}

// offset gives how far a place lies north and east of an epoch, m.
func offset(from *Epoch, lat, lon float64) (north, east float64) {
	const degree = 111.2e3 // m, along a meridian
	return (lat - from.Lat) * degree,
		math.Remainder(lon-from.Lon, 360) * degree * math.Cos(from.Lat*math.Pi/180)
}
