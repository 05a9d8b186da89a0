package main

import (
	"fmt"
	"os"
	"strings"

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
}

func (f *dayFlags) register(fs *pflag.FlagSet) {
	f.opt = survey.DefaultOptions()
	fs.StringVar(&f.clockOffset, "clock-offset", "auto", "locator's clock minus UTC, as in 37.4s; auto estimates it, none trusts the clock `D`")
	fs.StringArrayVar(&f.sync, "sync", nil, "sync mark: the locator's clock read L when UTC was U, both RFC 3339; repeatable `L=U`")
	fs.StringVar(&f.zone, "zone", "", "IANA zone of reading times that carry no offset; UTC when not given `NAME`")
	fs.Float64Var(&f.opt.Fuse.AntennaHeight, "antenna-height", f.opt.Fuse.AntennaHeight, "antenna phase centre above ground, metres `M`")
	fs.Float64Var(&f.opt.Fuse.AntennaForward, "antenna-forward", 0, "antenna ahead of the locator in walking direction, metres `M`")
	fs.Float64Var(&f.opt.Fuse.AntennaRight, "antenna-right", 0, "antenna right of the locator, metres `M`")
	fs.StringVar(&f.opt.Frame, "frame", "", "reference frame of the receiver's corrections, as NAD83(2011); WGS84 when not given `NAME`")
	fs.Float64Var(&f.opt.Fuse.MaxGap, "max-gap", f.opt.Fuse.MaxGap, "readings further apart are not joined, metres `M`")
	fs.StringVar(&f.columns, "columns", "", "TOML map of a foreign readings log's columns `FILE`")
	fs.StringVar(&f.units, "units", "metric", "units shown to people, metric or imperial; files keep SI `NAME`")
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
	f.opt.Fuse.HeightAssumed = !fs.Changed("antenna-height")
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

// list splits a flag's comma-separated value; blanks around and between do not
// matter.
func list(text string) []string {
	var out []string
	for item := range strings.SplitSeq(text, ",") {
		if item = strings.TrimSpace(item); item != "" {
			out = append(out, item)
		}
	}
	return out
}
