package tracks

import (
	"strings"
	"unicode"
)

// A column is a value that a record of a track can have.
type column uint8

const (
	colTime      column = iota + 1
	colGPSTime          // on GPS time, not UTC
	colDate             // beside a time of day
	colWeek             // of GPS time
	colTow              // s of that week
	colLat              // degrees, north positive
	colLon              // degrees, east positive
	colLatE7            // in 10⁻⁷ degrees
	colLonE7            //
	colAlt              // m above the geoid, or nobody says what
	colEllipsoid        // m above the ellipsoid
	colGeoid            // geoid above ellipsoid, m
	colRadius68         // m, horizontal
	colRadius95         //
	colCEP              //
	colSigma            // of one horizontal axis, m
	colSigmaN           //
	colSigmaE           //
	colSigmaU           //
	colHDOP             //
	colVDOP             //
	colSats             // in use
	colFix              // the kind of fix
	colProvider         // of a phone: what the position rests on
	colMoving           // speed, course: that it is there shows a track
	columnCount         //
)

// A record is what one place of a track says, as text; "" where it says nothing.
type record [columnCount]string

// names lists what each value is called, as normalise writes it. Terms of GPX 1.1, KML
// 2.3, GeoJSON's common practice, the W3C's Geolocation API and of the trade.
var names = map[column][]string{
	colTime: {"time", "timestamp", "datetime", "date_time", "utc", "utc_time", "time_utc", "utc_datetime", "utc_timestamp", "timestamp_utc", "datetime_utc", "gps_time", "gps_timestamp",
		"local_time", "timestamp_ms", "time_ms", "timestamp_s", "unix_time", "unix_time_ms", "unix", "epoch", "epoch_time", "epoch_ms", "recorded_at", "recorded_on", "fix_time", "when",
		"zeit", "zeitstempel", "heure", "hora", "ora", "tijd"},
	colGPSTime:   {"gpst"},
	colDate:      {"date", "utc_date", "date_utc", "datum", "fecha", "data"},
	colWeek:      {"week", "gps_week", "gpst_week"},
	colTow:       {"tow", "gps_tow", "gps_seconds", "seconds_of_week", "time_of_week"},
	colLat:       {"lat", "latitude", "breite", "breitengrad", "latitud", "latitudine"},
	colLon:       {"lon", "lng", "long", "longitude", "laenge", "länge", "längengrad", "laengengrad", "longitud", "longitudine"},
	colLatE7:     {"latitude_e7", "lat_e7"},
	colLonE7:     {"longitude_e7", "lon_e7", "lng_e7"},
	colAlt:       {"alt", "altitude", "ele", "elevation", "height", "z", "msl", "altitude_msl", "msl_altitude", "orthometric_height", "höhe", "hoehe", "hauteur", "altitud", "quota"},
	colEllipsoid: {"ellipsoidal_height", "height_ellipsoidal", "ellipsoid_height", "height_ell", "h_ell", "ell_height", "altitude_ellipsoid", "ellipsoidal_altitude"},
	colGeoid:     {"geoidheight", "geoid_height", "geoid_separation", "geoid_sep", "undulation"},
	colRadius68:  {"accuracy", "acc", "hacc", "h_acc", "hor_acc", "horizontal_accuracy", "accuracy_horizontal", "position_accuracy", "pos_acc", "radius", "hor_accuracy", "accuracy_radius", "genauigkeit", "précision", "precision", "precisión"},
	colRadius95:  {"accuracy_95", "accuracy95", "horizontal_accuracy_95", "radius_95", "r95"},
	colCEP:       {"cep", "cep50", "accuracy_cep"},
	colSigma:     {"sd", "sigma", "sd_h", "sigma_h", "hrms", "h_rms", "horizontal_sd", "horizontal_sigma", "std_h", "hsd", "standard_deviation"},
	colSigmaN:    {"sd_n", "sdn", "sigma_n", "sigma_north", "sd_north", "std_north", "north_sd", "sigma_lat", "sd_lat", "lat_sd", "std_lat", "lat_sigma"},
	colSigmaE:    {"sd_e", "sde", "sigma_e", "sigma_east", "sd_east", "std_east", "east_sd", "sigma_lon", "sd_lon", "lon_sd", "std_lon", "lon_sigma"},
	colSigmaU:    {"sd_u", "sdu", "sigma_u", "sigma_up", "sd_up", "std_up", "up_sd", "vrms", "v_rms", "sd_v", "sigma_v", "vacc", "v_acc", "vertical_accuracy", "altitude_accuracy", "vertical_sd"},
	colHDOP:      {"hdop", "horizontal_dop"},
	colVDOP:      {"vdop", "vertical_dop"},
	colSats:      {"sat", "sats", "satellites", "num_sats", "num_sat", "nsat", "satellites_used", "sats_used", "n_sats"},
	colFix:       {"fix", "fix_type", "fix_quality", "gnss_fix", "gps_fix", "quality", "solution", "solution_type", "position_type"},
	colProvider:  {"provider", "source", "location_source", "location_provider"},
	colMoving:    {"speed", "velocity", "course", "bearing", "heading", "speed_accuracy", "bearing_accuracy", "heading_accuracy"},
}

var columnNamed = func() map[string]column {
	m := map[string]column{}
	for col, list := range names {
		for _, name := range list {
			m[name] = col
		}
	}
	return m
}()

// units are what may stand behind a name: metres, degrees and UTC change nothing.
var units = map[string]bool{"m": true, "metres": true, "meters": true, "deg": true, "degrees": true, "utc": true, "wgs84": true, "dd": true, "iso": true, "z": true}

// columnOf gives the column that a heading names, 0 for none. A heading with another
// unit than metres and degrees names none: what is not read cannot be read wrongly.
func columnOf(heading string) column {
	name := normalise(heading)
	for {
		if col := columnNamed[name]; col != 0 {
			return col
		}
		cut := strings.LastIndexByte(name, '_')
		if cut < 0 || !units[name[cut+1:]] {
			return 0
		}
		name = name[:cut]
	}
}

// normalise writes a heading as names are compared: lower case, its words joined by an
// underscore, also those of horizontalAccuracy.
func normalise(heading string) string {
	const longest = 64
	if len(heading) > longest {
		return ""
	}
	var b strings.Builder
	gap, lower := false, false
	for _, r := range heading {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			gap, lower = b.Len() > 0, false
			continue
		}
		if gap || lower && unicode.IsUpper(r) {
			b.WriteByte('_')
		}
		gap, lower = false, unicode.IsLower(r)
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}
