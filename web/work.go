package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"tracemap/export"
	"tracemap/internal/parallel"
	"tracemap/internal/store"
	"tracemap/internal/survey"
	"tracemap/result"
)

// work is what is being computed at this moment.
type work struct {
	mu     sync.Mutex
	doing  map[revisionKey]*doing
	wakeup chan struct{}
}

type revisionKey struct {
	day    int64
	number int
}

// doing is how far a revision has come, and how to stop it.
type doing struct {
	stage     string
	done, all int64
	stop      context.CancelFunc
	stoppedBy string
}

func newWork() *work {
	return &work{doing: map[revisionKey]*doing{}, wakeup: make(chan struct{}, 1)}
}

// wake tells a worker that something waits.
func (k *work) wake() {
	select {
	case k.wakeup <- struct{}{}:
	default:
	}
}

// computeAll computes what waits, one after the other, until the context ends.
func (s *Server) computeAll(ctx context.Context) {
	for ctx.Err() == nil {
		rev, err := s.store.Take(ctx)
		if err == nil {
			s.work.wake() // there may be more for another worker
			if err := parallel.Catch("the end of a revision", func() error { s.computeOne(ctx, rev); return nil }); err != nil {
				s.logFault(err)
			}
			continue
		}
		if !errors.Is(err, store.ErrNotFound) && ctx.Err() == nil {
			s.opt.Log.Error("taking work", "error", err)
		}
		select {
		case <-s.work.wakeup:
		case <-time.After(time.Minute):
		case <-ctx.Done():
		}
	}
}

// computeOne computes a revision and writes how it ended.
func (s *Server) computeOne(ctx context.Context, rev store.Revision) {
	mine, stop := context.WithCancel(ctx)
	defer stop()
	key := revisionKey{rev.Day, rev.Number}
	d := &doing{stop: stop}
	s.work.mu.Lock()
	s.work.doing[key] = d
	s.work.mu.Unlock()
	out, err := s.compute(mine, rev, d)
	s.work.mu.Lock()
	delete(s.work.doing, key)
	by := d.stoppedBy
	s.work.mu.Unlock()
	if ctx.Err() != nil { // the server ends: the revision waits again at its next start
		if err := s.store.GiveBack(context.WithoutCancel(ctx), rev); err != nil {
			s.opt.Log.Error("giving work back", "day", rev.Day, "revision", rev.Number, "error", err)
		}
		return
	}
	state, message := store.Done, ""
	var full *problem // no room for the result
	switch {
	case by != "":
		state, message = store.Stopped, "stopped by "+by
	case errors.Is(err, survey.ErrNoMap):
		state, message = store.Refused, inPageWords(err.Error())
	case errors.As(err, &full):
		state, message = store.Refused, full.title+". "+full.detail
	case err != nil:
		s.opt.Log.Error("computing", "day", rev.Day, "revision", rev.Number, "error", err)
		s.logFault(err)
		state, message = store.Failed, "this went wrong on the server: "+err.Error()
	}
	s.finish(ctx, rev, state, message, out)
}

// finish writes how computing a revision ended. On a full disk it tries again
// until there is room: else the revision would seem under work for ever.
func (s *Server) finish(ctx context.Context, rev store.Revision, state store.State, message string, out json.RawMessage) {
	for {
		err := s.store.Finish(ctx, rev, state, message, out)
		if err == nil || ctx.Err() != nil {
			return
		}
		s.opt.Log.Error("writing the state", "day", rev.Day, "revision", rev.Number, "error", err)
		select {
		case <-time.After(2 * time.Second):
		case <-ctx.Done():
			return
		}
	}
}

// compute runs a revision's files through survey and keeps the result. A defect
// that panics ends this revision, not the server.
func (s *Server) compute(ctx context.Context, rev store.Revision, d *doing) (outcome json.RawMessage, err error) {
	defer parallel.Recover("the day", &err)
	parallel.Trip("the day")
	day, err := s.store.Day(ctx, rev.Day)
	if err != nil {
		return nil, err
	}
	opt, err := s.surveyOptions(day, rev, export.Names())
	if err != nil {
		return nil, err
	}
	opt.Progress = func(stage string, done, all int64) {
		s.work.mu.Lock()
		defer s.work.mu.Unlock()
		d.stage, d.done, d.all = stage, done, all
	}
	computed, err := s.run(ctx, day, opt)
	if err != nil {
		return nil, err
	}
	if fault := computed.Fault(); fault != nil { // the rest of the map stands
		s.logFault(fault)
	}
	m := computed.Map()
	opt.Progress("writing", 0, 0)
	err = s.store.Result(rev.Day, rev.Number, func(dir string) error {
		if err := computed.Write(ctx, dir, m); err != nil {
			return err
		}
		if err := writePlaces(filepath.Join(dir, placesFile), m); err != nil {
			return err
		}
		if err := writeViews(dir, m); err != nil {
			return err
		}
		return s.roomForResult(ctx, rev.CreatedBy, dir)
	})
	if err != nil {
		return nil, err
	}
	return json.Marshal(outcomeOf(m))
}

// logFault writes what is known of a defect into the log; other errors are not its
// business.
func (s *Server) logFault(err error) {
	var fault *parallel.Fault
	if errors.As(err, &fault) {
		s.opt.Log.Error("a defect of tracemap, please report it", "report", fault.Report())
	}
}

// surveyOptions gives the options of a revision.
func (s *Server) surveyOptions(day store.Day, rev store.Revision, formats []string) (survey.Options, error) {
	settings, err := parseSettings(rev.Settings)
	if err != nil {
		return survey.Options{}, err
	}
	opt, err := settings.options()
	if err != nil {
		return opt, err
	}
	opt.Title = day.Title
	opt.Formats, err = survey.ParseFormats(joinNames(formats))
	return opt, err
}

// run computes a day from its originals.
func (s *Server) run(ctx context.Context, day store.Day, opt survey.Options) (*survey.Day, error) {
	var sources []survey.Source
	for _, f := range day.Files {
		sources = append(sources, survey.Source{Name: f.Name, Size: f.Size, Open: func() (io.ReadCloser, error) {
			r, _, err := s.store.OpenOriginal(ctx, f.SHA256)
			return r, err
		}})
	}
	in, err := survey.Open(ctx, sources)
	if err != nil {
		return nil, err
	}
	return survey.Run(ctx, in, opt)
}

// An outcome is what lists show of a computed revision.
type outcome struct {
	Level   string   `json:"level"` // good, care, no
	Verdict string   `json:"verdict"`
	Summary string   `json:"summary"`
	Reasons []string `json:"reasons"`
	NotTold []string `json:"not_told"` // what the crew did not state
	Lines   int      `json:"lines"`
	Length  num      `json:"length_m"`
	Places  int      `json:"places"` // to go back to
	From    string   `json:"from"`
	To      string   `json:"to"`
}

func outcomeOf(m *result.Map) outcome {
	v := m.Judged()
	o := outcome{
		Level: levels[v.Level], Verdict: v.Level.String(), Summary: v.Summary, Reasons: append([]string{}, v.Reasons...), NotTold: append([]string{}, v.NotTold...), Lines: len(m.Lines),
		Places: len(m.Revisit), From: stamp(m.Meta.From), To: stamp(m.Meta.To),
	}
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			o.Length += num(m.Lines[i].Parts[j].Length())
		}
	}
	o.Length = rounded(float64(o.Length), 2)
	return o
}

var levels = [...]string{"good", "care", "no"}

// writeJSON writes a value into a new file.
func writeJSON(path string, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return os.WriteFile(path, b, 0o600)
}

// getWork lists what waits and what is being computed.
func (s *Server) getWork(r *http.Request, w http.ResponseWriter) error {
	list, err := s.store.Unfinished(r.Context())
	if err != nil {
		return err
	}
	type item struct {
		Day      int64       `json:"day"`
		Revision int         `json:"revision"`
		State    store.State `json:"state"`
		Stage    string      `json:"stage"`
		Done     int64       `json:"done"`
		All      int64       `json:"all"`
	}
	out := []item{}
	s.work.mu.Lock()
	defer s.work.mu.Unlock()
	for _, rev := range list {
		i := item{Day: rev.Day, Revision: rev.Number, State: rev.State}
		if d := s.work.doing[revisionKey{rev.Day, rev.Number}]; d != nil {
			i.Stage, i.Done, i.All = d.stage, d.done, d.all
		}
		out = append(out, i)
	}
	return answer(w, http.StatusOK, map[string]any{"work": out})
}

// deleteWork stops a revision that waits or is being computed.
func (s *Server) deleteWork(r *http.Request, w http.ResponseWriter) error {
	day, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	err = s.store.Stop(r.Context(), day, number, who(r))
	if errors.Is(err, store.ErrNotFound) {
		s.work.mu.Lock()
		d := s.work.doing[revisionKey{day, number}]
		s.work.mu.Unlock()
		if d == nil {
			return &problem{http.StatusConflict, "nothing is being computed there", ""}
		}
		if err := s.store.Note(r.Context(), who(r), "stopped", fmt.Sprintf("day %d revision %d", day, number), "while it was being computed"); err != nil {
			return err
		}
		s.work.mu.Lock()
		d.stoppedBy = who(r)
		d.stop()
		s.work.mu.Unlock()
	} else if err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}
