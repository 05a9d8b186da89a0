// Package grade suggests accuracy classes for located places by published
// schemes. A suggestion rests on the place's own 95 % uncertainty and on nothing
// else; a licensed professional, who knows the evidence, decides. No class is
// above what electromagnetic detection alone can support.
//
//	s, err := grade.Lookup("pas128") // nil for "none"
//	class := s.Of(grade.Place{Horizontal: 0.12, Depth: 1.3, Vertical: 0.2})
//
// ASCE 38's quality levels are not a scheme here and never will be: a level is a
// licensed professional's judgment of evidence, not a figure of accuracy.
package grade
