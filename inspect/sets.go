package inspect

import (
	"cmp"
	"slices"
	"strings"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// A set is all that was read of one feature at one place.
type set struct {
	feature Feature
	fromEnd *length.Length
	onShank bool
	flutes  [][]length.Length // the repeats of each flute, in order; one element for a single feature
	taken   []int             // the flute of each reading, from nought, in the order in which they were taken
	closing *length.Length    // flute 1 read once more at the end
	gauge   string            // the gauge of the last reading
	step    length.Length     // one step of the last decimal read, the finest of the set
	over    []*length.Length  // of a drop: the checking distance each flute was read over, where it is told
	by      []DropBy          // of a drop: how each flute was read, where it is told
}

// sets gathers readings by feature and place, in the order of Features and then of distance.
func (in Inspection) sets() []set {
	var all []set
	for _, r := range in.Readings {
		k := r.Key()
		i := slices.IndexFunc(all, func(s set) bool {
			return s.feature == r.Feature && s.onShank == r.OnShank && (s.fromEnd != nil) == k.Stated && (s.fromEnd == nil || *s.fromEnd == k.FromEnd)
		})
		if i < 0 {
			n := in.Tool.Flutes
			if r.Feature.Single() {
				n = 1
			}
			all = append(all, set{feature: r.Feature, fromEnd: r.FromEnd, onShank: r.OnShank, flutes: make([][]length.Length, n), over: make([]*length.Length, n), by: make([]DropBy, n)})
			i = len(all) - 1
		}
		all[i].add(r)
	}
	slices.SortStableFunc(all, func(a, b set) int {
		return cmp.Or(
			cmp.Compare(slices.Index(Features, a.feature), slices.Index(Features, b.feature)),
			cmp.Compare(a.distance(), b.distance()))
	})
	return all
}

func (s *set) add(r Reading) {
	s.gauge = r.Gauge
	if bare := r.Value == 0 && !strings.ContainsAny(r.Text, ".,"); !bare { // a plain 0 tells no decimals
		if step := LastDecimal(r.Text, r.Unit); s.step == 0 || step < s.step {
			s.step = step
		}
	}
	value := r.Value
	if r.Closing {
		s.closing = &value
		return
	}
	i := max(r.Flute-1, 0)
	s.flutes[i] = append(s.flutes[i], value)
	s.taken = append(s.taken, i)
	if r.Over != nil {
		s.over[i] = r.Over
	}
	if r.DropBy != "" {
		s.by[i] = r.DropBy
	}
}

func (s set) distance() length.Length {
	if s.fromEnd == nil {
		return -1
	}
	return *s.fromEnd
}

// missing returns the flutes that were not read; nil when all were.
func (s set) missing() []int {
	var flutes []int
	for i, repeats := range s.flutes {
		if len(repeats) == 0 {
			flutes = append(flutes, i+1)
		}
	}
	return flutes
}

// whole says whether every flute was read.
func (s set) whole() bool { return len(s.missing()) == 0 }

// means returns the mean of each flute's repeats, to the nearest picometre. Every flute must have been read.
func (s set) means() []length.Length {
	ms := make([]length.Length, len(s.flutes))
	for i, repeats := range s.flutes {
		ms[i] = statistics.MeanLength(repeats)
	}
	return ms
}

// find returns the set of a feature as the tool was held, at the distance given when one is; the first when several match.
func find(all []set, f Feature, fromEnd *length.Length) (set, bool) {
	for _, s := range all {
		if s.feature == f && !s.onShank && (fromEnd == nil || s.fromEnd != nil && *s.fromEnd == *fromEnd) {
			return s, true
		}
	}
	return set{}, false
}
