package main

import (
	"fmt"
	"os"

	"github.com/spf13/pflag"

	"tracemap/internal/survey"
	"tracemap/readings"
)

// dayFlags are the flags that say how a day is computed; convert and inspect
// share them.
type dayFlags struct {
	opt                        survey.Options
	clockOffset, zone, columns string
	sync                       []string
	units                      string
	antennaHeight              float64
}

func (f *dayFlags) register(fs *pflag.FlagSet) {
	f.opt = survey.DefaultOptions()
	fs.StringVar(&f.clockOffset, "clock-offset", "auto", dayUsage("clock-offset"))
	fs.StringArrayVar(&f.sync, "sync", nil, dayUsage("sync"))
	fs.StringVar(&f.zone, "zone", "", dayUsage("zone"))
	fs.Float64Var(&f.antennaHeight, "antenna-height", survey.AssumedAntennaHeight, dayUsage("antenna-height"))
	fs.Float64Var(&f.opt.Fuse.AntennaForward, "antenna-forward", 0, dayUsage("antenna-forward"))
	fs.Float64Var(&f.opt.Fuse.AntennaRight, "antenna-right", 0, dayUsage("antenna-right"))
	fs.StringVar(&f.opt.Frame, "frame", "", dayUsage("frame"))
	fs.Float64Var(&f.opt.Fuse.MaxGap, "max-gap", f.opt.Fuse.MaxGap, dayUsage("max-gap"))
	fs.StringVar(&f.columns, "columns", "", "`FILE` TOML map of a foreign readings log's columns")
	fs.StringVar(&f.units, "units", "metric", dayUsage("units"))
}

// dayUsage is a flag's usage text, from the table of what may be stated about a day.
func dayUsage(flag string) string {
	p := survey.ParamOf(flag)
	return "`" + p.Value + "` " + p.Help
}

// options reads the flags' texts and refuses what makes no sense. Nothing but
// the map of columns is read for it.
func (f *dayFlags) options(fs *pflag.FlagSet) (survey.Options, error) {
	wrong := func(err error) (survey.Options, error) {
		return survey.Options{}, &usageError{err.Error(), fmt.Sprintf("tracemap %s --help explains the flags", fs.Name())}
	}
	var err error
	if f.opt.Clock.Mode, f.opt.Clock.Offset, err = survey.ParseClockOffset(f.clockOffset); err != nil {
		return wrong(err)
	}
	f.opt.Clock.Marks = nil
	for _, text := range f.sync {
		m, err := survey.ParseMark(text)
		if err != nil {
			return wrong(err)
		}
		f.opt.Clock.Marks = append(f.opt.Clock.Marks, m)
	}
	if fs.Changed("zone") {
		if f.opt.Zone, err = survey.ParseZone(f.zone); err != nil {
			return wrong(err)
		}
	}
	if f.opt.Imperial, err = survey.ParseUnits(f.units); err != nil {
		return wrong(err)
	}
	if fs.Changed("antenna-height") {
		if err := f.opt.SetAntennaHeight(f.antennaHeight); err != nil {
			return wrong(err)
		}
	}
	if err := f.opt.Check(); err != nil {
		return wrong(err)
	}
	if f.columns != "" {
		if f.opt.Columns, err = loadColumns(f.columns); err != nil {
			return survey.Options{}, err
		}
	}
	return f.opt, nil
}

func loadColumns(path string) (*readings.Mapping, error) {
	r, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("map of columns: %w", err)
	}
	defer r.Close()
	return readings.LoadMapping(r, path)
}
