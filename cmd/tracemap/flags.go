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
	fs.StringVar(&f.clockOffset, "clock-offset", "auto", "`D` locator's clock minus UTC, as in 37.4s; auto estimates it, none trusts the clock")
	fs.StringArrayVar(&f.sync, "sync", nil, "`L=U` sync mark: the locator's clock read L when UTC was U, both RFC 3339; repeatable")
	fs.StringVar(&f.zone, "zone", "", "`NAME` IANA zone of reading times that carry no offset; UTC when not given")
	fs.Float64Var(&f.antennaHeight, "antenna-height", survey.AssumedAntennaHeight, "`M` antenna phase centre above ground, metres")
	fs.Float64Var(&f.opt.Fuse.AntennaForward, "antenna-forward", 0, "`M` antenna ahead of the locator in walking direction, metres")
	fs.Float64Var(&f.opt.Fuse.AntennaRight, "antenna-right", 0, "`M` antenna right of the locator, metres")
	fs.StringVar(&f.opt.Frame, "frame", "", "`NAME` reference frame of the receiver's corrections, as NAD83(2011); WGS84 when not given")
	fs.Float64Var(&f.opt.Fuse.MaxGap, "max-gap", f.opt.Fuse.MaxGap, "`M` readings further apart are not joined, metres")
	fs.StringVar(&f.columns, "columns", "", "`FILE` TOML map of a foreign readings log's columns")
	fs.StringVar(&f.units, "units", "metric", "`NAME` units shown to people, metric or imperial; files keep SI")
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
	switch f.units {
	case "metric", "imperial":
		f.opt.Imperial = f.units == "imperial"
	default:
		return wrong(fmt.Errorf("no units %q: there are metric and imperial", f.units))
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
