package nmea

// Sniff reports whether a log beginning with head is a receiver's: it holds a
// sentence with a right checksum, or two whole ones without any of the kinds that
// epochs are made of. 64 KiB are enough for the dirtiest beginnings seen.
func Sniff(head []byte) bool {
	s := newScanner(head, false)
	var found sentence
	var r record
	var f fields
	whole := 0
	for s.next(&found) {
		switch found.sum {
		case ChecksumRight:
			return true
		case ChecksumNone:
			if k := kindOf(found.addr); k < kindCount && k.read(&found, &f, &r) {
				whole++
			}
		}
		if whole == 2 {
			return true
		}
	}
	return false
}
