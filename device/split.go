package device

import "bytes"

// maxFrame bounds a frame, and with it the buffer. Gauge frames are some twenty bytes.
const maxFrame = 256

// splitter cuts a gauge's bytes into frames. It holds at most maxFrame bytes, whatever comes.
type splitter struct {
	end  []byte // what ends a frame; empty: a carriage return, a line feed, or both
	held []byte // the frame in progress
	tail bool   // the frame in progress does not count: its beginning is stale or was refused
	emit func(raw []byte, tail bool, err error)
}

// feed takes the next bytes and emits each frame they end. raw is valid only during the call.
func (s *splitter) feed(chunk []byte) {
	for _, c := range chunk {
		s.held = append(s.held, c)
		switch n := s.endLength(c); {
		case n > 0:
			raw, tail := s.held[:len(s.held)-n], s.tail
			s.held, s.tail = s.held[:0], false
			if len(raw) > 0 {
				s.emit(raw, tail, nil)
			}
		case len(s.held) == maxFrame:
			s.broken(ErrTooLong)
		}
	}
}

// endLength returns how many of the last bytes end the frame, 0 if none do. c is the last byte.
func (s *splitter) endLength(c byte) int {
	switch {
	case len(s.end) == 0 && (c == '\r' || c == '\n'):
		return 1
	case len(s.end) > 0 && bytes.HasSuffix(s.held, s.end):
		return len(s.end)
	}
	return 0
}

// broken gives up the frame in progress; what still comes of it does not count.
func (s *splitter) broken(err error) {
	raw := s.held
	keep := min(len(raw), max(0, len(s.end)-1))
	s.tail = true
	s.emit(raw, true, err)
	s.held = append(s.held[:0], raw[len(raw)-keep:]...)
}

// stale marks a frame in progress as one that began too early to count.
func (s *splitter) stale() {
	if len(s.held) > 0 {
		s.tail = true
	}
}

// restart forgets the frame in progress. midway says that the line may be opened in the middle of a frame.
func (s *splitter) restart(midway bool) { s.held, s.tail = s.held[:0], midway }
