package web

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"tracemap/export"
	"tracemap/internal/store"
)

// mostJoined is how many days one GeoPackage takes: a year of one crew.
const mostJoined = 400

// getGeoPackage gives several days – a week, an area – as one GeoPackage: of each
// the newest revision that has a map, or the one that is named.
func (s *Server) getGeoPackage(r *http.Request, w http.ResponseWriter) error {
	revs, days, err := s.joinedRevisions(r)
	if err != nil {
		return err
	}
	temp, err := s.store.Scratch()
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	var parts []export.GPKGPart
	for i, rev := range revs {
		dir, err := s.store.ResultDir(rev.Day, rev.Number)
		if err != nil {
			return err
		}
		if wish := (exportWish{formats: "gpkg", crs: r.URL.Query().Get("crs")}); !wish.asKept() {
			if dir, err = s.exportAnew(r.Context(), who(r), rev, wish); err != nil {
				return err
			}
			defer os.RemoveAll(dir)
		}
		parts = append(parts, export.GPKGPart{Path: filepath.Join(dir, "map.gpkg"), Day: fmt.Sprintf("%s (day %d), revision %d", days[i].Title, rev.Day, rev.Number)})
	}
	path := filepath.Join(temp, "map.gpkg")
	err = export.JoinGeoPackages(r.Context(), path, fmt.Sprintf("%d days", len(parts)), parts)
	if errors.Is(err, export.ErrOtherCRS) {
		return &problem{http.StatusConflict, err.Error(), "Name one coordinate system for all of them."}
	}
	if err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	name := fmt.Sprintf("tracemap-%d-days.gpkg", len(parts))
	if err := s.noteTaken(r, "days "+shortText(r.URL.Query().Get("days"), 200), name, "", time.Time{}); err != nil {
		return err
	}
	attach(w, name, kindOf[".gpkg"])
	http.ServeContent(w, r, "", s.opt.Now(), f)
	return nil
}

// joinedRevisions reads which days are asked for: days=3,4:2 is the newest map of
// day 3 and revision 2 of day 4.
func (s *Server) joinedRevisions(r *http.Request) (revs []store.Revision, days []store.Day, err error) {
	wrong := &problem{http.StatusUnprocessableEntity, "which days is not said", "Write days=3,4:2 for the newest map of day 3 and revision 2 of day 4."}
	list := strings.Split(r.URL.Query().Get("days"), ",")
	if len(list) > mostJoined {
		return nil, nil, &problem{http.StatusUnprocessableEntity, fmt.Sprintf("%d days are more than the %d that one file takes", len(list), mostJoined), ""}
	}
	seen := map[int64]bool{}
	for _, text := range list {
		first, second, named := strings.Cut(text, ":")
		id, err := strconv.ParseInt(first, 10, 64)
		if err != nil {
			return nil, nil, wrong
		}
		if seen[id] {
			return nil, nil, &problem{http.StatusUnprocessableEntity, fmt.Sprintf("day %d is named twice", id), "Name each day once."}
		}
		seen[id] = true
		day, err := s.store.Day(r.Context(), id)
		if err != nil {
			return nil, nil, err
		}
		var rev store.Revision
		if named {
			number, err := strconv.Atoi(second)
			if err != nil {
				return nil, nil, wrong
			}
			rev, err = s.store.Revision(r.Context(), id, number)
			if err != nil {
				return nil, nil, err
			}
		} else if rev, err = s.newestMap(r, id); err != nil {
			return nil, nil, err
		}
		if rev.State != store.Done {
			return nil, nil, &problem{http.StatusConflict, fmt.Sprintf("day %d has no map", id), "Leave it out, or wait until it has been processed."}
		}
		revs, days = append(revs, rev), append(days, day)
	}
	return revs, days, nil
}

// newestMap gives the newest revision of a day that has a map, else its newest.
func (s *Server) newestMap(r *http.Request, id int64) (store.Revision, error) {
	list, err := s.store.Revisions(r.Context(), id)
	if err != nil {
		return store.Revision{}, err
	}
	for _, rev := range list {
		if rev.State == store.Done {
			return rev, nil
		}
	}
	return list[0], nil
}
