package main

import (
	"crypto/tls"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

// tlsFiles gives the certificate of two files, and reads them anew when they
// were changed: certificates are renewed while the server runs.
type tlsFiles struct {
	cert, key string
	mu        sync.Mutex
	have      *tls.Certificate
	written   time.Time // the newer file, as it was read
	looked    time.Time
}

// lookEvery is how often the files' times are asked for at most.
const lookEvery = time.Minute

func loadTLS(cert, key string) (*tlsFiles, error) {
	f := &tlsFiles{cert: cert, key: key}
	return f, f.load()
}

func (f *tlsFiles) load() error {
	written, err := f.newest()
	if err != nil {
		return err
	}
	c, err := tls.LoadX509KeyPair(f.cert, f.key)
	if err != nil {
		return fmt.Errorf("--tls-cert %s with --tls-key %s: %w", f.cert, f.key, err)
	}
	f.have, f.written, f.looked = &c, written, time.Now()
	return nil
}

func (f *tlsFiles) newest() (newest time.Time, err error) {
	for _, name := range []string{f.cert, f.key} {
		info, err := os.Stat(name)
		if err != nil {
			return newest, err
		}
		if info.ModTime().After(newest) {
			newest = info.ModTime()
		}
	}
	return newest, nil
}

// config is what the server listens with. Half-written files leave the old
// certificate in use.
func (f *tlsFiles) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
		f.mu.Lock()
		defer f.mu.Unlock()
		if time.Since(f.looked) > lookEvery {
			f.looked = time.Now()
			if written, err := f.newest(); err == nil && !written.Equal(f.written) {
				f.load() // when it fails, what is in use stays
			}
		}
		return f.have, nil
	}}
}

// names are those that the certificate is made out for; one with a star stands
// for too many to be checked.
func (f *tlsFiles) names() []string {
	names := slices.Clone(f.have.Leaf.DNSNames)
	for _, ip := range f.have.Leaf.IPAddresses {
		names = append(names, ip.String())
	}
	return slices.DeleteFunc(names, func(name string) bool { return strings.Contains(name, "*") })
}
