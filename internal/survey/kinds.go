package survey

// A Told input is what Open found out about a source.
type Told struct {
	Name string
	Kind Kind
	What string // of an unknown input: what it seems to be
}

// Kinds lists the inputs in their order, with what they were told to be.
func (in *Inputs) Kinds() []Told {
	var out []Told
	for _, i := range in.list {
		out = append(out, Told{i.Name, i.kind, i.what})
	}
	return out
}
