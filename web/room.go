package web

import (
	"net/http"
	"sync"

	"tracemap/internal/store"
)

// coming is what is on its way in and not yet counted by the store: many uploads
// at once may not pass a bound that each alone would keep.
type coming struct {
	mu    sync.Mutex
	count int
	bytes map[string]int64 // by person
}

// room refuses an upload that would not fit, before a byte of it is received,
// and keeps its room until gone is called.
func (s *Server) room(r *http.Request, size int64) (gone func(), err error) {
	if size < 0 {
		return nil, &problem{http.StatusLengthRequired, "the upload does not say how long it is", "Send Content-Length, as browsers and curl --data-binary do."}
	}
	if size > s.opt.MaxUpload {
		return nil, tooLarge(&http.MaxBytesError{Limit: s.opt.MaxUpload})
	}
	by := who(r)
	c := &s.coming
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.count >= s.opt.MaxAtOnce {
		return nil, &problem{http.StatusServiceUnavailable, "too many files are coming in at this moment", "Send it again in a minute."}
	}
	used, err := s.store.Used(r.Context(), by)
	if err != nil {
		return nil, err
	}
	free, err := s.store.Free()
	if err != nil {
		return nil, err
	}
	all := size
	for _, n := range c.bytes {
		all += n
	}
	if p := s.full(used, free, all, size+c.bytes[by]); p != nil {
		return nil, p
	}
	if c.bytes == nil {
		c.bytes = map[string]int64{}
	}
	c.count++
	c.bytes[by] += size
	return func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.count--
		if c.bytes[by] -= size; c.bytes[by] == 0 {
			delete(c.bytes, by)
		}
	}, nil
}

// full tells which bound is reached with what is on its way, of all and of the
// person's own; nil for none.
func (s *Server) full(used store.Usage, free, all, own int64) error {
	const again = "then send it again; what was acknowledged is kept."
	switch {
	case free-all < s.opt.Reserve:
		return &problem{http.StatusInsufficientStorage, "the disk is full: " + bytesText(max(free, 0)) + " free, " + bytesText(s.opt.Reserve) + " stay in reserve", "Make room on the disk of the data folder, " + again}
	case used.All+all > s.opt.Quota:
		return &problem{http.StatusInsufficientStorage, "the quota of " + bytesText(s.opt.Quota) + " is used up", "Raise --quota-gb of tracemap serve, " + again}
	case s.opt.QuotaOwn > 0 && used.Own+own > s.opt.QuotaOwn:
		return &problem{http.StatusInsufficientStorage, "your own quota of " + bytesText(s.opt.QuotaOwn) + " is used up", "Ask an administrator to raise --quota-user-gb, " + again}
	case used.Count+int64(s.coming.count) >= int64(s.opt.MaxOriginals):
		return &problem{http.StatusInsufficientStorage, "there are too many files here", "Begin a new data folder."}
	}
	return nil
}
