package survey

import (
	"context"
	"errors"
	"slices"

	"tracemap/internal/parallel"
)

// Inspect reads and computes as much of a day as its inputs allow, for judging
// them. One kind of log alone is enough. The day is given even with an error
// that wraps ErrNoMap, as far as it came; it holds no lines to rely on.
func Inspect(ctx context.Context, in *Inputs, opt Options) (_ *Day, failure error) {
	defer parallel.Recover("the day", &failure)
	if err := opt.Check(); err != nil {
		return nil, err
	}
	d := &Day{inputs: in, opt: opt, notes: slices.Clone(in.Warnings)}
	if len(in.receiver())+len(in.of(Readings)) == 0 {
		return nil, d.checkKinds()
	}
	if err := d.dropTwins(ctx); err != nil {
		return nil, err
	}
	var refusal error
	for _, stage := range []struct {
		wanted func() bool
		run    func(context.Context) error
	}{
		{func() bool { return len(in.of(Readings)) > 0 }, d.readReadings},
		{func() bool { return len(in.receiver()) > 0 || d.hasOwnPositions() }, d.readNMEA},
		{func() bool { return len(in.of(Readings)) > 0 && d.NMEA != nil }, d.place},
	} {
		if !stage.wanted() || refusal != nil && d.unread() {
			continue
		}
		err := stage.run(ctx)
		if err != nil && !errors.Is(err, ErrNoMap) {
			return nil, err
		}
		if refusal == nil {
			refusal = err
		}
	}
	d.refusal = refusal
	return d, refusal
}

// unread reports whether a later stage would lack what it works on.
func (d *Day) unread() bool {
	return d.NMEA != nil && (d.NMEA.Stats.Epochs == 0 || d.Readings == nil || len(d.Readings.Readings) == 0)
}
