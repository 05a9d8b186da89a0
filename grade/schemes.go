package grade

import "math"

// A Scheme is a published set of accuracy classes.
type Scheme struct {
	Name    string // as asked for: "pas128"
	Title   string // of the document
	Edition string
	// Ceiling says how high electromagnetic detection alone may reach, and why.
	Ceiling string
	// Level says what kind of bound the scheme's figures are, and how they are
	// held against 95 %.
	Level string
	// Below is the class of a place that meets no row; "" where the scheme has
	// none that detection alone may be given.
	Below string
	Rows  []Row // from the best class down
}

// A Row is a class of a scheme.
type Row struct {
	Class string
	Basis string // the evidence that the scheme asks for
	// Suggest is false for classes that rest on evidence which a locator does not
	// give: they are listed, and never suggested.
	Suggest bool
	// Horizontal and Flexible are the largest 95 % bound in plan, m, of a place on
	// rigid and on flexible plant (cables).
	Horizontal, Flexible float64
	// Vertical is the largest 95 % bound of the depth, m, and Share the same as a
	// share of the depth; both infinite where the class asks for no depth.
	Vertical, FlexibleVertical, Share float64
	// Crown: the class is about the top of the plant, so that a pipe's outside
	// diameter must be known.
	Crown   bool
	Figures string // the figures as published
	Source  string
	// FromMemory names what of the row nobody has read in a source.
	FromMemory string
}

var none = math.Inf(1)

// Sources that several rows share.
const (
	pasFirms = "survey firms' pages on PAS 128 survey types (selectsurveys.com)"
	asFirms  = "locating firms' pages on AS 5488 quality levels (utilitylocating.online, lblocationsandengineering.com.au)"
	arrete   = "arrêté du 15 février 2012 (DT-DICT), art. 1, in the French state's open data of consolidated law"
)

// schemes is the table of classes. To add a scheme, add rows whose figures
// somebody has read, and say where.
//
// The French figures are not 95 % bounds but uncertainties "not to be
// exceeded", 0.40 m (rigid plant) and 0.50 m (flexible) for class A and 1.5 m
// for B. Art. 7 ties them to the largest deviation T2 that the control of the
// arrêté du 16 septembre 2003 lets pass. Its standard model has T2 = 1.5·T1 and,
// in two dimensions, T1 = 2.42·[xx]·(1 + 1/(2C²)); with checks twice as good
// (C = 2), T2 = 0.40 m asks for a class of mean deviation [xx] ≤ 0.098 m, which a
// circular normal error meets with σ ≤ 0.078 m an axis: 1.96 σ ≤ 0.15 m. For
// 0.50 m that is 0.19 m, for 1.5 m 0.57 m. This derivation is our own. The same
// bounds are asked of the depth; the one-dimensional model would allow 0.18 m and
// 0.22 m.
var schemes = []Scheme{
	{
		Name: "pas128", Title: "PAS 128, underground utility detection, verification and location", Edition: "2014; the edition of 2022 keeps the levels",
		Ceiling: "at most B2, B3 without a depth: electromagnetic detection is one technique, B1 asks for several and A for exposure",
		Level:   "the standard prints no level of confidence with its figures: they are taken as 95 %",
		Rows: []Row{
			{Class: "A", Basis: "exposed, or seen in a chamber", Figures: "± 50 mm, depth ± 25 mm", Source: "none", FromMemory: "both figures"},
			{Class: "B1", Basis: "detected by several techniques, with depth", Figures: "± 150 mm or ± 15 % of the depth, depth ± 15 %", Source: pasFirms, FromMemory: "that the greater of the two counts"},
			{Class: "B2", Basis: "detected by one technique, with depth", Suggest: true, Horizontal: 0.25, Flexible: 0.25, Vertical: none, FlexibleVertical: none, Share: 0.40,
				Figures: "± 250 mm or ± 40 % of the depth, depth ± 40 %", Source: pasFirms, FromMemory: "that the greater of the two counts in plan; the wider allowance for deep lines is therefore not used"},
			{Class: "B3", Basis: "detected by one technique, no reliable depth", Suggest: true, Horizontal: 0.50, Flexible: 0.50, Vertical: none, FlexibleVertical: none, Share: none,
				Figures: "± 500 mm, depth undefined", Source: pasFirms},
			{Class: "B4", Basis: "believed present, not detected", Figures: "undefined", Source: pasFirms},
			{Class: "C", Basis: "records matched to street furniture", Figures: "undefined", Source: "survey firms' pages"},
			{Class: "D", Basis: "records", Figures: "undefined", Source: "survey firms' pages"},
		},
	},
	{
		Name: "as5488", Title: "AS 5488.1, classification of subsurface utility information", Edition: "2019 and 2022",
		Ceiling: "at most B: A asks for exposure",
		Level:   "no level of confidence was found with the figures: they are taken as 95 %",
		Rows: []Row{
			{Class: "A", Basis: "exposed, absolute position in three dimensions", Figures: "± 50 mm, depth ± 50 mm", Source: asFirms, FromMemory: "that ± 50 mm holds in depth as in plan"},
			{Class: "B", Basis: "traced by electromagnetic or radar detection, relative position in three dimensions", Suggest: true, Horizontal: 0.30, Flexible: 0.30, Vertical: 0.50, FlexibleVertical: 0.50, Share: none,
				Figures: "± 300 mm, depth ± 500 mm", Source: asFirms},
			{Class: "C", Basis: "surface features with records", Figures: "relative to the feature", Source: "trade pages; schemes differ about the figure"},
			{Class: "D", Basis: "records, anecdote", Figures: "indicative", Source: "trade pages"},
		},
	},
	{
		Name: "fr2012", Title: "arrêté du 15 février 2012 (DT-DICT), classes A, B and C", Edition: "consolidated text as published in the state's open data",
		Ceiling: "A only as a suggestion: detection from the surface counts for A only by a certified provider or under the operator's responsibility, which no file can assert",
		Level:   "the class is an uncertainty not to be exceeded, not a 95 % figure: 1.96 σ must be much smaller (0.15 m for 0.40 m, 0.19 m for 0.50 m, 0.57 m for 1.5 m; our derivation from the control of the arrêté du 16 septembre 2003)",
		Below:   "C",
		Rows: []Row{
			{Class: "A", Basis: "the operator states at most 0.40 m, flexible plant 0.50 m, to the crown", Suggest: true, Horizontal: 0.15, Flexible: 0.19, Vertical: 0.15, FlexibleVertical: 0.19, Share: none, Crown: true,
				Figures: "0.40 m rigid, 0.50 m flexible", Source: arrete},
			{Class: "B", Basis: "the operator states at most 1.5 m", Suggest: true, Horizontal: 0.57, Flexible: 0.57, Vertical: none, FlexibleVertical: none, Share: none,
				Figures: "1.5 m", Source: arrete},
			{Class: "C", Basis: "more than 1.5 m, or the operator cannot say", Suggest: true, Horizontal: none, Flexible: none, Vertical: none, FlexibleVertical: none, Share: none,
				Figures: "above 1.5 m", Source: arrete},
		},
	},
}

// A refused scheme is one that people ask for and that is not offered.
type refused struct {
	name  string // folded
	title string
	why   string
}

// refusedSchemes are tried in order; a name begins with one of them.
var refusedSchemes = []refused{
	{"asce75", "ASCE/UESI/CI 75", "its table of accuracy levels was not readable when this was written, and it is for exposed or newly laid plant; nothing is guessed"},
	{"asce", "ASCE/UESI/CI 38", "a quality level is a licensed professional's judgment of the evidence and is never assigned by software; report.html lists what is needed to decide, with any scheme or none"},
	{"ql", "a quality level by itself", "a level is a licensed professional's judgment; name the scheme whose accuracy classes are meant"},
	{"csa", "CSA S250", "its tables were not readable when this was written, and they are for as-built records, not for locating; nothing is guessed"},
	{"s250", "CSA S250", "its tables were not readable when this was written, and they are for as-built records, not for locating; nothing is guessed"},
}
