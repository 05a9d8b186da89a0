package web

import "tracemap/internal/store"

// Routes lists what the server answers, as "METHOD path".
func Routes() []string {
	var out []string
	for _, r := range routes {
		out = append(out, r.method+" "+r.path)
	}
	return out
}

// A GuardedRoute is a route with the right that it needs.
type GuardedRoute struct{ Method, Path, Needs string }

// RoutesWithRights lists what the server answers, and what it asks for.
func RoutesWithRights() []GuardedRoute {
	var out []GuardedRoute
	for _, r := range routes {
		out = append(out, GuardedRoute{r.method, r.path, string(r.needs)})
	}
	return out
}

// Reach is how far a role's right goes.
func Reach(role, needs string) string { return string(roles[store.Role(role)][right(needs)]) }
