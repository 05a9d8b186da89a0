package web

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"tracemap/internal/store"
)

// Options of New.
type Options struct {
	// Token is the secret of the start address: whoever holds it is the user of a
	// page that listens on this machine alone.
	Token string
	// Accounts has people log in; there is no start token then. Secure says that
	// they come over TLS, and Proxied that it ends at a proxy on this machine,
	// which tells their addresses.
	Accounts, Secure, Proxied bool
	// Hosts are the names, without port, under which the page may be asked for,
	// beside those of this machine.
	Hosts []string
	// MaxUpload and MaxUnpacked bound one file as sent and, when gzip, unpacked;
	// bytes.
	MaxUpload, MaxUnpacked int64
	// Quota bounds what all originals take together, QuotaOwn those of one person
	// (0: no bound of their own), and Reserve is the room that stays free on the
	// disk; bytes.
	Quota, QuotaOwn, Reserve int64
	// MaxOriginals bounds how many there are, and MaxAtOnce how many come in at a
	// time.
	MaxOriginals, MaxAtOnce int
	// LongestPause is how long an upload may stand still.
	LongestPause time.Duration
	// LongestWork is how long a request may look into a file, export or compare.
	LongestWork time.Duration
	// TLS is what the server listens with; nil for plain HTTP.
	TLS *tls.Config
	// BaseMap lies under the map; none when its source is empty.
	BaseMap BaseMap
	// MaxConns bounds the connections that are open at a time, MaxConnsEach those of
	// one address.
	MaxConns, MaxConnsEach int
	// Workers is how many days are computed at a time.
	Workers int
	Log     *slog.Logger
	Now     func() time.Time
}

// DefaultOptions bound a file at 2 GB, unpacked at 8 GB: a receiver writes 0.2 GB
// in a long day at 10 Hz.
func DefaultOptions() Options {
	return Options{
		MaxUpload: 2 << 30, MaxUnpacked: 8 << 30, Quota: 1 << 40, Reserve: 256 << 20, MaxOriginals: 1e6, MaxAtOnce: 100, LongestPause: 30 * time.Second, LongestWork: 10 * time.Minute, Workers: 1,
		MaxConns: 4096, MaxConnsEach: 256,
		Log: slog.New(slog.DiscardHandler), Now: time.Now,
	}
}

// A Server answers the page and its interface.
type Server struct {
	opt   Options
	store *store.Store
	work  *work
	// What takes memory and time, each kind in a lane of its own: see lane.
	looking, exporting, comparing *lane
	slow                          *slowdown
	coming                        coming
	looked                        looked
	base                          *base
	mux                           *http.ServeMux
}

// New makes a server on an open store, and opens the base map. Run computes what waits.
func New(st *store.Store, opt Options) (*Server, error) {
	b, err := openBase(opt.BaseMap)
	if err != nil {
		return nil, err
	}
	s := &Server{base: b, opt: opt, store: st, work: newWork(), slow: newSlowdown(), mux: http.NewServeMux()}
	s.looking, s.exporting, s.comparing = newLane(2, opt.LongestWork), newLane(2, opt.LongestWork), newLane(2, opt.LongestWork)
	for _, r := range routes {
		s.mux.Handle(r.method+" "+r.path, s.guarded(r))
	}
	s.mux.HandleFunc("GET /start", s.start)
	s.mux.Handle("GET /", http.HandlerFunc(s.asset))
	return s, nil
}

// Close lets go of the base map's file.
func (s *Server) Close() error { return s.base.close() }

// Run computes revisions that wait until the context ends.
func (s *Server) Run(ctx context.Context) {
	var wait sync.WaitGroup
	for range max(s.opt.Workers, 1) {
		wait.Go(func() { s.computeAll(ctx) })
	}
	wait.Wait()
}

// Serve answers on a listener until the context ends, and computes meanwhile.
// Requests under way get a short time to end.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	srv := &http.Server{
		Handler: s.Handler(), ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10,
		BaseContext: func(net.Listener) context.Context { return ctx }, ConnContext: withGuest,
		ErrorLog: slog.NewLogLogger(s.opt.Log.Handler(), slog.LevelDebug),
	}
	each := s.opt.MaxConnsEach
	if s.opt.Proxied {
		each = 0 // all come from the proxy
	}
	l = newGuests(l, s.opt.MaxConns, each)
	var wait sync.WaitGroup
	wait.Go(func() { s.Run(ctx) })
	stop := context.AfterFunc(ctx, func() {
		grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 3*time.Second)
		defer cancel()
		if srv.Shutdown(grace) != nil {
			srv.Close()
		}
	})
	defer stop()
	var err error
	if s.opt.TLS != nil {
		srv.TLSConfig = s.opt.TLS
		err = srv.ServeTLS(l, "", "")
	} else {
		err = srv.Serve(l)
	}
	wait.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}
