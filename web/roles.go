package web

import (
	"encoding/json"
	"net/http"
	"slices"

	"tracemap/internal/store"
)

// A right is what a request needs.
type right string

// The rights. toEnter is everybody's: it is what logging in needs.
const (
	toEnter      right = "enter"
	toSee        right = "see"
	toUpload     right = "upload"
	toCorrect    right = "correct"
	toHandOver   right = "hand over"
	toCompare    right = "compare"
	toAdminister right = "administer"
)

// A reach is how far a right goes.
type reach string

const (
	everywhere reach = "all"
	own        reach = "own" // days that the person made, as long as they are not handed over
)

// roles says who may do what: the one place where that is written. What is not
// in a row is refused.
var roles = map[store.Role]map[right]reach{
	store.Locator:       {toSee: everywhere, toUpload: everywhere, toCorrect: own, toHandOver: own},
	store.Technician:    {toSee: everywhere, toUpload: everywhere, toCorrect: everywhere, toHandOver: everywhere, toCompare: everywhere},
	store.Engineer:      {toSee: everywhere, toCompare: everywhere},
	store.Administrator: {toSee: everywhere, toUpload: everywhere, toCorrect: everywhere, toHandOver: everywhere, toCompare: everywhere, toAdminister: everywhere},
}

// A person is who asks.
type person struct {
	name   string
	role   store.Role
	secret string // of the session; none for the one user of this machine
}

// personKey is the context key of the person who asks.
type personKey struct{}

// userOf gives the person behind a request.
func userOf(r *http.Request) person {
	p, _ := r.Context().Value(personKey{}).(person)
	return p
}

// who names the person behind a request.
func who(r *http.Request) string { return userOf(r).name }

// rightsOf lists what a role may do and how far, for the page to leave out what
// would be refused.
func rightsOf(role store.Role) map[string]string {
	out := map[string]string{}
	for k, v := range roles[role] {
		out[string(k)] = string(v)
	}
	return out
}

// may refuses a request that the person's role does not allow. day returns a day
// as it is at that moment.
func may(r *http.Request, p person, needs right, day func(id int64) (store.Day, error)) error {
	if needs == toEnter {
		return nil
	}
	switch roles[p.role][needs] {
	case everywhere:
		return nil
	case own:
		return mayOwn(r, p, needs, day)
	}
	return &problem{http.StatusForbidden, "your role, " + string(p.role) + ", does not allow this", "Ask " + whoMay(needs) + "."}
}

// mayOwn holds a right that goes as far as a person's own days.
func mayOwn(r *http.Request, p person, needs right, dayOf func(id int64) (store.Day, error)) error {
	if r.PathValue("day") == "" {
		return nil // no day yet: it becomes one's own
	}
	id, err := number(r, "day")
	if err != nil {
		return err
	}
	day, err := dayOf(id)
	switch {
	case err != nil:
		return err
	case day.CreatedBy != p.name:
		return &problem{http.StatusForbidden, "this day is " + day.CreatedBy + "'s", "Ask " + whoMay(needs) + "."}
	case handedOver(day) && needs == toCorrect:
		return &problem{http.StatusForbidden, "this day was handed over", "Ask " + whoMay(needs) + " to open it again."}
	}
	return nil
}

func handedOver(d store.Day) bool {
	return d.Latest != nil && len(d.Latest.Locked) > 0 && !slices.Equal(d.Latest.Locked, json.RawMessage("null"))
}

// whoMay names the least role that has a right everywhere.
func whoMay(needs right) string {
	words := map[store.Role]string{store.Locator: "a locator", store.Technician: "a GIS technician", store.Engineer: "an engineer", store.Administrator: "an administrator"}
	for _, role := range store.Roles {
		if roles[role][needs] == everywhere {
			return words[role]
		}
	}
	return words[store.Administrator]
}
