package nmea_test

import (
	"context"
	"fmt"
	"strings"

	"tracemap/nmea"
)

// Two files of one log, the later first: the epochs come in order, with what all
// sentences of one time told.
func ExampleRead() {
	later := "$GNGGA,093001.00,5206.1234567,N,00454.7645631,W,4,17,0.71,45.412,M,46.914,M,1.2,0000*4B\r\n"
	first := "$GNGGA,093000.00,5206.1234567,N,00454.7654321,W,5,17,0.71,45.412,M,46.914,M,1.2,0000*4F\r\n" +
		"$GNRMC,093000.00,A,5206.1234567,N,00454.7654321,W,1.944,84.4,251126,,,F,V*12\r\n" +
		"$GNGST,093000.00,0.011,0.015,0.009,37.5,0.013,0.012,0.022*7E\r\n"
	log, err := nmea.Read(context.Background(), []nmea.Source{
		{Name: "b.nmea", R: strings.NewReader(later)},
		{Name: "a.nmea", R: strings.NewReader(first)},
	}, nmea.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range log.Epochs {
		e := &log.Epochs[i]
		fmt.Printf("%s %.7f %.7f %.3f m %s σ north %g m\n", e.UTC().Format("2006-01-02 15:04:05"), e.Lat, e.Lon, e.Height(), e.Quality, e.SigmaN)
	}
	fmt.Println(log.Warnings)
	// Output:
	// 2026-11-25 09:30:00 52.1020576 -4.9127572 92.326 m rtk_float σ north 0.013 m
	// 2026-11-25 09:30:01 52.1020576 -4.9127427 92.326 m rtk_fixed σ north NaN m
	// [the log, or a file of it, has no date: the date is taken from its other files (2026-11-25)]
}
