package survey

import (
	"context"
	"errors"
	"slices"

	"tracemap/internal/parallel"
	"tracemap/readings"
	"tracemap/tracks"
)

// lookForTrack tells whether the input is a track, or could be one.
func (i *input) lookForTrack(head []byte) {
	if found, ok := tracks.Look(head, readings.Measures); ok {
		i.track = &found
	}
}

// chooseTracks settles which inputs are tracks. What has a time and a place in each row and
// no more is one where the day has a readings log and no other receiver's log. A file
// with a track and waypoints is both where nothing else gives readings.
func (in *Inputs) chooseTracks() {
	sure := func(i *input) bool { return i.track != nil && i.track.Sure }
	others := slices.ContainsFunc(in.list, func(i *input) bool { return i.kind == Readings && i.track == nil })
	receiver := slices.ContainsFunc(in.list, func(i *input) bool { return i.kind == NMEA || sure(i) })
	var both []*input
	for _, i := range in.list {
		if i.track == nil || !i.track.Sure && (receiver || !others) {
			continue
		}
		if i.kind == Readings && i.track.Markup {
			if !others && !i.Once {
				both = append(both, &input{Source: i.Source, kind: Readings})
			} else {
				in.Warnings = append(in.Warnings, i.Name+" holds a track and waypoints: the waypoints are not used")
			}
		}
		i.kind, i.what, i.days = Track, "", i.track.Days
	}
	in.list = append(in.list, both...)
	if len(in.of(NMEA)) == 0 {
		return
	}
	for _, i := range in.of(Track) {
		i.kind, i.what = Unknown, "a track, which says less than the receiver's NMEA log that is there"
	}
}

// receiver gives the inputs that say where the receiver was: its log, or else tracks.
func (in *Inputs) receiver() []*input {
	if logs := in.of(NMEA); len(logs) > 0 {
		return logs
	}
	return in.of(Track)
}

// readTracks reads the tracks that stand for the receiver's log.
func (d *Day) readTracks(ctx context.Context, inputs []*input) error {
	progress := d.progress("reading the track", Track)
	var sources []tracks.Source
	for _, i := range inputs {
		sources = append(sources, tracks.Source{Name: i.Name, R: i.open(ctx, progress)})
	}
	log, err := tracks.Read(ctx, sources)
	if err != nil {
		var fault *parallel.Fault
		if ctx.Err() != nil || errors.As(err, &fault) || slices.ContainsFunc(inputs, func(i *input) bool { return i.tap.failed() }) {
			return err
		}
		return refuse(ErrNoFix, "%v", err) // its content is at fault
	}
	d.NMEA = log
	d.tapWarnings(inputs)
	if log.Stats.Epochs == 0 {
		return refuse(ErrNoFix, "no valid fix in %s: not one of %d places has a time and a position; give the receiver's NMEA log", names(inputs), log.Stats.Lines)
	}
	d.geoidTold = d.tellsGeoid()
	return d.move(ctx)
}

// onTracks reports whether positions come from tracks.
func (d *Day) onTracks() bool { return len(d.inputs.of(NMEA)) == 0 && len(d.inputs.of(Track)) > 0 }
