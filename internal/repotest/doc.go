// Package repotest holds the tests of the repository as a whole: which package
// may import which, how long a file may be, what must not be committed, and
// that the commands in the documents exist. It has no code of its own.
package repotest
