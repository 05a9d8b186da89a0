package readings_test

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/simplifiedchinese"
	"golang.org/x/text/encoding/unicode/utf32"

	"tracemap/readings"
)

// A truth is one reading of the day that every shape tells.
type truth struct {
	at             time.Time
	line           string
	depth, current float64 // m, mA
}

// knownDay is a day of twelve readings on the 25th of May, so that days and months
// can be told apart.
func knownDay() []truth {
	var out []truth
	for i := range 12 {
		out = append(out, truth{time.Date(2026, 5, 25, 8, 0, 7*i, 0, time.UTC), fmt.Sprintf("W%d", 1+i/6), 0.90 + 0.05*float64(i), 45.5 - 1.5*float64(i)})
	}
	return out
}

// rowsOf writes the day with one format a row.
func rowsOf(header, end string, row func(truth) string) string {
	var b strings.Builder
	b.WriteString(header)
	for _, r := range knownDay() {
		b.WriteString(row(r) + end)
	}
	return b.String()
}

func comma(v float64, digits int) string {
	return strings.Replace(fmt.Sprintf("%.*f", digits, v), ".", ",", 1)
}

func encoded(text string, enc interface{ String(string) (string, error) }) string {
	out, err := enc.String(text)
	if err != nil {
		panic(err)
	}
	return out
}

// shapes are logs of the known day, named by their shape. says is a word of the
// refusal where one is right; "" where the day must be read.
var shapes = []struct {
	name string
	text func(t *testing.T) string
	says string
}{
	{"own columns", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format(time.RFC3339), r.line, r.depth, r.current)
	})), ""},
	{"pipes with a ruling", plainText(rowsOf("| Time | Line | Depth (m) | Current (mA) |\n|------|------|------|------|\n", "\n", func(r truth) string {
		return fmt.Sprintf("| %s | %s | %.2f | %.1f |", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"fixed width", plainText(rowsOf("Survey of the day\n\nTime                 Line  Depth m  Current mA\n-------------------  ----  -------  ----------\n", "\n", func(r truth) string {
		return fmt.Sprintf("%-19s  %-4s  %7.2f  %10.1f", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"blocks of names and values", plainText(rowsOf("", "\n\n", func(r truth) string {
		return fmt.Sprintf("Time: %s\nLine: %s\nDepth (m): %.2f\nCurrent (mA): %.1f", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"rows in quotes", plainText(rowsOf("\"time,line,depth_m,current_ma\"\n", "\n", func(r truth) string {
		return fmt.Sprintf("\"%s,%s,%.2f,%.1f\"", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"texts kept from a spreadsheet", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,\"=\"\"%.2f\"\"\",'%.1f", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"decimal commas in quotes", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,\"%s\",\"%s\"", r.at.Format(time.DateTime), r.line, comma(r.depth, 2), comma(r.current, 1))
	})), ""},
	{"feet and inches", plainText(rowsOf("time\tline\tdepth\tcurrent_ma\n", "\n", func(r truth) string {
		inches := r.depth / 0.0254
		return fmt.Sprintf("%s\t%s\t%d'-%.4f\"\t%.1f", r.at.Format(time.DateTime), r.line, int(inches/12), math.Mod(inches, 12), r.current)
	})), ""},
	{"units in cells", plainText(rowsOf("time;line;depth;current\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s;%s;%s m;%s mA", r.at.Format(time.DateTime), r.line, comma(r.depth, 2), comma(r.current, 1))
	})), ""},
	{"days first", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format("02/01/2006 15:04:05"), r.line, r.depth, r.current)
	})), ""},
	{"months first with am", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format("1/2/2006 3:04:05 PM"), r.line, r.depth, r.current)
	})), ""},
	{"names of months", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format("02-Jan-2006 15:04:05"), r.line, r.depth, r.current)
	})), ""},
	{"basic form", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format("20060102T150405Z"), r.line, r.depth, r.current)
	})), ""},
	{"seconds since 1970", plainText(rowsOf("timestamp,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%d,%s,%.2f,%.1f", r.at.Unix(), r.line, r.depth, r.current)
	})), ""},
	{"milliseconds since 1970", plainText(rowsOf("timestamp,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%d,%s,%.2f,%.1f", r.at.UnixMilli(), r.line, r.depth, r.current)
	})), ""},
	{"day numbers of a spreadsheet", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%.9f,%s,%.2f,%.1f", dayNumber(r.at), r.line, r.depth, r.current)
	})), ""},
	{"seconds since the start", plainText(rowsOf("Start: 2026-05-25 08:00:00\nelapsed_s,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%.1f,%s,%.2f,%.1f", r.at.Sub(knownDay()[0].at).Seconds(), r.line, r.depth, r.current)
	})), ""},
	{"week and seconds of GPS", plainText(rowsOf("gps_week,tow,line,depth_m,current_ma\n", "\n", func(r truth) string {
		s := r.at.Add(18 * time.Second).Sub(time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)).Seconds()
		return fmt.Sprintf("%d,%.1f,%s,%.2f,%.1f", int(s)/604800, math.Mod(s, 604800), r.line, r.depth, r.current)
	})), ""},
	{"time of day below a date", plainText(rowsOf("Date,2026-05-25\nInstrument,A-7\n\ntime,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format(time.TimeOnly), r.line, r.depth, r.current)
	})), ""},
	{"time of day alone", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format(time.TimeOnly), r.line, r.depth, r.current)
	})), "without a date"},
	{"day or month open", plainText("time,depth_m\n05/03/2026 08:00:00,1.2\n"), "day or the month first"},
	{"depth without unit", plainText("time,depth\n2026-05-25 08:00:00,1.2\n"), "states no unit"},
	{"plain counts", plainText("time,depth_m\n1,1.2\n2,1.2\n"), "plain numbers"},
	{"transposed", plainText("time,2026-03-05 08:00:00,2026-03-05 08:00:10\ndepth_m,1.2,1.3\n"), "transposed"},
	{"zone in the cells", plainText(rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s CEST,%s,%.2f,%.1f", r.at.Add(2*time.Hour).Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"zone in the header", plainText(rowsOf("Local time (UTC+2),line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Add(2*time.Hour).Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"header of two rows", plainText(rowsOf(",,Depth,Line\nTime,Line,to centre (m),current (mA)\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"header, units and totals", plainText(rowsOf("Time,Line,Depth,Current\n,,m,mA\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	}) + "Mean,,1.18,37.2\n"), ""},
	{"sixty lines above the header", plainText(strings.Repeat("some words of the project\n", 60) + rowsOf("time,line,depth_m,current_ma\n", "\n", func(r truth) string {
		return fmt.Sprintf("%s,%s,%.2f,%.1f", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	})), ""},
	{"German", plainText(inLanguage("Zeit;Leitung;Tiefe [m];Strom [mA]\n")), ""},
	{"French", plainText(inLanguage("Date heure;Ligne;Profondeur (m);Courant (mA)\n")), ""},
	{"Spanish", plainText(inLanguage("Fecha y hora;Línea;Profundidad (m);Corriente (mA)\n")), ""},
	{"Portuguese", plainText(inLanguage("Data e hora;Linha;Profundidade (m);Corrente (mA)\n")), ""},
	{"Italian", plainText(inLanguage("Data e ora;Linea;Profondità (m);Corrente (mA)\n")), ""},
	{"Dutch", plainText(inLanguage("Datum en tijd;Leiding;Diepte (m);Stroom (mA)\n")), ""},
	{"Polish in Windows-1250", plainText(encoded(inLanguage("Data i godzina;Odcinek;Głębokość (m);Prąd (mA)\n"), charmap.Windows1250.NewEncoder())), ""},
	{"Czech in Windows-1250", plainText(encoded(inLanguage("Datum a čas;Úsek;Hloubka (m);Proud (mA)\n"), charmap.Windows1250.NewEncoder())), ""},
	{"Chinese in GB18030", plainText(encoded(inLanguage("时间;管段;埋深(m);电流(mA)\n"), simplifiedchinese.GB18030.NewEncoder())), "to the top or to the centre"},
	{"Chinese, depth of the centre", plainText(encoded(inLanguage("时间;管段;深度(米);电流(mA)\n"), simplifiedchinese.GB18030.NewEncoder())), ""},
	{"Japanese", plainText(inLanguage("日時;路線;深さ(m);電流(mA)\n")), ""},
	{"UTF-32", plainText(encoded(inLanguage("Zeit;Leitung;Tiefe in m;Strom in mA\n"), utf32.UTF32(utf32.LittleEndian, utf32.UseBOM).NewEncoder())), ""},
	{"JSON array", plainText("[" + strings.TrimSuffix(rowsOf("", ",\n", jsonRow), ",\n") + "]"), ""},
	{"JSON lines", plainText(rowsOf("", "\n", jsonRow)), ""},
	{"JSON with a head", plainText(`{"operator":"N. N.","readings":[` + strings.TrimSuffix(rowsOf("", ",", jsonRow), ",") + "]}"), ""},
	{"GeoJSON points", plainText(`{"type":"FeatureCollection","features":[` + strings.TrimSuffix(rowsOf("", ",", func(r truth) string {
		return `{"type":"Feature","geometry":{"type":"Point","coordinates":[8.2,47.1]},"properties":` + jsonRow(r) + "}"
	}), ",") + "]}"), ""},
	{"GPX waypoints", plainText(rowsOf(`<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x">`, "\n", func(r truth) string {
		return fmt.Sprintf(`<wpt lat="47.1" lon="8.2"><time>%s</time><extensions><x:line>%s</x:line><x:depth_m>%.2f</x:depth_m><x:current_ma>%.1f</x:current_ma></extensions></wpt>`,
			r.at.Format(time.RFC3339), r.line, r.depth, r.current)
	}) + "</gpx>"), ""},
	{"KML placemarks", plainText(rowsOf(`<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>`, "\n", func(r truth) string {
		return fmt.Sprintf(`<Placemark><TimeStamp><when>%s</when></TimeStamp><ExtendedData><Data name="line"><value>%s</value></Data><Data name="depth_m"><value>%.2f</value></Data><Data name="current_ma"><value>%.1f</value></Data></ExtendedData><Point><coordinates>8.2,47.1,0</coordinates></Point></Placemark>`,
			r.at.Format(time.RFC3339), r.line, r.depth, r.current)
	}) + "</Document></kml>"), ""},
	{"HTML table", plainText(rowsOf("<html><body><h1>Day</h1><table><tr><th>Time</th><th>Line</th><th>Depth&nbsp;(m)</th><th>Current (mA)</th></tr>", "\n", func(r truth) string {
		return fmt.Sprintf("<tr><td>%s</td><td><b>%s</b></td><td>%.2f</td><td>%.1f</td></tr>", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	}) + "</table></body></html>"), ""},
	{"spreadsheet", workbook, ""},
	{"OpenDocument spreadsheet", openDocument, ""},
	{"SQLite database", database, ""},
}

func plainText(text string) func(*testing.T) string { return func(*testing.T) string { return text } }

func dayNumber(t time.Time) float64 {
	return t.Sub(time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)).Hours() / 24
}

func inLanguage(header string) string {
	return rowsOf(header, "\r\n", func(r truth) string {
		return fmt.Sprintf("%s;%s;%s;%s", r.at.Format("02.01.2006 15:04:05"), r.line, comma(r.depth, 2), comma(r.current, 1))
	})
}

func jsonRow(r truth) string {
	return fmt.Sprintf(`{"time":%q,"line":%q,"depth_m":%.2f,"current_ma":%.1f}`, r.at.Format(time.RFC3339), r.line, r.depth, r.current)
}

// workbook is a sheet with words, another with the readings, whose times are day
// numbers under a date's format.
func workbook(t *testing.T) string {
	f := excelize.NewFile()
	defer f.Close()
	check := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	check(f.SetCellValue("Sheet1", "A1", "Read me"))
	_, err := f.NewSheet("Log")
	check(err)
	check(f.SetSheetRow("Log", "B3", &[]any{"Time", "Line", "Depth (m)", "Current (mA)"}))
	for i, r := range knownDay() {
		check(f.SetSheetRow("Log", fmt.Sprintf("B%d", 4+i), &[]any{r.at, r.line, r.depth, r.current}))
	}
	b, err := f.WriteToBuffer()
	check(err)
	return b.String()
}

func openDocument(t *testing.T) string {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.CreateHeader(&zip.FileHeader{Name: "mimetype", Method: zip.Store})
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(w, "application/vnd.oasis.opendocument.spreadsheet")
	w, _ = z.Create("content.xml")
	text := func(s string) string {
		return `<table:table-cell office:value-type="string"><text:p>` + s + `</text:p></table:table-cell>`
	}
	fmt.Fprint(w, `<office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="x"><office:body><office:spreadsheet><table:table table:name="Log">`+
		`<table:table-row>`+text("Time")+text("Line")+text("Depth (m)")+text("Current (mA)")+`<table:table-cell table:number-columns-repeated="16380"/></table:table-row>`)
	for _, r := range knownDay() {
		fmt.Fprintf(w, `<table:table-row><table:table-cell office:value-type="date" office:date-value="%s"><text:p>today</text:p></table:table-cell>%s`+
			`<table:table-cell office:value-type="float" office:value="%.2f"/><table:table-cell office:value-type="float" office:value="%.1f"/></table:table-row>`,
			r.at.Format("2006-01-02T15:04:05"), text(r.line), r.depth, r.current)
	}
	fmt.Fprint(w, `<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="16384"/></table:table-row></table:table></office:spreadsheet></office:body></office:document-content>`)
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func database(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "log.db")
	db, err := sqlite3.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	sql := "CREATE TABLE settings(a,b); CREATE TABLE log(time TEXT, line TEXT, depth_m REAL, current_ma REAL);"
	for _, r := range knownDay() {
		sql += fmt.Sprintf("INSERT INTO log VALUES('%s','%s',%.2f,%.1f);", r.at.Format(time.DateTime), r.line, r.depth, r.current)
	}
	if err := errors.Join(db.Exec(sql), db.Close()); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// Every shape of the known day is read right, or refused with the cause: nothing is
// wrong and nothing lost.
func TestShapes(t *testing.T) {
	count := map[string]int{}
	for _, s := range shapes {
		text := s.text(t)
		log, err := readings.Read(context.Background(), []readings.Source{{Name: s.name, R: strings.NewReader(text)}}, readings.Options{Zone: time.UTC})
		verdict := verdictOf(log, err)
		count[verdict]++
		switch {
		case s.says == "" && verdict != "right":
			detail := ""
			if log != nil {
				detail = fmt.Sprintf("%d readings, aside %.300s, cells %.300s, warnings %q", len(log.Readings), fmt.Sprint(log.Aside), fmt.Sprint(log.Cells), log.Warnings)
			}
			t.Errorf("%s: %s (%v) %s", s.name, verdict, err, detail)
		case s.says != "" && (err == nil || !strings.Contains(err.Error(), s.says)):
			t.Errorf("%s: error %v, want one that says %q", s.name, err, s.says)
		}
	}
	t.Logf("%d shapes: %v", len(shapes), count)
}

// verdictOf holds a log against the known day.
func verdictOf(log *readings.Log, err error) string {
	if err != nil {
		return "refused"
	}
	day := knownDay()
	if len(log.Readings) < len(day) {
		return "lost"
	}
	if len(log.Readings) > len(day) {
		return "wrong"
	}
	for i, r := range log.Readings {
		w := day[i]
		switch {
		case math.IsNaN(r.Depth) || math.IsNaN(r.Current) || r.Time.IsZero():
			return "lost"
		case r.Time.Sub(w.at).Abs() > time.Millisecond || r.Line != w.line || math.Abs(r.Depth-w.depth) > 1e-5 || math.Abs(r.Current-w.current) > 1e-9:
			return "wrong"
		}
	}
	return "right"
}
