package grade

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// None is the name that asks for no classes.
const None = "none"

// Names lists what may be asked for, None first.
func Names() []string {
	out := []string{None}
	for i := range schemes {
		out = append(out, schemes[i].Name)
	}
	return out
}

// Schemes gives every scheme, for documents. The table is the package's own.
func Schemes() []Scheme { return slices.Clone(schemes) }

// Lookup gives the scheme of a name; nil, which suggests nothing, for None. The
// error for a scheme that is known and not offered says why.
func Lookup(name string) (*Scheme, error) {
	if name == None {
		return nil, nil
	}
	for i := range schemes {
		if schemes[i].Name == name {
			return &schemes[i], nil
		}
	}
	folded := strings.NewReplacer(" ", "", "-", "", "_", "", "/", "", ".", "").Replace(strings.ToLower(name))
	for _, r := range refusedSchemes {
		if strings.HasPrefix(folded, r.name) {
			return nil, fmt.Errorf("scheme %q is not offered: %s: %s; there are %s", name, r.title, r.why, strings.Join(Names(), ", "))
		}
	}
	return nil, fmt.Errorf("no accuracy scheme %q: there are %s", name, strings.Join(Names(), ", "))
}

// A Place is what a class is suggested by.
type Place struct {
	// Horizontal is the 95 % bound in plan, m: across the line for a place on a
	// line, the radius of the circle for a point.
	Horizontal float64
	// Depth is that of the electrical centre, m, and Vertical its 95 % bound; NaN
	// where no depth was read that may be relied on.
	Depth, Vertical float64
	// Cable tells flexible plant from pipes.
	Cable bool
	// Diameter tells that the outside diameter is known, and so the top.
	Diameter bool
}

// Of suggests a class; "" for none. A place whose bound in plan is not known gets
// the lowest. A nil scheme suggests nothing.
func (s *Scheme) Of(p Place) string {
	if s == nil {
		return ""
	}
	for i := range s.Rows {
		if s.Rows[i].meets(p) {
			return s.Rows[i].Class
		}
	}
	return s.Below
}

// meets reports whether a place may be suggested for the class.
func (r *Row) meets(p Place) bool {
	if !r.Suggest {
		return false
	}
	horizontal, vertical := r.Horizontal, r.Vertical
	if p.Cable {
		horizontal, vertical = r.Flexible, r.FlexibleVertical
	}
	if math.IsInf(horizontal, 1) {
		return true // the class for all the rest
	}
	if !(p.Horizontal <= horizontal) { // NaN: not known
		return false
	}
	if r.Crown && !p.Diameter && !p.Cable {
		return false
	}
	if math.IsInf(vertical, 1) && math.IsInf(r.Share, 1) {
		return true
	}
	return p.Depth > 0 && p.Vertical <= vertical && p.Vertical <= r.Share*p.Depth
}

// Worse gives the lower of two classes of the scheme; "" is the lowest.
func (s *Scheme) Worse(a, b string) string {
	if s.rank(b) > s.rank(a) {
		return b
	}
	return a
}

// rank is a class's row, 0 for the best; beyond the last for one that is in none.
func (s *Scheme) rank(class string) int {
	if s == nil {
		return 0
	}
	i := slices.IndexFunc(s.Rows, func(r Row) bool { return r.Class == class })
	if i < 0 {
		return len(s.Rows)
	}
	return i
}
