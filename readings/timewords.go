package readings

import (
	"strings"
	"sync"
)

// monthLanguages are the months' names; three letters and more of them are enough
// where no two begin alike. To add a language, add a row.
var monthLanguages = [][12]string{
	{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"},
	{"januar", "februar", "märz", "april", "mai", "juni", "juli", "august", "september", "oktober", "november", "dezember"},
	{"janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre", "novembre", "décembre"},
	{"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"},
	{"janeiro", "fevereiro", "março", "abril", "maio", "junho", "julho", "agosto", "setembro", "outubro", "novembro", "dezembro"},
	{"gennaio", "febbraio", "marzo", "aprile", "maggio", "giugno", "luglio", "agosto", "settembre", "ottobre", "novembre", "dicembre"},
	{"januari", "februari", "maart", "april", "mei", "juni", "juli", "augustus", "september", "oktober", "november", "december"},
	{"stycznia", "lutego", "marca", "kwietnia", "maja", "czerwca", "lipca", "sierpnia", "września", "października", "listopada", "grudnia"},
	{"styczeń", "luty", "marzec", "kwiecień", "maj", "czerwiec", "lipiec", "sierpień", "wrzesień", "październik", "listopad", "grudzień"},
	{"ledna", "února", "března", "dubna", "května", "června", "července", "srpna", "září", "října", "listopadu", "prosince"},
	{"leden", "únor", "březen", "duben", "květen", "červen", "červenec", "srpen", "září", "říjen", "listopad", "prosinec"},
}

// monthWords gives the month of each name and short form that means one month.
var monthWords = sync.OnceValue(func() map[string]int {
	out := map[string]int{}
	short := map[string]int{}
	for _, row := range monthLanguages {
		for m, name := range row {
			name = unaccent(name)
			if old, known := out[name]; known && old != m+1 {
				out[name] = 0 // listopad is October in one language and November in another
				continue
			}
			out[name] = m + 1
			for n := 3; n < len(name); n++ {
				if old, known := short[name[:n]]; known && old != m+1 {
					short[name[:n]] = 0
					continue
				} else if !known {
					short[name[:n]] = m + 1
				}
			}
		}
	}
	for s, m := range short {
		if _, known := out[s]; !known {
			out[s] = m
		}
	}
	return out
})

// monthOf gives the month that a word names, or 0.
func monthOf(word string) int {
	return monthWords()[unaccent(strings.ToLower(strings.TrimSuffix(word, ".")))]
}

// eastAsian writes the signs of Chinese and Japanese dates and times as ours.
var eastAsian = strings.NewReplacer("年", "-", "月", "-", "日", " ", "时", ":", "時", ":", "点", ":", "分", ":", "秒", "", "：", ":", "／", "/", "．", ".", "　", " ",
	"０", "0", "１", "1", "２", "2", "３", "3", "４", "4", "５", "5", "６", "6", "７", "7", "８", "8", "９", "9")
