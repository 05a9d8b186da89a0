package readings_test

import (
	"testing"

	"tracemap/readings"
	"tracemap/remarks"
)

// Readable values stay as they are, and get the flags that they deserve.
func TestFlags(t *testing.T) {
	const header = "time,method,response,frequency_hz,depth_m,current_ma,null_offset_m,feature\n2026-03-05T08:00:00Z,"
	for _, c := range []struct {
		row  string
		want remarks.Set
	}{
		{"direct,peak,512,1.2,50,,", 0},
		{"direct,peak,98,1.2,50,,", 0},
		{"direct,peak,97.9,1.2,50,,", remarks.FrequencyOdd},
		{"direct,peak,200000,1.2,50,,", 0},
		{"direct,peak,200001,1.2,50,,", remarks.FrequencyOdd},
		{"direct,peak,0,1.2,50,,", remarks.FrequencyOdd},
		{"direct,peak,50,1.2,50,,", remarks.FrequencyOdd},
		{"passive,peak,50,,,,", remarks.DepthMissing},
		{"passive,peak,150,1.2,,,", remarks.DepthPassive},
		{"passive,peak,radio,1.2,,,", remarks.DepthPassive},
		{",peak,60,1.2,,,", remarks.DepthPassive},
		{",peak,power,1.2,,,", remarks.DepthPassive},
		{",peak,33,1.2,,,", remarks.FrequencyOdd},
		{"direct,peak,512,,50,,", remarks.DepthMissing},
		{"direct,peak,512,,50,,valve", 0},
		{"sonde,peak,512,,,,", 0},
		{"direct,peak,512,0,50,,", remarks.DepthImplausible},
		{"direct,peak,512,-1,50,,", remarks.DepthImplausible},
		{"direct,null,512,1.2,50,,", remarks.DepthWeak},
		{"direct,single,512,1.2,50,,", remarks.DepthWeak},
		{"direct,omni,512,1.2,50,,", 0},
		// Depth that coils 0.4 m apart can tell: σ is √2·1 %·(d + 0.4)/0.4 of it:
		// 12 % at 2.99 m, 25 % at 6.67 m; a third of it for a sonde.
		{"direct,peak,512,2.9,,,", 0},
		{"direct,peak,512,3.1,,,", remarks.DepthWeak},
		{"direct,peak,512,6.5,,,", remarks.DepthWeak},
		{"direct,peak,512,6.8,,,", remarks.DepthWeak | remarks.DepthImplausible},
		{"sonde,peak,512,9,,,", 0},
		{"sonde,peak,512,15,,,", remarks.DepthWeak},
		{"sonde,peak,512,22,,,", remarks.DepthWeak | remarks.DepthImplausible},
		// With 0.1 mA a field of 10 pT is left at 2 m, of which 1 pT is 10 %.
		{"direct,peak,512,2,0.1,,", remarks.DepthWeak | remarks.DepthImplausible},
		{"direct,peak,512,1,1,,", 0},
		{"direct,peak,512,1.2,-3,,", remarks.CurrentImplausible},
		{"direct,peak,512,1.2,0,,", remarks.CurrentImplausible},
		{"direct,peak,512,1.2,1001,,", remarks.CurrentImplausible},
		{"passive,peak,50,,5000,,", remarks.DepthMissing},
		{"direct,peak,512,1.2,50,0.11,", 0},
		{"direct,peak,512,1.2,50,-0.13,", remarks.PeakNullApart},
		{"direct,peak,512,,50,0.11,", remarks.PeakNullApart | remarks.DepthMissing},
	} {
		if got := only(t, read(t, header+c.row+"\n", readings.Options{})).Flags; got != c.want {
			t.Errorf("%s: flags = %v, want %v", c.row, got, c.want)
		}
	}
}
