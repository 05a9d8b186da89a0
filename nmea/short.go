package nmea

import "math/bits"

// Most numbers in a log have no sign and at most seven characters. They are read
// from one word of eight bytes, the first of them lowest, without a loop whose
// length a processor cannot foresee.

const (
	ones = 0x0101010101010101 // in each byte
	high = 0x8080808080808080 // the highest bit of each byte
)

// shortNumber reads a number that begins a word and ends at a comma in it: its digits
// as a whole number, how many of them are behind the point, and how many characters
// there are. Anything else – a sign, a second point, a longer or an empty field – is
// not ok.
func shortNumber(w uint64) (digits uint32, decimals, length int, ok bool) {
	length = find(w, ',')
	if length == 8 {
		return 0, 0, 0, false
	}
	w &= 1<<(8*length) - 1
	n := length
	if point := find(w, '.'); point < 8 {
		before := w & (1<<(8*point) - 1)
		w = before | w>>(8*point+8)<<(8*point)
		n--
		decimals = n - point
	}
	if n == 0 {
		return 0, 0, 0, false
	}
	// The last digit goes to the highest byte; what is below the first is 0.
	up := 8 * (8 - n)
	w = w<<up - '0'*ones<<up
	if (w|(w+(0x7F-9)*ones))&high != 0 {
		return 0, 0, 0, false // a byte above 9
	}
	// Neighbours are joined to numbers of two, four and eight digits.
	w = w * (10<<8 + 1) >> 8 & 0x00FF00FF00FF00FF
	w = w * (100<<16 + 1) >> 16 & 0x0000FFFF0000FFFF
	w = w * (10000<<32 + 1) >> 32
	return uint32(w), decimals, length, true
}

// find gives the place of the first byte c in a word; 8 where there is none.
func find(w, c uint64) int {
	x := w ^ c*ones // 0 in place of c
	return bits.TrailingZeros64((x-ones)&^x&high) / 8
}
