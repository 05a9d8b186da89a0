package survey

import "time"

// ReadingSpan returns the first and last reading on the locator's clock; zero
// when no reading has a time.
func (d *Day) ReadingSpan() (first, last time.Time) {
	return d.span(func(_ int, t time.Time) time.Time { return t })
}

// span returns the first and the last of what at makes of the readings' times; a zero
// time counts for nothing.
func (d *Day) span(at func(reading int, t time.Time) time.Time) (first, last time.Time) {
	for i := range d.Readings.Readings {
		t := d.Readings.Readings[i].Time
		if !t.IsZero() {
			t = at(i, t)
		}
		if t.IsZero() {
			continue
		}
		if first.IsZero() || t.Before(first) {
			first = t
		}
		if t.After(last) {
			last = t
		}
	}
	return first, last
}

// stamp writes a time for people, UTC to the second.
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05") }
