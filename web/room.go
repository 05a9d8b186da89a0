package web

import (
	"context"
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
	all := size
	for _, n := range c.bytes {
		all += n
	}
	if err := s.fits(r.Context(), by, wanted{disk: all, all: all, own: size + c.bytes[by], files: 1}); err != nil {
		return nil, err
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

// roomForWork refuses work for a person where a quota is used up or the disk has
// nothing but its reserve.
func (s *Server) roomForWork(ctx context.Context, by string) error {
	return s.fits(ctx, by, wanted{disk: 1, all: 1, own: 1})
}

// roomForResult refuses a result that lies in a folder, and is not counted yet,
// where it passes a quota or takes the reserve.
func (s *Server) roomForResult(ctx context.Context, by, dir string) error {
	size, err := store.FolderBytes(dir)
	if err != nil {
		return err
	}
	return s.fits(ctx, by, wanted{all: size, own: size})
}

// wanted is what asks for room: bytes that the disk does not hold yet, bytes that
// the quotas of all and of one person do not count yet, and originals.
type wanted struct {
	disk, all, own int64
	files          int
}

// fits returns which bound would be passed; nil for none.
func (s *Server) fits(ctx context.Context, by string, w wanted) error {
	used, err := s.store.Used(ctx, by)
	if err != nil {
		return err
	}
	free, err := s.store.Free()
	if err != nil {
		return err
	}
	const again = "then try again; what was acknowledged is kept."
	switch {
	case free-w.disk < s.opt.Reserve:
		return &problem{http.StatusInsufficientStorage, "the disk is full: " + bytesText(max(free, 0)) + " free, " + bytesText(s.opt.Reserve) + " stay in reserve", "Make room on the disk of the data folder, " + again}
	case used.All+w.all > s.opt.Quota:
		return &problem{http.StatusInsufficientStorage, "the quota of " + bytesText(s.opt.Quota) + " is used up", "Raise --quota-gb of tracemap serve, " + again}
	case s.opt.QuotaOwn > 0 && used.Own+w.own > s.opt.QuotaOwn:
		return &problem{http.StatusInsufficientStorage, "your own quota of " + bytesText(s.opt.QuotaOwn) + " is used up", "Ask an administrator to raise --quota-user-gb, " + again}
	case w.files > 0 && used.Count+int64(s.coming.count+w.files) > int64(s.opt.MaxOriginals):
		return &problem{http.StatusInsufficientStorage, "there are too many files here", "Begin a new data folder."}
	}
	return nil
}
