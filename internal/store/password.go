package store

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync/atomic"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
)

// Argon2id (RFC 9106) with a salt of 128 bits and a tag of 256 bits, as its
// section 4 has them, and the passes, memory and lanes that OWASP's Password
// Storage Cheat Sheet sets as the least for servers: some 70 ms of one core.
const (
	hashPasses = 2
	hashMemory = 19 << 10 // KiB
	hashLanes  = 1
	hashSalt   = 16 // bytes
	hashTag    = 32 // bytes
)

// The bounds of a password: NIST SP 800-63B asks for length, not for kinds of
// characters. The upper one only keeps the work bounded.
const (
	shortestPassword = 12   // characters
	longestPassword  = 1000 // bytes
	fewestKinds      = 5    // different characters
)

// ErrRefused says that a name, role or password is not taken; its text says why.
var ErrRefused = errors.New("not taken")

// CheckPassword refuses a password that is easily guessed.
func CheckPassword(name, password string) error {
	kinds := map[rune]bool{}
	for _, r := range password {
		kinds[r] = true
	}
	switch {
	case !utf8.ValidString(password) || len(password) > longestPassword:
		return fmt.Errorf("%w: a password longer than %d bytes, or not text", ErrRefused, longestPassword)
	case utf8.RuneCountInString(password) < shortestPassword:
		return fmt.Errorf("%w: a password shorter than %d characters", ErrRefused, shortestPassword)
	case len(kinds) < fewestKinds:
		return fmt.Errorf("%w: a password of fewer than %d different characters", ErrRefused, fewestKinds)
	case len(name) > 3 && strings.Contains(strings.ToLower(password), strings.ToLower(name)):
		return fmt.Errorf("%w: a password with the name in it", ErrRefused)
	}
	return nil
}

// hashing bounds how many passwords are worked on at a time: each takes 19 MiB.
var hashing = make(chan struct{}, max(1, runtime.NumCPU()/2))

// hashed counts them.
var hashed atomic.Int64

func argon(password string, salt []byte) []byte {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	hashed.Add(1)
	return argon2.IDKey([]byte(password), salt, hashPasses, hashMemory, hashLanes, hashTag)
}

// hashPassword gives what is kept of a password, in the PHC string form.
func hashPassword(password string) string {
	salt := make([]byte, hashSalt)
	rand.Read(salt) // never fails: crypto/rand ends the process first
	b64 := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("%s%s$%s", hashHead, b64(salt), b64(argon(password, salt)))
}

var hashHead = fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$", argon2.Version, hashMemory, hashPasses, hashLanes)

// nobody is compared with where there is no such account, so that the time of
// the answer does not tell.
var nobody = hashHead + "AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

// samePassword compares a password with what is kept, in constant time.
func samePassword(kept, password string) bool {
	rest, ok := strings.CutPrefix(kept, hashHead)
	salt64, tag64, cut := strings.Cut(rest, "$")
	salt, err := base64.RawStdEncoding.DecodeString(salt64)
	tag, err2 := base64.RawStdEncoding.DecodeString(tag64)
	if !ok || !cut || err != nil || err2 != nil || len(tag) != hashTag {
		return false
	}
	// One that is too long is nobody's, and takes as long to refuse as any other.
	tried := argon(password[:min(len(password), longestPassword)], salt)
	return subtle.ConstantTimeCompare(tried, tag) == 1 && len(password) <= longestPassword
}
