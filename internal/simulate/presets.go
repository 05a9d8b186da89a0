package simulate

// A Preset is a named scenario.
type Preset struct {
	Name string
	Make func(seed uint64) Scenario
}

// Presets lists the days that accuracy is measured on.
func Presets() []Preset { return presets }

// Named gives a preset's scenario.
func Named(name string, seed uint64) (Scenario, bool) {
	for _, p := range presets {
		if p.Name == name {
			s := p.Make(seed)
			s.Name = name
			return s, true
		}
	}
	return Scenario{}, false
}

var presets = []Preset{
	{"rtk-stopgo", func(seed uint64) Scenario { return New("", seed) }},
}
