package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"tracemap/compare"
	"tracemap/internal/outdir"
	"tracemap/internal/survey"
)

const compareHelp = `Usage: tracemap compare [flags] LOCATED ASBUILT

Compares located lines with as-built records: where they agree, where they
differ beyond their uncertainty, what is missing on either side, and whether
everything is displaced alike. LOCATED is an output folder of convert, its
map.gpkg or its lines.geojson. ASBUILT is GeoJSON, KML, KMZ, GeoPackage,
Shapefile, DXF or CSV with well-known text; the kind is told from the content.
The output folder appears whole or not at all.
`

const compareExample = `  tracemap compare site-map record.gpkg -o site-comparison --as-built-accuracy 0.10
`

// compareFlags are the flags of compare as they are typed.
type compareFlags struct {
	opt                          compare.Options
	out, crs, depthTo, axes      string
	grid                         string
	units, failOn                string
	overwrite, json, depthTolSet bool
	depthTolerance               float64
}

func runCompare(ctx context.Context, c *console, args []string) error {
	f := compareFlags{opt: compare.DefaultOptions()}
	fs := newFlags("compare")
	fs.StringVarP(&f.out, "out", "o", "", "`DIR` output folder; LOCATED with -comparison when not given")
	fs.BoolVar(&f.overwrite, "overwrite", false, "replace the output folder if it exists")
	fs.Float64Var(&f.opt.Tolerance, "tolerance", f.opt.Tolerance, "`M` the largest difference, beyond the uncertainty, that still agrees, metres")
	fs.Float64Var(&f.depthTolerance, "depth-tolerance", 0, "`M` the same for depth; the tolerance when not given")
	fs.Float64Var(&f.opt.Search, "search", f.opt.Search, "`M` how far from a record to look for its partner, metres")
	fs.Float64Var(&f.opt.Every, "every", f.opt.Every, "`M` between stations along the as-built line, metres")
	fs.Float64Var(&f.opt.Accuracy, "as-built-accuracy", f.opt.Accuracy, "`M` 95 % lateral accuracy of the record where it states none, metres")
	fs.Float64Var(&f.opt.DepthAccuracy, "as-built-depth-accuracy", f.opt.DepthAccuracy, "`M` 95 % accuracy of its depths where it states none, metres")
	fs.StringVar(&f.crs, "as-built-crs", "", "`EPSG:N` coordinate system of the record, where the file names none or a wrong one")
	fs.StringVar(&f.grid, "grid", "", "`FILE` correction grid (NTv2, .gsb) of the datum of --as-built-crs, where that needs one, EPSG:27700 for one")
	fs.StringVar(&f.axes, "axes", "auto", "`ORDER` of the record's coordinates: xy (east first), yx, or auto, which says so when it swaps them")
	fs.StringVar(&f.opt.IDField, "id-field", "", "`NAME` column of the record with the lines' names")
	fs.StringVar(&f.opt.UtilityField, "utility-field", "", "`NAME` column with the utility; else words of columns and layers are looked for")
	fs.StringVar(&f.opt.DepthField, "depth-field", "", "`NAME` column with the depth, with =ft or another unit where the name has none; z for the third ordinate")
	fs.StringVar(&f.opt.DiameterField, "diameter-field", "", "`NAME` column with the outside diameter, likewise")
	fs.StringVar(&f.depthTo, "depth-to", "auto", "`POINT` that the record's depths go to: top, centre, invert; auto reads it from the record")
	fs.StringVar(&f.units, "units", "metric", "`NAME` units shown to people, metric or imperial; files keep SI")
	fs.StringVar(&f.failOn, "fail-on", "", "`WORD` end with status 1 when the verdict is this: differs, or inconclusive for both")
	fs.BoolVar(&f.json, "json", false, "print comparison.json")
	if err := parse(c, fs, args, compareHelp, compareExample); err != nil {
		return err
	}
	f.depthTolSet = fs.Changed("depth-tolerance")
	if fs.Changed("out") && f.out == "" {
		return &usageError{"the output folder has an empty name", "write -o DIR"}
	}
	if fs.NArg() != 2 {
		return &usageError{fmt.Sprintf("compare takes two files, got %d", fs.NArg()), "tracemap compare LOCATED ASBUILT: what convert wrote, then the owner's record"}
	}
	if err := f.options(); err != nil {
		return &usageError{err.Error(), "tracemap compare --help explains the flags"}
	}
	return f.run(ctx, c, fs.Arg(0), fs.Arg(1))
}

// options reads the flags' texts and refuses what makes no sense.
func (f *compareFlags) options() (err error) {
	o := &f.opt
	if f.depthTolSet {
		o.DepthTolerance = f.depthTolerance
	}
	grid, err := survey.ReadGrid(f.grid)
	if err != nil {
		return err
	}
	if grid != nil && f.crs == "" {
		return fmt.Errorf("--grid is for the system that --as-built-crs names")
	}
	if f.crs != "" {
		if err := o.SetCRS(f.crs, grid); err != nil {
			return err
		}
	}
	if o.DepthTo, err = compare.ParsePoint(f.depthTo); err != nil {
		return err
	}
	if o.Axes, err = compare.ParseAxes(f.axes); err != nil {
		return err
	}
	if o.Imperial, err = survey.ParseUnits(f.units); err != nil {
		return err
	}
	switch f.failOn {
	case "", "differs", "inconclusive":
	default:
		return fmt.Errorf("--fail-on %s: there are differs and inconclusive", f.failOn)
	}
	o.Tool = "tracemap " + survey.Version
	return o.Check()
}

func (f *compareFlags) run(ctx context.Context, c *console, located, asBuilt string) error {
	dir := target{path: f.out, opt: outdir.Options{Overwrite: f.overwrite, Inputs: []string{located, asBuilt}, Ours: compare.Ours}}
	if dir.path == "" {
		dir.path = strings.TrimSuffix(filepath.Clean(located), filepath.Ext(located)) + "-comparison"
	}
	if err := checkTarget(c, dir); err != nil {
		return err
	}
	c.progress("comparing", 0, 0)
	r, err := compare.Run(ctx, located, asBuilt, f.opt)
	if err != nil {
		return refused(err)
	}
	c.progress("writing", 0, 0)
	if err := write(ctx, c, dir, func(path string) error { return compare.Write(ctx, path, r) }); err != nil {
		return err
	}
	for _, w := range r.Warnings {
		c.warn(w)
	}
	if f.json {
		text, err := compare.EncodeJSON(r)
		if err != nil {
			return err
		}
		c.print(string(text))
	} else {
		c.print(r.Text(filepath.Join(dir.path, "comparison.html")))
	}
	if failed := f.failOn == "differs" && r.Verdict == compare.Differs || f.failOn == "inconclusive" && r.Verdict >= compare.Inconclusive; failed {
		return fmt.Errorf("the verdict is %q and --fail-on %s was asked for", r.Verdict, f.failOn)
	}
	return nil
}

// refused turns a refusal of the comparison into what main knows: wrong usage,
// or an input that gives nothing.
func refused(err error) error {
	var r *compare.Refusal
	switch {
	case !errors.As(err, &r):
		return err
	case r.Usage:
		return &usageError{r.Text, r.ToDo}
	}
	return &hinted{&reworded{r.Text, survey.ErrNoMap}, r.ToDo}
}
