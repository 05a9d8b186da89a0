//go:build !linux

package outdir

func renameNew(from, to string) error { return renameNewInSteps(from, to) }

func exchange(a, b string) error { return exchangeInSteps(a, b) }
