package device

// noise damages bytes in an order that is the same each time. The zero noise does nothing; start at 1.
type noise uint64

// upto returns a number from 0 to n-1 (xorshift, G. Marsaglia, Journal of Statistical Software 8, 2003).
func (r *noise) upto(n int) int {
	x := *r
	x ^= x << 13
	x ^= x >> 7
	x ^= x << 17
	*r = x
	return int(uint64(x>>1) % uint64(n))
}

// damage returns frame with one character lost, one put in, or one changed: a changed one comes as zero, which is how
// a system hands on a character whose parity is wrong. (Without parity a changed digit cannot be told from another.)
func (r *noise) damage(frame []byte) []byte {
	at := r.upto(len(frame))
	out := append([]byte{}, frame[:at]...)
	switch r.upto(3) {
	case 0:
		return append(out, frame[at+1:]...)
	case 1:
		return append(append(out, byte(r.upto(256))), frame[at:]...)
	default:
		return append(append(out, 0), frame[at+1:]...)
	}
}

// misread returns what a line set to one speed reads of bytes sent at another, eight data bits, no parity, one stop
// bit: it puts the bits on a line and samples it at the middle of each bit of the other speed. A missing stop bit
// makes the character a zero, as a system hands it on.
func misread(sent []byte, from, to int) []byte {
	var wire []bool // one for each bit sent; the line rests at true
	for _, c := range sent {
		wire = append(wire, false)
		for bit := range 8 {
			wire = append(wire, c>>bit&1 == 1)
		}
		wire = append(wire, true)
	}
	level := func(t int) bool { return t/to >= len(wire) || wire[t/to] } // t counts 1/(from × to) seconds
	var read []byte
	for t := 0; t/to < len(wire); {
		if level(t) {
			t = (t/to + 1) * to
			continue
		}
		middle := t + from/2
		var c byte
		for bit := range 8 {
			if level(middle + (bit+1)*from) {
				c |= 1 << bit
			}
		}
		if !level(middle + 9*from) {
			c = 0
		}
		read = append(read, c)
		for t = middle + 9*from; t/to < len(wire) && !level(t); { // a line that stays low is no new start
			t = (t/to + 1) * to
		}
	}
	return read
}
