package readings

import (
	"reflect"
	"testing"
	"time"
)

// Each field of a reading that its row says makes another reading of it; where it
// stands and what is computed from the rest do not.
func TestKeyKnowsEveryField(t *testing.T) {
	apart := map[string]bool{"File": false, "Row": false, "CoilDepth": false, "CoilCurrent": false, "Flags": false}
	base := Reading{Time: time.Unix(1, 0)}
	for i := range reflect.TypeFor[Reading]().NumField() {
		name := reflect.TypeFor[Reading]().Field(i).Name
		other := base
		switch f := reflect.ValueOf(&other).Elem().Field(i); f.Kind() {
		case reflect.String:
			f.SetString("x")
		case reflect.Float64:
			f.SetFloat(3)
		case reflect.Int:
			f.SetInt(3)
		case reflect.Uint64:
			f.SetUint(4)
		default:
			other.Time = time.Unix(2, 0)
		}
		want, named := apart[name]
		if got := other.key() != base.key(); got != (want || !named) {
			t.Errorf("another %s: another reading %v, want %v", name, got, !got)
		}
	}
}
