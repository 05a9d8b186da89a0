package survey

import (
	"fmt"
	"time"

	"tracemap/readings"
)

// coarsestStep is the step from which a log's times are too coarse for a map: in
// half a minute a technician is elsewhere.
const coarsestStep = 30 * time.Second

// checkTimeStep refuses a log whose times were cut to half minutes or more, and has
// the widths hold what finer steps leave open.
func (d *Day) checkTimeStep() error {
	step := readings.TimeStep(d.Readings.Readings)
	if step >= coarsestStep {
		return refuse(ErrNoOverlap, "the times of %s are cut to multiples of %s, as a spreadsheet does that does not show seconds: "+
			"where the technician stood within that time is not known; export the log again with seconds", names(d.inputs.of(Readings)), stepText(step))
	}
	d.opt.Fuse.TimeStep = step.Seconds()
	return nil
}

// timeStepWarnings say of times that were cut what that does to the widths.
func (d *Day) timeStepWarnings() []string {
	if d.opt.Fuse.TimeStep == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the times of the readings are cut to multiples of %.0f s: the widths hold half of that; export the log again with every second for narrower ones", d.opt.Fuse.TimeStep)}
}

func stepText(step time.Duration) string {
	if step == time.Minute {
		return "a minute"
	}
	return fmt.Sprintf("%.0f s", step.Seconds())
}
