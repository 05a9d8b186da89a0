package readings

import "slices"

// A pile collects readings in blocks: a slice that grows by itself would hold a
// long log twice over, and its rubbish besides.
type pile struct {
	full [][]Reading
	last []Reading
}

const blockSize = 4096

func (p *pile) add(r Reading) {
	if len(p.last) == blockSize {
		p.full = append(p.full, p.last)
		p.last = make([]Reading, 0, blockSize)
	}
	p.last = append(p.last, r)
}

func (p *pile) flat() []Reading { return slices.Concat(append(p.full, p.last)...) }
