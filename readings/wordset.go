package readings

import (
	"maps"
	"slices"
	"strings"
)

// A vocabulary turns the words of one column into ours.
type vocabulary map[string]string

// A wordSet is the vocabularies in use: the built-in words and those of a
// mapping.
type wordSet struct {
	utility, method, response, feature, frequency vocabulary
}

// builtInWords are the words that need no mapping.
func builtInWords() wordSet {
	w, err := newWordSet(wordFile{})
	if err != nil {
		panic(err) // only a mapping's words can be refused
	}
	return w
}

// newWordSet adds a mapping's words, which go before the built-in ones.
func newWordSet(m wordFile) (wordSet, error) {
	var w wordSet
	for _, v := range []struct {
		name  string
		to    *vocabulary
		rows  [][]string
		add   map[string]string
		fresh bool // words of its own are allowed
	}{
		{"utility", &w.utility, utilityWords, m.Utility, false},
		{"method", &w.method, methodWords, m.Method, false},
		{"response", &w.response, responseWords, m.Response, false},
		{"feature", &w.feature, featureWords, m.Feature, true},
		{"frequency", &w.frequency, frequencyWords, nil, false},
	} {
		*v.to = vocabulary{}
		for _, row := range v.rows {
			for _, word := range row {
				(*v.to)[word] = row[0]
			}
		}
		v.to.addLanguages(map[string]map[string][]string{"utility": utilityLanguages, "method": methodLanguages}[v.name])
		for _, theirs := range sortedKeys(v.add) {
			ours, known := (*v.to)[normalise(v.add[theirs])]
			switch {
			case known:
			case v.fresh:
				ours = normalise(v.add[theirs])
			case v.add[theirs] != "":
				return w, badKey(theirs, "%q is no %s of ours: %s", v.add[theirs], v.name, own(v.rows))
			}
			(*v.to)[normalise(theirs)] = ours
		}
	}
	return w, nil
}

// own lists a vocabulary's own words, for messages.
func own(rows [][]string) string {
	var words []string
	for _, row := range rows {
		words = append(words, row[0])
	}
	return strings.Join(words, ", ")
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// setUtility never sets a row aside: an unknown word is an unknown utility, and
// is reported.
func setUtility(rd *rowReader, r *Reading, cell string) string {
	ours, known := rd.mapping.words.utility[rd.word(cell)]
	if !known {
		rd.unknownUtility(cell)
		return ""
	}
	r.Utility = Utility(ours)
	return ""
}

// setMethod sets the row aside for a word that it does not know, because the
// method chooses the depth formula.
func setMethod(rd *rowReader, r *Reading, cell string) string {
	word := rd.word(cell)
	ours, known := rd.mapping.words.method[word]
	switch {
	case word == "":
		return ""
	case !known:
		return "method not known: " + own(methodWords) + "; or name it under [words.method] in --columns"
	case r.Method != "" && r.Method != Method(ours):
		return twoWords
	}
	r.Method = Method(ours)
	return ""
}

func setResponse(rd *rowReader, r *Reading, cell string) string {
	word := rd.word(cell)
	ours, known := rd.mapping.words.response[word]
	switch {
	case word == "":
		return ""
	case !known:
		return "response not known: " + own(responseWords) + "; or name it under [words.response] in --columns"
	case r.Response != "" && r.Response != Response(ours):
		return twoWords
	}
	r.Response = Response(ours)
	return ""
}

const twoWords = "contradicts another column of the row"

// setMode reads a column that may hold a method or a response, by its word.
func setMode(rd *rowReader, r *Reading, cell string) string {
	word := rd.word(cell)
	if _, known := rd.mapping.words.method[word]; known {
		return setMethod(rd, r, cell)
	}
	if _, known := rd.mapping.words.response[word]; known {
		return setResponse(rd, r, cell)
	}
	if word == "" {
		return ""
	}
	return "mode not known: " + own(methodWords) + ", " + own(responseWords) + "; or name it under [words] in --columns"
}

func setFeature(rd *rowReader, r *Reading, cell string) string {
	word := rd.word(cell)
	if ours, known := rd.mapping.words.feature[word]; known {
		word = ours
	}
	r.Feature = word
	return ""
}

// passiveWord takes the word that a locator shows in place of a frequency in its
// passive modes. It says the method, and no figure.
func passiveWord(rd *rowReader, r *Reading, cell string) (known bool, reason string) {
	if _, known := rd.mapping.words.frequency[rd.word(cell)]; !known {
		return false, ""
	}
	if r.Method != "" && r.Method != Passive {
		return true, twoWords
	}
	r.Method = Passive
	return true, ""
}
