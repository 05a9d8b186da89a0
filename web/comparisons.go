package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"path/filepath"
	"strings"

	"tracemap/compare"
	"tracemap/internal/parallel"
	"tracemap/internal/store"
	"tracemap/internal/survey"
)

// compareSettings say how lines are held against a record: the flags of compare.
// What is missing takes the program's default. Lengths are metres.
type compareSettings struct {
	Tolerance      *float64 `json:"tolerance_m,omitempty"`
	DepthTolerance *float64 `json:"depth_tolerance_m,omitempty"`
	Search         *float64 `json:"search_m,omitempty"`
	Every          *float64 `json:"every_m,omitempty"`
	Accuracy       *float64 `json:"as_built_accuracy_m,omitempty"`
	DepthAccuracy  *float64 `json:"as_built_depth_accuracy_m,omitempty"`
	CRS            string   `json:"as_built_crs,omitempty"`
	Axes           string   `json:"axes,omitempty"`
	IDField        string   `json:"id_field,omitempty"`
	UtilityField   string   `json:"utility_field,omitempty"`
	DepthField     string   `json:"depth_field,omitempty"`
	DiameterField  string   `json:"diameter_field,omitempty"`
	DepthTo        string   `json:"depth_to,omitempty"`
	Units          string   `json:"units,omitempty"`
}

// recordWords are what the page calls the flags that messages of compare name.
var recordWords = strings.NewReplacer(
	" (--search)", "", " (--depth-to)", "", " (convert --frame)", "", "without --frame", "without the frame",
	" (--axes xy refuses that)", "", "--every", "stations further apart",
	"--as-built-depth-accuracy", "the record's depth accuracy", "--as-built-accuracy", "the record's accuracy", "--as-built-crs", "the record's coordinate system as",
	"--depth-tolerance", "the depth tolerance", "--tolerance", "the tolerance", "--search", "the search distance", "--axes", "the order of axes",
	"--id-field", "the name column", "--utility-field", "the utility column", "--depth-field", "the depth column as", "--diameter-field", "the diameter column as",
)

func (c *compareSettings) options() (compare.Options, error) {
	o := compare.DefaultOptions()
	for _, v := range []struct {
		from *float64
		to   *float64
	}{{c.Tolerance, &o.Tolerance}, {c.DepthTolerance, &o.DepthTolerance}, {c.Search, &o.Search}, {c.Every, &o.Every}, {c.Accuracy, &o.Accuracy}, {c.DepthAccuracy, &o.DepthAccuracy}} {
		if v.from != nil {
			*v.to = *v.from
		}
	}
	o.IDField, o.UtilityField, o.DepthField, o.DiameterField = c.IDField, c.UtilityField, c.DepthField, c.DiameterField
	var err error
	if c.CRS != "" {
		err = o.SetCRS(c.CRS, nil)
	}
	if err == nil && c.DepthTo != "" {
		o.DepthTo, err = compare.ParsePoint(c.DepthTo)
	}
	if err == nil && c.Axes != "" {
		o.Axes, err = compare.ParseAxes(c.Axes)
	}
	if err == nil && c.Units != "" {
		o.Imperial, err = survey.ParseUnits(c.Units)
	}
	o.Tool = survey.Tool
	if err == nil {
		err = o.Check()
	}
	if err != nil {
		return o, &problem{http.StatusUnprocessableEntity, recordWords.Replace(err.Error()), "Correct the setting and try again."}
	}
	return o, nil
}

// newComparison is the body of a request for a comparison.
type newComparison struct {
	Record   string          `json:"record"` // hash of a file that was sent
	Name     string          `json:"name,omitempty"`
	Settings compareSettings `json:"settings"`
}

// comparisonOutcome is what lists show of a comparison.
type comparisonOutcome struct {
	Verdict      string `json:"verdict"`
	Agrees       int    `json:"agrees"`
	Differs      int    `json:"differs"`
	Inconclusive int    `json:"inconclusive"`
	NotLocated   int    `json:"not_located"`
	NotInRecord  int    `json:"not_in_record"`
	Largest      num    `json:"largest_m"` // lateral difference
	Shifted      bool   `json:"shifted"`   // all lines alike
}

func (s *Server) postComparison(r *http.Request, w http.ResponseWriter) error {
	id, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	var n newComparison
	if err := read(r, &n); err != nil {
		return err
	}
	rev, err := s.store.Revision(r.Context(), id, number)
	if err != nil {
		return err
	}
	if rev.State != store.Done {
		return &problem{http.StatusConflict, "this revision has no map", "Compare a revision that has been processed."}
	}
	opt, err := n.Settings.options()
	if err != nil {
		return err
	}
	record, err := s.store.Original(r.Context(), n.Record)
	if err != nil {
		return &problem{http.StatusUnprocessableEntity, "no record with the hash " + plainName(n.Record), "Send the file first."}
	}
	settings, err := json.Marshal(n.Settings)
	if err != nil {
		return err
	}
	c := store.Comparison{Day: id, Revision: number, Record: record.SHA256, Name: record.Name, Settings: settings, CreatedBy: who(r)}
	if n.Name != "" {
		c.Name = plainName(n.Name)
	}
	if err := s.roomForWork(r.Context(), who(r)); err != nil {
		return err
	}
	work, leave, err := s.comparing.enter(r.Context(), who(r))
	if err != nil {
		return err
	}
	defer leave()
	c, err = s.store.NewComparison(work, c, func(dir string) (json.RawMessage, error) { return s.compare(work, &c, opt, dir) })
	if err != nil {
		return tookTooLong(work, err)
	}
	w.Header().Set("Location", fmt.Sprintf("/api/v1/comparisons/%d", c.ID))
	return answer(w, http.StatusCreated, c)
}

// compare holds a revision's lines against a record and writes what was found.
// Messages call the record by the name that it was given, not by that of its file
// here. A defect that panics ends this comparison, not the server.
func (s *Server) compare(ctx context.Context, c *store.Comparison, opt compare.Options, dir string) (outcome json.RawMessage, err error) {
	defer parallel.Recover("the comparison", &err)
	located, err := s.store.ResultDir(c.Day, c.Revision)
	if err != nil {
		return nil, err
	}
	path, err := s.store.OriginalPath(ctx, c.Record)
	if err != nil {
		return nil, err
	}
	words := func(text string) string {
		return recordWords.Replace(strings.NewReplacer(path, c.Name, filepath.Base(path), c.Name, located, "the day's files").Replace(text))
	}
	r, err := compare.Run(ctx, located, path, opt)
	var refused *compare.Refusal
	if errors.As(err, &refused) {
		return nil, &problem{http.StatusUnprocessableEntity, words(refused.Text), sentence(words(refused.ToDo))}
	}
	var defect *parallel.Fault
	if errors.As(err, &defect) {
		return nil, err
	}
	if err != nil && ctx.Err() == nil { // the record cannot be read
		return nil, &problem{http.StatusUnprocessableEntity, words(err.Error()), "Give the record as GeoJSON, KML, KMZ, GeoPackage, Shapefile (zipped), DXF or CSV with well-known text."}
	}
	if err != nil {
		return nil, err
	}
	r.Located, r.AsBuilt = fmt.Sprintf("day %d revision %d", c.Day, c.Revision), c.Name
	for i := range r.Warnings {
		r.Warnings[i] = words(r.Warnings[i])
	}
	for i := range r.Shift.Causes {
		r.Shift.Causes[i] = words(r.Shift.Causes[i])
	}
	if err := compare.Write(ctx, dir, r); err != nil {
		return nil, err
	}
	if err := s.roomForResult(ctx, c.CreatedBy, dir); err != nil {
		return nil, err
	}
	o := comparisonOutcome{
		Verdict: r.Verdict.String(), Agrees: r.Counts[compare.Agrees], Differs: r.Counts[compare.Differs], Inconclusive: r.Counts[compare.Inconclusive],
		NotLocated: len(r.NotLocated), NotInRecord: len(r.NotInRecord), Largest: metres(r.Lateral.Max), Shifted: r.Shift.Significant,
	}
	if r.Verdict == compare.Unjudged {
		o.Verdict, o.Largest = "nothing compared", num(math.NaN())
	}
	return json.Marshal(o)
}

// sentence makes one of what is to be done.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

func (s *Server) getComparisons(r *http.Request, w http.ResponseWriter) error {
	id, err := number(r, "day")
	if err != nil {
		return err
	}
	if _, err := s.store.Day(r.Context(), id); err != nil {
		return err
	}
	list, err := s.store.Comparisons(r.Context(), id)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, map[string]any{"comparisons": list})
}

// getComparison gives a comparison with all that was found.
func (s *Server) getComparison(r *http.Request, w http.ResponseWriter) error {
	id, err := number(r, "comparison")
	if err != nil {
		return err
	}
	c, err := s.store.Comparison(r.Context(), id)
	if err != nil {
		return err
	}
	f, err := s.store.OpenComparison(id, "comparison.json")
	if err != nil {
		return err
	}
	defer f.Close()
	if err := s.noteSeen(r, fmt.Sprintf("comparison %d", id), "comparison"); err != nil {
		return err
	}
	about, err := json.Marshal(c)
	if err != nil {
		return err
	}
	// Streamed and compressed: against a town's record it is long.
	return packed(w, r, "application/json", io.MultiReader(strings.NewReader(`{"comparison":`+string(about)+`,"result":`), f, strings.NewReader("}\n")))
}

// getComparisonFile gives one of a comparison's files.
func (s *Server) getComparisonFile(r *http.Request, w http.ResponseWriter) error {
	id, err := number(r, "comparison")
	if err != nil {
		return err
	}
	name := r.PathValue("name")
	if !compare.Ours(name) {
		return store.ErrNotFound
	}
	f, err := s.store.OpenComparison(id, name)
	if err != nil {
		return err
	}
	return s.giveKept(r, w, f, name, fmt.Sprintf("comparison %d", id), fmt.Sprintf("comparison-%d-", id))
}
