package web

// Routes lists what the server answers, as "METHOD path".
func Routes() []string {
	var out []string
	for _, r := range routes {
		out = append(out, r.method+" "+r.path)
	}
	return out
}
