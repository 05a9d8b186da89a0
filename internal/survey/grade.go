package survey

import "tracemap/grade"

// Schemes lists the names of the accuracy classes that may be asked for.
func Schemes() []string { return grade.Names() }
