package plane

// Simplify drops vertices that the straights between the kept ones pass within
// tol metres (Douglas and Peucker 1973). It gives the indices of the kept
// vertices, ascending and always with the first and the last, and for each
// straight between two kept ones the error made, m: made[i], never above tol,
// is the largest distance between the straight from kept[i] to kept[i+1] and
// the stretch of line it stands for, in both directions (Hausdorff distance).
//
// Distances are to the straight and not to its endless extension, so the tip
// of a line that doubles back is kept, and a ring keeps its shape. A tol of 0
// drops only vertices on the straight itself. Coordinates must be
// finite; they are not changed. No points give nil, one point
// gives it and no errors. The cost is n log n for usual lines, n² at worst.
func Simplify(pts []Pt, tol float64) (kept []int, made []float64) {
	if len(pts) == 0 {
		return nil, nil
	}
	kept = []int{0}
	// A stack instead of recursion: a rotten line may nest n deep.
	ends := []int{len(pts) - 1}
	for len(ends) > 0 {
		from, to := kept[len(kept)-1], ends[len(ends)-1]
		if from == to { // one point only
			break
		}
		far, dist := farthest(pts, from, to)
		if dist > tol {
			ends = append(ends, far)
			continue
		}
		ends = ends[:len(ends)-1]
		kept = append(kept, to)
		made = append(made, dist)
	}
	return kept, made
}

// farthest gives the vertex between from and to that lies farthest from the
// straight between them, and its distance; 0 when there is none between. A
// straight's distance to another is largest at a vertex, because distance to a
// straight is convex.
func farthest(pts []Pt, from, to int) (far int, dist float64) {
	for i := from + 1; i < to; i++ {
		if _, _, d := footOnSegment(pts[from], pts[to], pts[i]); d > dist {
			far, dist = i, d
		}
	}
	return far, dist
}
