package compare

import (
	"bytes"
	"encoding/json"
	"io"

	"tracemap/present"
)

// The objects of comparison.json. Names are a promise to scripts: add, but
// change and remove none.

type jsonResult struct {
	Tool          string        `json:"tool"`
	Located       jsonFile      `json:"located"`
	AsBuilt       jsonFile      `json:"as_built"`
	Surveyed      string        `json:"surveyed"`
	Parameters    jsonParams    `json:"parameters"`
	Verdict       *string       `json:"verdict"`
	VerdictText   string        `json:"verdict_text"`
	Pairs         []jsonPair    `json:"pairs"`
	Lines         []jsonLine    `json:"lines"`
	NotLocated    []jsonMissing `json:"as_built_not_located"`
	NotInRecord   []jsonExtra   `json:"located_not_in_record"`
	PartlyThere   []jsonExtra   `json:"located_partly_in_record"`
	Lateral       jsonStats     `json:"lateral"`
	Depth         jsonStats     `json:"depth"`
	Accuracy      jsonAccuracy  `json:"accuracy"`
	Shift         jsonShift     `json:"shift"`
	AsBuiltLines  int           `json:"as_built_lines"`
	VerdictCounts jsonCounts    `json:"pairs_by_verdict"`
	LineCounts    jsonCounts    `json:"lines_by_verdict"`
	LinesMissing  int           `json:"lines_not_located"`
	Warnings      []string      `json:"warnings"`
	Caution       string        `json:"caution"`
}

type jsonFile struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
	Format string `json:"format,omitempty"`
	System string `json:"coordinate_system,omitempty"`
}

type jsonParams struct {
	Tolerance      figure `json:"tolerance_m"`
	DepthTolerance figure `json:"depth_tolerance_m"`
	Search         figure `json:"search_m"`
	Every          figure `json:"every_m"`
	Accuracy       figure `json:"as_built_accuracy_m"`
	DepthAccuracy  figure `json:"as_built_depth_accuracy_m"`
	DepthTo        string `json:"depth_to"`
}

type jsonStats struct {
	N          int    `json:"n"`
	Mean       figure `json:"mean_m"`
	RMSE       figure `json:"rmse_m"`
	P95        figure `json:"p95_m"`
	Max        figure `json:"max_m"`
	MaxStation figure `json:"max_station_m"`
	MaxSigned  figure `json:"max_signed_m"`
	Mean95     figure `json:"mean_95_m"`
	SD         figure `json:"sd_m"`
	Effective  figure `json:"n_effective"`
}

type jsonCounts struct {
	Agrees       int `json:"agrees"`
	Differs      int `json:"differs"`
	Inconclusive int `json:"inconclusive"`
}

type jsonPair struct {
	AsBuiltID      string        `json:"as_built_id"`
	LineIDs        []string      `json:"line_ids"`
	Utility        string        `json:"utility"`
	Length         figure        `json:"as_built_length_m"`
	Matched        figure        `json:"matched_length_m"`
	Coverage       perCent       `json:"coverage_pct"`
	Verdict        *string       `json:"verdict"`
	LateralVerdict *string       `json:"lateral_verdict"`
	DepthVerdict   *string       `json:"depth_verdict"`
	Stations       jsonCounts    `json:"stations_by_verdict"`
	Lateral        jsonStats     `json:"lateral"`
	Depth          jsonStats     `json:"depth"`
	MatchedBy      string        `json:"matched_by"`
	Ambiguous      *string       `json:"ambiguous_with"`
	Reversed       bool          `json:"drawn_the_other_way"`
	AfterShift     figure        `json:"lateral_mean_after_shift_m"`
	NotLocated     []jsonStretch `json:"not_located"`
}

type jsonLine struct {
	AsBuiltIDs     []string  `json:"as_built_ids"`
	LineIDs        []string  `json:"line_ids"`
	Utility        string    `json:"utility"`
	Length         figure    `json:"as_built_length_m"`
	Matched        figure    `json:"matched_length_m"`
	Coverage       perCent   `json:"coverage_pct"`
	Verdict        *string   `json:"verdict"`
	LateralVerdict *string   `json:"lateral_verdict"`
	DepthVerdict   *string   `json:"depth_verdict"`
	Lateral        jsonStats `json:"lateral"`
	Depth          jsonStats `json:"depth"`
}

type jsonStretch struct {
	From   figure `json:"from_m"`
	To     figure `json:"to_m"`
	Reason string `json:"reason"`
	Text   string `json:"text"`
}

type jsonMissing struct {
	AsBuiltID string `json:"as_built_id"`
	Utility   string `json:"utility"`
	Length    figure `json:"length_m"`
	Reason    string `json:"reason"`
	Text      string `json:"text"`
	Near      bool   `json:"near_the_day"`
}

type jsonExtra struct {
	LineID  string `json:"line_id"`
	Parts   []int  `json:"parts"`
	Utility string `json:"utility"`
	Length  figure `json:"length_m"`
	Matched figure `json:"matched_length_m"`
	Text    string `json:"text"`
}

type jsonAccuracy struct {
	Standard    string `json:"standard"`
	Horizontal  figure `json:"horizontal_95_m"`
	Vertical    figure `json:"vertical_95_m"`
	RMSEr       figure `json:"rmse_r_m"`
	RMSEz       figure `json:"rmse_z_m"`
	Checks      figure `json:"check_points_effective"`
	ChecksZ     figure `json:"check_points_effective_vertical"`
	Statement   string `json:"statement"`
	ASPRS       string `json:"asprs_standard"`
	ASPRSH      figure `json:"asprs_rmse_h_m"`
	ASPRSV      figure `json:"asprs_rmse_v_m"`
	LeastChecks int    `json:"check_points_asked_for"`
}

type jsonShift struct {
	East        figure   `json:"east_m"`
	North       figure   `json:"north_m"`
	Sigma       figure   `json:"sigma_m"`
	Significant bool     `json:"significant"`
	SigmaEast   figure   `json:"sigma_east_m"`
	SigmaNorth  figure   `json:"sigma_north_m"`
	Rotation    figure   `json:"rotation_deg"`
	RotationSig figure   `json:"rotation_sigma_deg"`
	Pairs       int      `json:"pairs"`
	Agreeing    int      `json:"pairs_explained"`
	Across      bool     `json:"across_only"`
	Causes      []string `json:"causes"`
	Displaced   bool     `json:"displaced"`
	Suspected   bool     `json:"suspected"`
	Reason      *string  `json:"reason"`
	Text        string   `json:"text"`
	Scale       figure   `json:"scale_ppm"`
	ScaleSig    figure   `json:"scale_sigma_ppm"`
}

// EncodeJSON gives the text of comparison.json.
func EncodeJSON(r *Result) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(r.json())
	return b.Bytes(), err
}

func writeJSON(w io.Writer, r *Result) error {
	text, err := EncodeJSON(r)
	if err != nil {
		return err
	}
	_, err = w.Write(text)
	return err
}

func (r *Result) json() *jsonResult {
	o := &r.Options
	out := &jsonResult{
		Tool:     o.Tool,
		Located:  jsonFile{File: r.Located, SHA256: r.LocatedSHA256},
		AsBuilt:  jsonFile{File: r.AsBuilt, SHA256: r.AsBuiltSHA256, Format: r.Format, System: r.System},
		Surveyed: r.Day,
		Parameters: jsonParams{figure(o.Tolerance), figure(o.depthTolerance()), figure(o.Search), figure(o.Every),
			figure(o.Accuracy), figure(o.DepthAccuracy), o.DepthTo.String()},
		Verdict: word(r.Verdict), VerdictText: r.Sentence(),
		Pairs: []jsonPair{}, NotLocated: []jsonMissing{}, NotInRecord: jsonExtras(r.NotInRecord), PartlyThere: jsonExtras(r.Partly),
		Lateral: r.Lateral.json(), Depth: r.Depth.json(),
		Accuracy: jsonAccuracy{r.Accuracy.Standard, figure(r.Accuracy.Horizontal), figure(r.Accuracy.Vertical), figure(r.Accuracy.RMSEr), figure(r.Accuracy.RMSEz),
			figure(r.Accuracy.Checks), figure(r.Accuracy.ChecksZ), r.Accuracy.Statement,
			"ASPRS Positional Accuracy Standards for Digital Geospatial Data, edition 2 (2023)", figure(r.Accuracy.ASPRSH), figure(r.Accuracy.ASPRSV), leastChecks},
		Shift: r.Shift.json(unit{o.Imperial}), Lines: []jsonLine{},
		AsBuiltLines: r.Records, VerdictCounts: counts(r.PairCounts), LineCounts: counts(r.Counts), LinesMissing: r.LinesNotLocated, Warnings: list(r.Warnings), Caution: present.Caution,
	}
	for i := range r.Lines {
		l := &r.Lines[i]
		out.Lines = append(out.Lines, jsonLine{list(l.AsBuiltIDs), list(l.LineIDs), l.Utility, figure(l.Length), figure(l.Matched), perCent(l.Coverage),
			word(l.Verdict), word(l.LateralVerdict), word(l.DepthVerdict), l.Lateral.json(), l.Depth.json()})
	}
	for i := range r.Pairs {
		out.Pairs = append(out.Pairs, r.Pairs[i].json())
	}
	for _, m := range r.NotLocated {
		out.NotLocated = append(out.NotLocated, m.json(true))
	}
	for _, m := range r.Elsewhere {
		out.NotLocated = append(out.NotLocated, m.json(false))
	}
	return out
}

func (s *Shift) json(u unit) jsonShift {
	out := jsonShift{East: figure(s.East), North: figure(s.North), Sigma: figure(s.Sigma), Significant: s.Significant, SigmaEast: figure(s.SigmaEast), SigmaNorth: figure(s.SigmaNorth),
		Rotation: figure(s.Rotation), RotationSig: figure(s.RotationSig), Pairs: s.Pairs, Agreeing: s.Agreeing, Across: s.Across, Causes: list(s.Causes),
		Displaced: s.Displaced, Suspected: s.Suspected, Text: s.words(u), Scale: figure(s.Scale), ScaleSig: figure(s.ScaleSig)}
	if s.Reason != "" {
		out.Reason = &s.Reason
	}
	return out
}

func (m *Missing) json(near bool) jsonMissing {
	return jsonMissing{m.AsBuiltID, m.Utility, figure(m.Length), m.Reason, m.Text, near}
}

func (p *Pair) json() jsonPair {
	out := jsonPair{
		AsBuiltID: p.AsBuiltID, LineIDs: list(p.LineIDs), Utility: p.Utility, Length: figure(p.Length), Matched: figure(p.Matched), Coverage: perCent(p.Coverage),
		Verdict: word(p.Verdict), LateralVerdict: word(p.LateralVerdict), DepthVerdict: word(p.DepthVerdict), Stations: counts(p.Counts),
		Lateral: p.Lateral.json(), Depth: p.Depth.json(), MatchedBy: "place", Reversed: p.Reversed, AfterShift: figure(p.AfterShift), NotLocated: []jsonStretch{},
	}
	switch {
	case p.Points > 0:
		out.MatchedBy = "points"
	case p.ByID:
		out.MatchedBy = "name"
	}
	if p.Ambiguous != "" {
		out.Ambiguous = &p.Ambiguous
	}
	for _, g := range p.Gaps {
		out.NotLocated = append(out.NotLocated, jsonStretch{figure(g.From), figure(g.To), g.Reason, g.Text})
	}
	return out
}

func (s *Stats) json() jsonStats {
	return jsonStats{s.N, figure(s.Mean), figure(s.RMSE), figure(s.P95), figure(s.Max), figure(s.MaxStation), figure(s.MaxSigned),
		figure(s.Mean95), figure(s.SD), figure(s.Effective)}
}

func jsonExtras(extras []Extra) []jsonExtra {
	out := []jsonExtra{}
	for _, e := range extras {
		out = append(out, jsonExtra{e.LineID, e.Parts, e.Utility, figure(e.Length), figure(e.Matched), e.Text})
	}
	return out
}

// word is a verdict in JSON, null where there is none.
func word(v Verdict) *string {
	if v == Unjudged {
		return nil
	}
	s := v.String()
	return &s
}

func counts(c [4]int) jsonCounts {
	return jsonCounts{Agrees: c[Agrees], Differs: c[Differs], Inconclusive: c[Inconclusive]}
}

// list is never null in JSON.
func list(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}
