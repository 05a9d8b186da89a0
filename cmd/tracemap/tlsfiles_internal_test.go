package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// certificate writes one for a name into two files, signed by itself.
func certificate(t *testing.T, dir, name string, serial int64) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: name}, DNSNames: []string{name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	pkcs, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: pkcs}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

// A renewed certificate is taken up; half-written files leave the old one in use.
func TestCertificateIsReadAnew(t *testing.T) {
	dir := t.TempDir()
	cert, key := certificate(t, dir, "maps.example", 1)
	f, err := loadTLS(cert, key)
	if err != nil {
		t.Fatal(err)
	}
	serial := func() int64 {
		t.Helper()
		f.looked = time.Now().Add(-2 * lookEvery)
		c, err := f.config().GetCertificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		return c.Leaf.SerialNumber.Int64()
	}
	later := func(d time.Duration) {
		t.Helper()
		for _, name := range []string{cert, key} {
			if err := os.Chtimes(name, time.Time{}, time.Now().Add(d)); err != nil {
				t.Fatal(err)
			}
		}
	}
	if got := serial(); got != 1 {
		t.Errorf("serial %d, want 1", got)
	}
	if err := os.WriteFile(cert, []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	later(time.Second)
	if got := serial(); got != 1 {
		t.Errorf("with half a file: serial %d, want still 1", got)
	}
	certificate(t, dir, "maps.example", 2)
	later(2 * time.Second)
	if got := serial(); got != 2 {
		t.Errorf("renewed: serial %d, want 2", got)
	}
	if _, err := loadTLS(filepath.Join(dir, "none.pem"), key); err == nil {
		t.Error("no file, and no error")
	}
}
