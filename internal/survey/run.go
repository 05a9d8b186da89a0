package survey

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/internal/parallel"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

// A Day is a day's work: what was read, and what was computed from it. Stages
// that were not reached are nil.
type Day struct {
	Readings *readings.Log
	NMEA     *nmea.Log
	Track    *track.Track
	Clock    *clock.Result
	Located  *fuse.Result
	// Moved says how positions were brought from the corrections' frame into that
	// of the map.
	Moved Move

	geoidTold bool // the receiver told its geoid separation

	inputs  *Inputs
	opt     Options
	refusal error    // why the day gives no map, where Inspect found that out
	notes   []string // warnings of survey's own, in the order of the stages
}

// Run computes a day. An input that cannot give a map is refused with an error
// that wraps ErrNoMap.
func Run(ctx context.Context, in *Inputs, opt Options) (_ *Day, err error) {
	defer parallel.Recover("the day", &err)
	if err := opt.Check(); err != nil {
		return nil, err
	}
	d := &Day{inputs: in, opt: opt, notes: slices.Clone(in.Warnings)}
	if err := d.checkKinds(); err != nil {
		return nil, err
	}
	if err := d.dropTwins(ctx); err != nil {
		return nil, err
	}
	for _, stage := range []func(context.Context) error{d.readReadings, d.readNMEA, d.place} {
		if err := stage(ctx); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// checkKinds refuses inputs without readings; without a receiver's log the readings
// may have positions of their own.
func (d *Day) checkKinds() error {
	if len(d.inputs.receiver())+len(d.inputs.of(Readings)) == 0 {
		return refuse(ErrNoSentence, "no receiver's log: %s; give the NMEA log of the same day", d.inputs.found())
	}
	if len(d.inputs.of(Readings)) == 0 {
		return refuse(ErrNoReadings, "no readings log: %s; give the locator's readings as CSV with a header row", d.inputs.found())
	}
	return nil
}

// dropTwins takes logs out that are byte for byte the same as an earlier one.
// Readings counted twice would make a line look surer than it is.
func (d *Day) dropTwins(ctx context.Context) error {
	seen := map[string]string{} // hash → name
	sizes := map[int64]int{}
	for _, i := range d.inputs.list {
		sizes[i.Size]++
	}
	for _, i := range d.inputs.list {
		if i.Size == 0 || sizes[i.Size] < 2 || i.kind == Unknown {
			continue // alone with its size
		}
		sum, err := i.hash(ctx)
		if err != nil {
			return fmt.Errorf("reading %s: %w", i.Name, err)
		}
		sum += string(i.kind) // a file with a track and waypoints is two inputs
		if first, ok := seen[sum]; ok {
			i.twin = first
			d.note("%s holds the same bytes as %s: read once", i.Name, first)
			continue
		}
		seen[sum] = i.Name
	}
	return nil
}

// hash is the SHA-256 of the whole source.
func (i *input) hash(ctx context.Context) (string, error) {
	r, err := i.Source.Open()
	if err != nil {
		return "", err
	}
	defer r.Close()
	h := &hashReader{ctx: ctx, r: r, sum: sha256.New()}
	if _, err := io.Copy(io.Discard, h); err != nil {
		return "", err
	}
	return string(h.sum.Sum(nil)), nil
}

func (d *Day) note(format string, args ...any) {
	d.notes = append(d.notes, fmt.Sprintf(format, args...))
}

// progress gives the function that tells how many bytes of all inputs of a kind
// have been read.
func (d *Day) progress(stage string, k Kind) func(int64) {
	if d.opt.Progress == nil {
		return nil
	}
	var done, all int64
	for _, i := range d.inputs.of(k) {
		if i.Size == 0 {
			all = 0
			break
		}
		all += i.Size
	}
	return func(n int64) {
		done += n
		d.opt.Progress(stage, done, all)
	}
}

// readReadings reads the locator's log.
func (d *Day) readReadings(ctx context.Context) error {
	inputs := d.inputs.of(Readings)
	progress := d.progress("reading the readings", Readings)
	var sources []readings.Source
	for _, i := range inputs {
		sources = append(sources, readings.Source{Name: i.Name, R: i.open(ctx, progress)})
	}
	log, err := readings.Read(ctx, sources, readings.Options{Zone: d.opt.Zone, Columns: d.opt.Columns, ReceiverDays: d.inputs.receiverDays()})
	if err != nil {
		var fault *parallel.Fault
		if ctx.Err() != nil || errors.As(err, &fault) || slices.ContainsFunc(inputs, func(i *input) bool { return i.tap.failed() }) {
			return err
		}
		return refuse(ErrNoReadings, "%v", err) // its content is at fault
	}
	d.Readings = log
	d.tapWarnings(inputs)
	if len(log.Readings)+len(log.Aside) == 0 {
		return refuse(ErrNoReadings, "no readings: %s has a header and no rows; give the log with the day's readings", inputs[0].Name)
	}
	if len(log.Aside) > len(log.Readings) {
		return refuseUnread(log)
	}
	return d.edit()
}

// refuseUnread says why most rows of a readings log cannot be read: the commonest
// reason, with the first row that it holds for. Lines through the few that are left
// would show what the reader understood and not what was located.
func refuseUnread(log *readings.Log) error {
	type cause struct{ file, column, reason string }
	count := map[cause]int{}
	first := map[cause]readings.SetAside{}
	for _, a := range log.Aside {
		c := cause{a.File, a.Column, a.Reason}
		if count[c]++; count[c] == 1 {
			first[c] = a
		}
	}
	worst := log.Aside[0]
	for _, a := range log.Aside { // in the log's order, so that the first of equals wins
		if count[cause{a.File, a.Column, a.Reason}] > count[cause{worst.File, worst.Column, worst.Reason}] {
			worst = first[cause{a.File, a.Column, a.Reason}]
		}
	}
	n, all := len(log.Readings), len(log.Readings)+len(log.Aside)
	found := fmt.Sprintf("only %d of %d rows can be read", n, all)
	if n == 0 {
		found = fmt.Sprintf("none of %d rows can be read", all)
	}
	return refuse(ErrNoReadings, "no readings: %s; most often as in %s; correct the log, or say with --columns what its columns hold", found, DescribeAside(worst))
}

// DescribeAside says where a row stands and why it could not be read.
func DescribeAside(a readings.SetAside) string {
	where := fmt.Sprintf("%s line %d", a.File, a.Row)
	if a.Column != "" {
		where += fmt.Sprintf(", column %s", a.Column)
	}
	return fmt.Sprintf("%s: %q: %s", where, a.Found, a.Reason)
}

func (d *Day) tapWarnings(inputs []*input) {
	for _, i := range inputs {
		if w := i.tap.warning(); w != "" {
			d.note("%s", w)
		}
	}
}

// readNMEA reads the receiver's log and moves it into the map's frame.
func (d *Day) readNMEA(ctx context.Context) error {
	inputs := d.inputs.receiver()
	if d.onTracks() {
		return d.readTracks(ctx, inputs)
	}
	if len(inputs) == 0 {
		if err := d.takeOwn(); err != nil {
			return err
		}
		return d.move(ctx)
	}
	progress := d.progress("reading the receiver's log", NMEA)
	var sources []nmea.Source
	for _, i := range inputs {
		sources = append(sources, nmea.Source{Name: i.Name, R: i.open(ctx, progress)})
	}
	log, err := nmea.Read(ctx, sources, nmea.Options{Reference: d.reference()})
	if err != nil {
		return err
	}
	d.NMEA = log
	d.tapWarnings(inputs)
	if counted(log) == 0 {
		return refuse(ErrNoSentence, "no readable sentence in %s: %d lines; check that the receiver writes NMEA 0183 at the port's speed",
			names(inputs), log.Stats.Lines)
	}
	if log.Stats.Epochs == 0 {
		return refuse(ErrNoFix, "no valid fix in %s: %d sentences, every position empty or marked as invalid; log again once the receiver shows a fix",
			names(inputs), counted(log))
	}
	d.geoidTold = d.tellsGeoid()
	return d.move(ctx)
}

// counted is the number of sentences of any state.
func counted(log *nmea.Log) int {
	n := log.Stats.BadChecksum + log.Stats.NoChecksum
	for _, k := range log.Stats.Sentences {
		n += k
	}
	return n
}

func names(inputs []*input) string {
	if len(inputs) > 2 {
		return fmt.Sprintf("%s and %d more logs", inputs[0].Name, len(inputs)-1)
	}
	if len(inputs) == 2 {
		return inputs[0].Name + " and " + inputs[1].Name
	}
	return inputs[0].Name
}

// reference is a day on which the receiver's log was written, as far as the
// locator's clock knows: the middle one of the readings' times, so that a stray
// time does not matter. Zero when there is none.
func (d *Day) reference() time.Time {
	if d.Readings == nil {
		return time.Time{}
	}
	var times []time.Time
	for i := range d.Readings.Readings {
		if t := d.Readings.Readings[i].Time; !t.IsZero() {
			times = append(times, t)
		}
	}
	if len(times) == 0 {
		return time.Time{}
	}
	slices.SortFunc(times, time.Time.Compare)
	t := times[len(times)/2]
	switch marks := d.opt.Clock.Marks; {
	case d.opt.Clock.Mode == clock.Given:
		t = t.Add(-d.opt.Clock.Offset)
	case len(marks) > 0:
		t = t.Add(-marks[0].Locator.Sub(marks[0].UTC))
	}
	return t
}

// maxEstimated is the largest offset that an estimate may give: a clock in the
// wrong zone is off by up to 14 h, a day's readings beside another day's log by
// more. What is further off must be stated or marked.
const maxEstimated = 14 * time.Hour

// place smooths the track, ties the clocks together and locates the lines.
func (d *Day) place(ctx context.Context) error {
	if d.onOwnPositions() {
		d.ownTrack()
		return d.locate(ctx)
	}
	if err := d.checkTimeStep(); err != nil {
		return err
	}
	d.tell("smoothing the track")
	var err error
	if d.Track, err = track.Build(ctx, d.NMEA.Epochs); err != nil {
		if errors.Is(err, track.ErrNoFix) {
			return refuse(ErrNoFix, "no valid fix in %s: %d positions, none of them measured; log again with a receiver that shows a fix",
				names(d.inputs.receiver()), d.NMEA.Stats.Epochs)
		}
		return err
	}
	d.checkReach()
	d.tell("tying the clocks together")
	d.Clock, err = clock.Align(ctx, d.Track, d.Readings.Readings, d.opt.Clock)
	if errors.Is(err, clock.ErrNoOverlap) {
		return d.refuseUnplaced()
	}
	if err != nil {
		return err
	}
	if d.opt.Clock.Mode == clock.Auto && d.Clock.Method != "positions" && d.Clock.Method != "marks" && math.Abs(d.Clock.Offset) > maxEstimated.Seconds() {
		return d.refuseUnplaced() // the readings of another day fit somewhere, too
	}
	d.checkOwn()
	return d.locate(ctx)
}

// locate fits the lines.
func (d *Day) locate(ctx context.Context) error {
	opt := d.opt.Fuse
	if d.opt.Progress != nil {
		opt.Progress = func(done, all int) { d.opt.Progress("fitting lines", int64(done), int64(all)) }
	}
	var err error
	if d.Located, err = fuse.Locate(ctx, d.Track, d.Readings.Readings, d.Clock, opt); err != nil {
		return err
	}
	if d.placed() == 0 {
		return d.refuseUnplaced()
	}
	d.mark()
	return nil
}

// mark flags what survey alone knows: a frame or a date that was assumed.
func (d *Day) mark() {
	var all remarks.Set
	if d.opt.Frame == "" && d.hasRTK() {
		all |= remarks.FrameAssumed
	}
	if d.NMEA.DateAssumed {
		all |= remarks.DateAssumed
	}
	for i := range d.Located.Readings {
		if d.Located.Readings[i].OK {
			d.Located.Readings[i].Flags |= all
		}
	}
	for i := range d.Located.Lines {
		d.Located.Lines[i].Flags |= all
	}
}

func (d *Day) tell(stage string) {
	if d.opt.Progress != nil {
		d.opt.Progress(stage, 0, 0)
	}
}

// placed is the number of readings that got a place.
func (d *Day) placed() int {
	n := 0
	for i := range d.Located.Readings {
		if d.Located.Readings[i].OK {
			n++
		}
	}
	return n
}

// refuseUnplaced says why not one reading got a place.
func (d *Day) refuseUnplaced() error {
	first, last := d.ReadingSpan()
	if first.IsZero() {
		return refuse(ErrNoOverlap, "no overlap in time: not one of %d readings has a time; map the column that holds it with --columns", len(d.Readings.Readings))
	}
	todo := "give the receiver's log of that time"
	switch d.opt.Clock.Mode {
	case clock.Auto:
		todo += ", or a sync mark (--sync) if the locator's clock was far off"
	default:
		todo += ", or let the clock be estimated (--clock-offset auto)"
	}
	return refuse(ErrNoOverlap, "no overlap in time: readings from %s to %s on the locator's clock, positions from %s to %s; %s",
		stamp(first), stamp(last), stamp(d.NMEA.Stats.From), stamp(d.NMEA.Stats.To), todo)
}
