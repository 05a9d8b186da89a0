package fieldlogs

import (
	"fmt"
	"math"
	"strings"
	"text/tabwriter"
)

// RenderNoise writes what was measured as a table.
func RenderNoise(list []Noise) string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "log\treference\taxes\tfix\tepochs\tseconds\tbias\tspread\tquick\tshare\ttau\tclaimed")
	for _, n := range list {
		fmt.Fprintf(w, "%s\t%s\t%s\t%v\t%d\t%.0f\t%s\t%s\t%s\t%s\t%s\t%s\n", n.Log, n.Against, n.Axes, n.Quality, n.Epochs, n.Seconds,
			number(n.Bias, 3), number(n.Spread, 4), number(n.Quick, 4), number(n.Share, 3), number(n.Tau, 0), number(n.Claimed, 3))
	}
	w.Flush()
	return b.String()
}

// RenderLaid writes how invented readings fared as a table.
func RenderLaid(list []Laid) string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "log\treference\tfix\treadings\tmetres\tcover%\tneed\thalf\trmse")
	for _, l := range list {
		fmt.Fprintf(w, "%s\t%s\t%v\t%d\t%.0f\t%.1f\t%s\t%.3f\t%.3f\n", l.Log, l.Against, l.Quality, l.Readings, l.Length,
			100*l.Coverage(), number(l.Factor(), 2), l.MeanHalf(), l.RMSE())
	}
	w.Flush()
	return b.String()
}

// RenderJumps writes how often walks were taken for jumps as a table.
func RenderJumps(list []Jumps) string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "log of a walk\thours\tjumps\tfalse\tfalse an hour\tflagged%")
	for _, j := range list {
		fmt.Fprintf(w, "%s\t%.2f\t%d\t%d\t%.1f\t%.1f\n", j.Log, j.Hours, j.Steps, j.Walked, j.FalsePerHour(), 100*j.FlaggedPart)
	}
	w.Flush()
	return b.String()
}

// number writes a figure; "-" where there is none.
func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	return fmt.Sprintf("%.*f", decimals, v)
}
