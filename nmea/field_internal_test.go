package nmea

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func fieldsIn(text string) *fields { return &fields{b: []byte(text)} }

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		text  string
		want  float64
		fault bool
	}{
		{"0", 0, false}, {"-0.5", -0.5, false}, {"+3.25", 3.25, false}, {"007.50", 7.5, false}, {".5", 0.5, false}, {"5.", 5, false},
		{"12345678901234567890.123", 12345678901234567890.123, false}, {"0.1234567890123456789", 0.1234567890123456789, false},
		{"9007199254740993", 9007199254740993, false}, {"-99999999999999999999", -1e20, false},
		{"", math.NaN(), false},
		{"-", math.NaN(), true}, {".", math.NaN(), true}, {"1e3", math.NaN(), true}, {"NaN", math.NaN(), true}, {"Inf", math.NaN(), true},
		{"1.2.3", math.NaN(), true}, {"1 ", math.NaN(), true}, {"0x10", math.NaN(), true}, {"--1", math.NaN(), true},
	} {
		f := fieldsIn(c.text + ",next")
		got := f.number()
		if !same(got, c.want) || (f.reason != "") != c.fault {
			t.Errorf("%q: got %v, fault %q; want %v, fault %t", c.text, got, f.reason, c.want, c.fault)
		}
		if f.fault != 0 && f.fault != 1 {
			t.Errorf("%q: fault in field %d, want 1", c.text, f.fault)
		}
		if next := f.text(); string(next) != "next" {
			t.Errorf("%q: the field behind reads %q", c.text, next)
		}
	}
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// Every number of few characters is read from a word, and as strconv reads it;
// what strconv does not read, or only with a sign or an exponent, is left to the
// loop.
func TestShortNumber(t *testing.T) {
	const characters = "0123456789.+-eE ,x\x00\xff:/"
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune("0123456789.")), 0, 9, 9).Draw(t, "text")
		if rapid.IntRange(0, 3).Draw(t, "odd") == 0 {
			b := rapid.SliceOfN(rapid.SampledFrom([]byte(characters)), 0, 9).Draw(t, "bytes")
			text = string(b)
		}
		field, _, _ := strings.Cut(text, ",")
		digits, decimals, length, ok := shortNumber(binary.LittleEndian.Uint64([]byte(text + ",no more")))
		want, err := strconv.ParseFloat(field, 64)
		short := err == nil && len(field) <= 7 && strings.Trim(field, "0123456789.") == ""
		if ok != short || ok && (length != len(field) || float64(digits)/pow10[decimals] != want) {
			t.Fatalf("%q: got %d with %d decimals in %d characters, %t; want %v, %t", field, digits, decimals, length, ok, want, short)
		}
	})
}

// Numbers come out as strconv reads them, to the last bit.
func TestNumberLikeStrconv(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`-?\d{0,12}(\.\d{0,12})?`).Draw(t, "text")
		want, err := strconv.ParseFloat(text, 64)
		got := fieldsIn(text).number()
		if err != nil {
			want = math.NaN()
		}
		if !same(got, want) {
			t.Fatalf("%q: got %v, want %v", text, got, want)
		}
	})
}

// Angles are the correctly rounded value of degrees plus minutes over sixty, as
// exact fractions give it.
func TestAngleIsCorrectlyRounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		degrees := rapid.IntRange(0, 179).Draw(t, "degrees")
		minutes := rapid.StringMatching(`[0-5]\d(\.\d{1,8})?`).Draw(t, "minutes")
		letter := rapid.SampledFrom([]string{"E", "W"}).Draw(t, "letter")
		f := fieldsIn(fmt.Sprintf("%03d%s,%s", degrees, minutes, letter))
		got := f.longitude()
		exact, _ := new(big.Rat).SetString(minutes)
		exact.Quo(exact, big.NewRat(60, 1)).Add(exact, big.NewRat(int64(degrees), 1))
		if letter == "W" {
			exact.Neg(exact)
		}
		if want, _ := exact.Float64(); got != want || f.reason != "" {
			t.Fatalf("got %v (%s), want %v", got, f.reason, want)
		}
	})
}

func TestAngleRefusals(t *testing.T) {
	for _, c := range []struct {
		text   string
		lat    bool
		fault  int
		strict bool
	}{
		{"4807.038,N", true, 0, false}, {"9000.000,S", true, 0, false}, {"18000.0,W", false, 0, false},
		{"807.038,N", true, 0, false}, // a leading zero left out: a checksum vouches for it
		{"807.038,N", true, 1, true},  // without one it is 48 degrees with a digit lost
		{"0131.000,E", false, 1, true},
		{",", true, 0, false}, {"", true, 0, false},
		{"4807.038,E", true, 2, false}, {"4807.038,", true, 2, false}, {"4807.038", true, 2, false}, {"4807.038,NN", true, 2, false},
		{"--4807.038,N", true, 1, false}, {"-,N", true, 1, false}, {"-4807.038,E", true, 2, false}, {"+4807.038,", true, 2, false},
		{"+4807.038,S", true, 2, false}, // the sign says one thing, the letter the other
		{"4860.000,N", true, 1, false}, {"9000.001,N", true, 1, false}, {"18000.1,E", false, 1, false},
		{"48 07.038,N", true, 1, false}, {"x,N", true, 1, false}, {"04807.038,N", true, 1, false}, {"07.038,N", true, 1, false},
		{"4807.03800000000000000000000000000000000,N", true, 1, false},
	} {
		f := fieldsIn(c.text)
		f.strict = c.strict
		v := 0.0
		if c.lat {
			v = f.latitude()
		} else {
			v = f.longitude()
		}
		if f.fault != c.fault || f.fault != 0 && !math.IsNaN(v) {
			t.Errorf("%q: got %v, fault in field %d (%s), want field %d", c.text, v, f.fault, f.reason, c.fault)
		}
		if f.n != 2 {
			t.Errorf("%q: %d fields read, want 2", c.text, f.n)
		}
	}
}

// A minus counts as south or west whatever letter stands beside it, or none.
func TestSignedAngles(t *testing.T) {
	for text, want := range map[string]float64{
		"-3003.000,N": -30.05, "-3003.000,S": -30.05, "-3003.000,": -30.05, "+3003.000,N": 30.05, "3003.000,S": -30.05, "-303.000,N": -3.05,
	} {
		f := fieldsIn(text)
		if got := f.latitude(); got != want || f.reason != "" || f.signed != (text[0] == '-' || text[0] == '+') || f.n != 2 {
			t.Errorf("%q: got %v (%s), signed %t, want %v", text, got, f.reason, f.signed, want)
		}
	}
	f := fieldsIn("-3003.0,N,05113.2,W")
	if lat, lon := f.latitude(), f.longitude(); lat != -30.05 || lon != -51.22 {
		t.Errorf("a sign before the latitude alone: got %v, %v", lat, lon)
	}
}

func TestClock(t *testing.T) {
	for _, c := range []struct {
		text string
		want int64
		ok   bool
	}{
		{"000000", 0, true}, {"123519", 45319e9, true}, {"235959.999999999", day - 1, true}, {"142305.2", 51785.2e9, true},
		{"142305.", 51785e9, true}, {"142305.1234567899", 51785123456789, true}, {"235960.00", day, true}, {"235960.50", day + second/2, true},
		{"", noTime, true},
		{"240000", noTime, false}, {"126000", noTime, false}, {"120060", noTime, false}, {"120061", noTime, false},
		{"12351", noTime, false}, {"1235190", noTime, false}, {"12:35:19", noTime, false}, {"-12351", noTime, false}, {"142305.1x", noTime, false},
	} {
		f := fieldsIn(c.text)
		if got := f.clock(); got != c.want || (f.reason == "") != c.ok {
			t.Errorf("%q: got %d (%s), want %d", c.text, got, f.reason, c.want)
		}
	}
}

// Days of the calendar are those of the standard library, over the years that two
// and four digits can tell.
func TestDaysLikeTime(t *testing.T) {
	for d := time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC); d.Year() < 2500; d = d.AddDate(0, 0, 1) {
		if got, want := daysOf(d.Year(), int(d.Month()), d.Day()), int32(d.Unix()/86400); got != want {
			t.Fatalf("%s: got %d, want %d", d.Format(time.DateOnly), got, want)
		}
		next := d.AddDate(0, 0, 1)
		if last := next.Month() != d.Month(); last != (d.Day() == monthLength(d.Year(), int(d.Month()))) {
			t.Fatalf("%s: the month has %d days", d.Format(time.DateOnly), monthLength(d.Year(), int(d.Month())))
		}
	}
}

func TestDate(t *testing.T) {
	for _, c := range []struct {
		text, want string
	}{
		{"251126", "2026-11-25"}, {"010180", "1980-01-01"}, {"311299", "1999-12-31"}, {"010100", "2000-01-01"}, {"311279", "2079-12-31"},
		{"290224", "2024-02-29"}, {"290223", ""}, {"310299", ""}, {"000126", ""}, {"321226", ""}, {"011326", ""}, {"25112026", ""}, {"2511", ""}, {"", ""},
	} {
		f := fieldsIn(c.text)
		got := f.date()
		if text := dateText(got); got == noDate && c.want != "" || got != noDate && text != c.want {
			t.Errorf("%q: got %s, want %s", c.text, text, c.want)
		}
		if (f.reason != "") != (c.want == "" && c.text != "") {
			t.Errorf("%q: fault %q", c.text, f.reason)
		}
	}
}

// The ellipse's formula against a covariance turned by hand, and the rule that it
// must give σ north and σ east back within a tenth.
func TestEllipse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.01, 10).Draw(t, "a")
		b := a * rapid.Float64Range(0.05, 1).Draw(t, "b/a")
		theta := rapid.Float64Range(-360, 360).Draw(t, "theta")
		// In its own axes the covariance is diag(a², b²); R turns the first onto
		// azimuth theta: north = a cos, east = a sin.
		c, s := math.Cos(theta*math.Pi/180), math.Sin(theta*math.Pi/180)
		nn, ee, ne := c*c*a*a+s*s*b*b, s*s*a*a+c*c*b*b, c*s*a*a-s*c*b*b
		if got := ellipseCovariance(a, b, theta, math.Sqrt(nn), math.Sqrt(ee)); math.Abs(got-ne) > 1e-12*a*a {
			t.Fatalf("covariance: got %v, want %v m²", got, ne)
		}
		if got := ellipseCovariance(a, b, theta, math.Sqrt(nn)*1.12, math.Sqrt(ee)); got != 0 {
			t.Fatalf("an ellipse 12 %% off is used: %v", got)
		}
		if math.Abs(ne) > math.Sqrt(nn*ee) {
			t.Fatalf("no covariance matrix: %v, %v, %v", nn, ee, ne)
		}
	})
	for _, c := range []struct{ a, b, theta, n, e float64 }{
		{0.023, 0.020, 273.6, 0.023, 0.020},          // a published sample: north and east swapped
		{15.3, 7.2, 21.8, 0.9, 0.5},                  // another: the ellipse is of something else
		{0.015, 0.009, 37.5, 0.013, 0.010},           // east off by 16 %
		{math.NaN(), math.NaN(), math.NaN(), 1, 1},   // fields 3 to 5 empty
		{0.015, 0.009, 37.5, math.NaN(), math.NaN()}, // no σ
	} {
		if got := ellipseCovariance(c.a, c.b, c.theta, c.n, c.e); got != 0 {
			t.Errorf("%+v: got %v, want 0", c, got)
		}
	}
}

func TestModes(t *testing.T) {
	for modes, want := range map[string]Quality{
		"RRNN": QualityRTKFixed, "FFFF": QualityRTKFloat, "DAAN": QualityDGPS, "AN": QualityAutonomous, "NNNN": QualityNone, "": QualityNone,
		"NE": QualityEstimated, "FR": QualityRTKFixed, "PD": QualityPPS, "M": QualityManual, "S": QualitySimulator, "XA": QualityAutonomous,
	} {
		if got := gnsQuality([]byte(modes)); got != want {
			t.Errorf("%q: got %s, want %s", modes, got, want)
		}
	}
	for _, c := range []struct {
		status byte
		mode   string
		want   Quality
		fix    bool
	}{
		{'A', "", QualityUnknown, true}, {'A', "A", QualityAutonomous, true}, {'A', "R", QualityRTKFixed, true}, {'A', "N", QualityNone, false},
		{'V', "", QualityNone, false}, {'V', "N", QualityNone, false}, {'V', "A", QualityNone, false}, {'V', "E", QualityNone, false},
		{'V', "R", QualityRTKFixed, true}, {'V', "F", QualityRTKFloat, true}, // the letter of the standard
		{'A', "C", QualityUnknown, true}, {0, "A", QualityNone, false},
	} {
		if got, fix := statusQuality(c.status, []byte(c.mode)); got != c.want || fix != c.fix {
			t.Errorf("status %c mode %q: got %s %t, want %s %t", c.status, c.mode, got, fix, c.want, c.fix)
		}
	}
}
