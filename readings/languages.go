package readings

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// languages holds what headers are called in other languages, by our column. To
// add a language, add a line to each column; case, accents and signs make no
// difference. Left out are words that mean two things, as "Nr.".
var languages = map[string][]string{
	"time": {
		"Zeit", "Uhrzeit", "Zeitpunkt", "Zeitstempel", "Messzeit", // German
		"heure", "horodatage", "date heure", // French
		"hora", "fecha y hora", "fecha hora", "marca de tiempo", // Spanish
		"data e hora", "data hora", "horário", // Portuguese
		"ora", "orario", "data e ora", "data ora", // Italian
		"tijd", "tijdstip", "datum tijd", "datum en tijd", // Dutch
		"czas", "godzina", "data i godzina", "data godzina", // Polish
		"čas", "datum a čas", "datum čas", // Czech
		"时间", "日期时间", "測定時間", "测量时间", "采集时间", // Chinese
		"時刻", "日時", "時間", "測定時刻", "測定日時", // Japanese
		"Datum Uhrzeit", "Datum/Uhrzeit", "Datum und Uhrzeit", "Datum Zeit",
	},
	"date": {"Datum", "Messdatum", "Tag", "date du relevé", "jour", "fecha", "data", "data pomiaru", "datum měření", "日期", "日付", "測定日"},
	"line": {
		"Leitung", "Linie", "Leitungsnummer", "Leitung Nr", "Trasse", "Strang", // German
		"ligne", "tronçon", "canalisation", // French
		"línea", "tramo", // Spanish
		"linha", "trecho", // Portuguese
		"linea", "tratta", // Italian
		"leiding", "lijn", "tracé", // Dutch
		"linia", "odcinek", "trasa", // Polish
		"vedení", "úsek", // Czech
		"管线", "线号", "管线编号", "管段", // Chinese
		"管路", "路線", "線番", // Japanese
	},
	"utility": {
		"Medium", "Sparte", "Leitungsart", "Versorgungsart", "réseau", "type de réseau", "fluide", "servicio", "tipo de servicio", "serviço", "rede",
		"servizio", "tipo di rete", "rete", "nutsvoorziening", "soort leiding", "sieć", "rodzaj sieci", "medium sieci", "druh vedení", "síť", "管线类型", "管类", "類別", "管種",
	},
	"depth": {
		"Tiefe", "Leitungstiefe", "Achstiefe", // German
		"profondeur", "profondeur axe", // French
		"profundidad",  // Spanish
		"profundidade", // Portuguese
		"profondità",   // Italian
		"diepte",       // Dutch
		"głębokość",    // Polish
		"hloubka",      // Czech
		"深度", "中心埋深",   // Chinese
		"深さ", "深度値", // Japanese
	},
	"cover": {"Überdeckung", "Deckung", "couverture", "recubrimiento", "recobrimento", "ricoprimento", "gronddekking", "dekking", "przykrycie", "krytí", "覆土", "管顶埋深", "土被り"},
	"current": {
		"Strom", "Stromstärke", "Signalstrom", "Messstrom", "courant", "intensité", "corriente", "corrente", "stroom", "stroomsterkte", "prąd", "natężenie prądu",
		"proud", "电流", "電流", "電流値",
	},
	"frequency": {"Frequenz", "Messfrequenz", "fréquence", "frecuencia", "frequência", "frequenza", "frequentie", "częstotliwość", "kmitočet", "frekvence", "频率", "周波数"},
	"signal":    {"Signal", "Signalstärke", "Signalpegel", "niveau du signal", "señal", "nivel de señal", "sinal", "segnale", "signaalsterkte", "sygnał", "signál", "信号强度", "信号強度"},
	"mode":      {"Modus", "Betriebsart", "Messverfahren", "Ortungsart", "mode de détection", "modo", "modalità", "tryb", "režim", "模式", "モード"},
	"method":    {"Anschlussart", "Einspeisung", "méthode", "raccordement", "método", "conexión", "conexão", "metodo", "methode", "aansluiting", "metoda", "方法", "连接方式", "方式"},
	"diameter":  {"Außendurchmesser", "Durchmesser außen", "diamètre extérieur", "diámetro exterior", "diâmetro externo", "diametro esterno", "buitendiameter", "średnica zewnętrzna", "vnější průměr", "外径"},
	"feature":   {"Objekt", "Punktart", "Armatur", "objet", "type de point", "elemento", "objeto", "oggetto", "puntsoort", "obiekt", "rodzaj punktu", "objekt", "druh bodu", "特征点", "点種"},
	"instrument": {
		"Gerät", "Gerätenummer", "Seriennummer", "appareil", "numéro de série", "equipo", "número de serie", "equipamento", "número de série", "strumento",
		"numero di serie", "toestel", "serienummer", "urządzenie", "numer seryjny", "přístroj", "výrobní číslo", "仪器编号", "機器番号",
	},
	"lat":      {"Breite", "Breitengrad", "geogr Breite", "latitud", "latitudine", "breedtegraad", "szerokość geograficzna", "zeměpisná šířka", "纬度", "緯度"},
	"lon":      {"Länge", "Längengrad", "geogr Länge", "longitud", "longitudine", "lengtegraad", "długość geograficzna", "zeměpisná délka", "经度", "経度"},
	"easting":  {"Rechtswert", "Ostwert", "Este", "东坐标"},
	"northing": {"Hochwert", "Nordwert", "Norte", "北坐标"},
	"note": {
		"Bemerkung", "Bemerkungen", "Notiz", "Anmerkung", "Kommentar", "remarque", "remarques", "commentaire", "observation", "observations", "observación", "observaciones",
		"nota", "notas", "comentario", "observação", "observações", "osservazioni", "note rilievo", "opmerking", "opmerkingen", "uwagi", "uwaga", "notatka", "poznámka", "poznámky", "备注", "备考", "備考", "メモ",
	},
}

// utilityLanguages and methodLanguages are words of cells.
var (
	utilityLanguages = map[string][]string{
		"water":          {"Wasser", "Trinkwasser", "eau", "eau potable", "AEP", "agua", "agua potable", "água", "acqua", "acquedotto", "waterleiding", "woda", "wodociąg", "voda", "vodovod", "给水", "上水", "水道"},
		"sewer":          {"Abwasser", "Schmutzwasser", "Kanal", "assainissement", "eaux usées", "alcantarillado", "saneamiento", "esgoto", "fognatura", "riool", "riolering", "kanalizacja", "kanalizace", "污水", "下水"},
		"storm":          {"Regenwasser", "eaux pluviales", "pluvial", "regenwater", "deszczówka", "dešťová", "雨水"},
		"gas":            {"Erdgas", "gaz", "gaz naturel", "gás", "gasleiding", "gazociąg", "plyn", "plynovod", "燃气", "煤气", "ガス"},
		"steam":          {"Fernwärme", "Wärme", "chauffage urbain", "teleriscaldamento", "stadsverwarming", "ciepłociąg", "teplovod", "热力"},
		"electric":       {"Strom", "Elektro", "Elektrizität", "Stromkabel", "électricité", "électrique", "electricidad", "eléctrica", "eletricidade", "elettricità", "elektriciteit", "energia elektryczna", "energetyczny", "elektřina", "elektrické", "电力", "電力", "電気"},
		"lighting":       {"Beleuchtung", "Straßenbeleuchtung", "éclairage", "éclairage public", "alumbrado", "iluminação pública", "illuminazione", "verlichting", "oświetlenie", "veřejné osvětlení", "路灯", "照明"},
		"communications": {"Telekommunikation", "Telekom", "Fernmelde", "Glasfaser", "télécom", "télécommunications", "fibre optique", "telecomunicaciones", "fibra óptica", "telecomunicações", "telecomunicazioni", "telecommunicatie", "glasvezel", "telekomunikacja", "światłowód", "sdělovací", "telekomunikace", "通信", "电信"},
	}
	methodLanguages = map[string][]string{
		"direct":    {"direkt", "galvanisch", "directe", "directo", "direto", "diretto", "galwaniczna", "bezpośrednia", "přímé", "galvanicky", "直连", "直接法", "直接"},
		"induction": {"Induktion", "induktiv", "inducción", "indução", "induzione", "inductie", "indukcja", "indukcyjna", "indukce", "indukčně", "感应", "感应法", "誘導", "Zange", "pince", "pinza"},
		"passive":   {"passiv", "passif", "pasivo", "passivo", "passief", "pasywna", "pasivní", "被动", "受動"},
		"sonde":     {"sonda", "Ortungssonde", "探头", "ゾンデ"},
	}
)

// unaccent writes a normalised word without accents, for comparing what people type
// with and without them.
func unaccent(s string) string {
	ascii := true
	for i := range len(s) {
		ascii = ascii && s[i] < 0x80
	}
	if ascii {
		return s
	}
	s = strings.NewReplacer("ł", "l", "ß", "ss", "ø", "o", "đ", "d").Replace(norm.NFC.String(s))
	var b strings.Builder
	for _, r := range norm.NFD.String(s) {
		// Marks of Japanese kana change the letter; those of Latin letters do not.
		if !unicode.Is(unicode.Mn, r) || r == 0x3099 || r == 0x309A {
			b.WriteRune(r)
		}
	}
	return norm.NFC.String(b.String())
}

// headerWords finds what a folded header stands for: a column, "time" or "date".
var headerWords = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	put := func(word, column string) {
		word = unaccent(normalise(word))
		if _, taken := out[word]; !taken {
			out[word] = column
		}
	}
	for i := range columnTable {
		for _, w := range append([]string{columnTable[i].name}, columnTable[i].synonyms...) {
			put(w, columnTable[i].name)
		}
	}
	for _, column := range sortedKeys(languages) {
		for _, w := range languages[column] {
			put(w, column)
			put(umlauts.Replace(strings.ToLower(w)), column)
		}
	}
	return out
})

// umlauts as they are typed where they are missing.
var umlauts = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue")

// addLanguages adds a vocabulary's foreign words that it does not have.
func (v vocabulary) addLanguages(words map[string][]string) {
	for _, ours := range sortedKeys(words) {
		for _, w := range words[ours] {
			for _, form := range []string{normalise(w), unaccent(normalise(w)), normalise(umlauts.Replace(strings.ToLower(w)))} {
				if _, taken := v[form]; !taken {
					v[form] = ours
				}
			}
		}
	}
}
