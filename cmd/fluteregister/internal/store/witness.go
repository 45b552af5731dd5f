package store

import (
	"cmp"
	"context"
	"encoding/hex"
	"fmt"
	"slices"

	"flutelog/inspect/ledger"
)

// witnessed is a line that was told before, and that is not here: the database was lost, or set back.
type witnessed struct {
	seq  uint64
	hash [32]byte
}

// partedError is ErrParted where the lines part from what was told before.
type partedError struct{ ledger.Head }

func (p *partedError) Error() string {
	return fmt.Sprintf("%v: number %d was told before with another hash, by the register's own ledger", ErrParted, p.Seq)
}
func (*partedError) Unwrap() error { return ErrParted }

// Hold holds what is taken from now on against heads that were told before; of a bench, none is kept that is here already.
func (s *Store) Hold(ctx context.Context, heads []ledger.Head) error {
	benches, err := s.Benches(ctx)
	if err != nil {
		return err
	}
	here := map[string]uint64{}
	for _, b := range benches {
		here[b.Bench] = b.Seq
	}
	missing := map[string][]witnessed{}
	for _, h := range heads {
		if h.Seq > here[h.Bench] {
			w := witnessed{seq: h.Seq}
			if _, err := hex.Decode(w.hash[:], []byte(h.Hash)); err != nil {
				return err
			}
			missing[h.Bench] = append(missing[h.Bench], w)
		}
	}
	for _, all := range missing {
		slices.SortStableFunc(all, func(a, b witnessed) int { return cmp.Compare(a.seq, b.seq) })
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.missing = missing
	return nil
}

// missingOf returns what was told before of a bench behind a line, and is not here.
func (s *Store) missingOf(bench string, after uint64) []witnessed {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := s.missing[bench]
	i, _ := slices.BinarySearchFunc(all, after+1, func(w witnessed, seq uint64) int { return cmp.Compare(w.seq, seq) })
	return all[i:]
}

// toldAt returns the hash that a missing line was told with; "" where it was not.
func toldAt(missing []witnessed, seq uint64) string {
	i, found := slices.BinarySearchFunc(missing, seq, func(w witnessed, seq uint64) int { return cmp.Compare(w.seq, seq) })
	if !found {
		return ""
	}
	return hex.EncodeToString(missing[i].hash[:])
}

// came forgets what was told before of a bench and is here now.
func (s *Store) came(bench string, upTo uint64) {
	rest := s.missingOf(bench, upTo)
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(rest) > 0 {
		s.missing[bench] = rest
	} else {
		delete(s.missing, bench)
	}
}
