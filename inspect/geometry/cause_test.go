package geometry

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect/length"
)

const causes = 5

// patternOf makes the heights one cause leaves, spanning 1 from the lowest flute to the highest.
func patternOf(r *rand.Rand, cause Cause, flutes int) []float64 {
	to, one, way := r.Float64()*2*math.Pi, r.IntN(flutes), float64(1-2*r.IntN(2))
	h := make([]float64, flutes)
	for k := range h {
		switch cause {
		case HeldOffCentre:
			h[k] = math.Cos(2*math.Pi*float64(k)/float64(flutes) - to)
		case RisingInOrder:
			h[k] = float64(k)
		case FallingInOrder:
			h[k] = -float64(k)
		case AlternateFlutes:
			h[k] = way * float64(k%2)
		case OneFlute:
			if k == one {
				h[k] = way
			}
		}
	}
	span := slices.Max(h) - slices.Min(h)
	for k := range h {
		h[k] /= span
	}
	return h
}

// told simulates readings of patterns with noise 1 on a flute mean, three repeats pooled over the flutes, so that the noise
// known is an estimate, and returns what is said of them.
func told(t *testing.T, r *rand.Rand, heights []float64) Likely {
	t.Helper()
	df := 2 * len(heights)
	squares := 0.0
	for range df {
		x := r.NormFloat64()
		squares += x * x
	}
	read := make([]length.Length, len(heights))
	for k, h := range heights {
		read[k] = micrometres(h + r.NormFloat64())
	}
	l, err := LikelyCauses(read, nil, nil, micrometres(math.Sqrt(squares/float64(df))), float64(df))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// sized returns the pattern of a cause of a size in noises of a flute mean, as Candidate measures it: the eccentricity of an
// offset is half of its span.
func sized(r *rand.Rand, cause Cause, flutes int, size float64) []float64 {
	h := patternOf(r, cause, flutes)
	if cause == HeldOffCentre {
		size *= 2
	}
	for k := range h {
		h[k] *= size
	}
	return h
}

// tally counts what is said of simulated tools, in the columns of the table in DEVELOPERS.md.
type tally struct {
	named                                [causes + 1]int // one cause; the last counts two
	right, wrong                         int
	alike, mixed, several, scatter, made int
	held, misled                         int // what was made is among what is said; a cause is named, and it is not
}

// count takes what was said of a tool made of these causes.
func (c *tally) count(l Likely, made ...Cause) {
	c.made++
	missing, extra := len(made), 0
	for _, p := range l.Parts {
		if slices.Contains(made, p.Cause) {
			missing--
		} else {
			extra++
		}
	}
	says := func(said []Candidate) bool {
		return len(said) == len(made) && !slices.ContainsFunc(said, func(p Candidate) bool { return !slices.Contains(made, p.Cause) })
	}
	together := len(l.Or) == 1 && len(made) == 2 && slices.Contains(made, l.Or[0].Cause) // an offset and something else
	switch single := slices.ContainsFunc(l.Candidates, func(p Candidate) bool { return len(made) == 1 && p.Cause == made[0] }); {
	case says(l.Parts), says(l.Or), together, single, l.Mixed && len(made) == 2:
		c.held++
	case extra > 0:
		c.misled++
	}
	switch {
	case len(l.Parts) > 0 && missing == 0 && extra == 0:
		c.right++
	case extra > 0:
		c.wrong++
	}
	switch {
	case len(l.Parts) == 1:
		c.named[l.Parts[0].Cause]++
	case len(l.Parts) == 2:
		c.named[causes]++
	case !l.AboveNoise:
		c.alike++
	case l.Mixed:
		c.mixed++
	case len(l.Candidates) > 0:
		c.several++
	default:
		c.scatter++
	}
}

func (c tally) share(n int) float64 { return float64(n) / float64(c.made) }

func (c tally) log(t *testing.T, name string) {
	t.Helper()
	var b strings.Builder
	for _, n := range append(c.named[:], c.mixed, c.several, c.scatter, c.alike, c.right, c.wrong, c.held, c.misled) {
		fmt.Fprintf(&b, " %5.1f |", 100*c.share(n))
	}
	t.Logf("| %s |%s", name, b.String())
}

// The confusion of simulated tools: no cause, plain scatter of the teeth of 3 u, one cause of 12 u, and two of 12 u each, u
// being the noise of a flute mean. What is named that is not there, and what is not named that is.
func TestLikelyCausesConfusion(t *testing.T) {
	trials := 200
	if os.Getenv("FLUTELOG_LONG") != "" {
		trials = 4000
	}
	slack := func(p float64) float64 { return 4 * math.Sqrt(p*(1-p)/float64(trials)) }
	r := seeded(11)
	t.Log("| truth | offset | rising | falling | alternate | one flute | two | more than one | several | scatter | in the noise | all right | not there | held | misled |")
	for _, flutes := range []int{4, 5, 6, 7, 8, 10, 12} {
		// Four flutes differ in three ways, and an offset with any second cause makes the very heights of a third: of offsets and
		// alternate flutes of 12 u each 16 % lie within the noise of one flute alone (where the offset points within 0.13 rad of a
		// flute: 2 (12 sin 0.13)^2 = 5, and 4 x 2 x 0.13 / 2 pi = 0.17). So the answer says both, and the bars are for what it says.
		const right, wrongly = 0.90, 0.05
		named := func(c tally) int { return c.right }
		astray := func(c tally) int { return c.wrong }
		if flutes == fewestFlutes {
			named = func(c tally) int { return c.held }
			astray = func(c tally) int { return c.misled }
		}
		var none, scatter tally
		for range trials {
			none.count(told(t, r, make([]float64, flutes)))
			h := make([]float64, flutes)
			for k := range h {
				h[k] = 3 * r.NormFloat64()
			}
			scatter.count(told(t, r, h))
		}
		none.log(t, fmt.Sprintf("%d flutes, no cause", flutes))
		scatter.log(t, fmt.Sprintf("%d, teeth scatter", flutes))
		if none.share(astray(none)) > wrongly+slack(wrongly) || scatter.share(astray(scatter)) > wrongly+slack(wrongly) {
			t.Errorf("%d flutes: a cause named in %.3f of tools without any, %.3f of those whose teeth scatter", flutes, none.share(none.wrong), scatter.share(scatter.wrong))
		}
		var all []Cause
		for c := range Cause(causes) {
			if c != AlternateFlutes || flutes%2 == 0 {
				all = append(all, c)
			}
		}
		for i, a := range all {
			var one tally
			for range trials {
				one.count(told(t, r, sized(r, a, flutes, 12)), a)
			}
			one.log(t, fmt.Sprintf("%d, %v", flutes, a))
			if one.share(named(one)) < right-slack(right) || one.share(astray(one)) > wrongly+slack(wrongly) {
				t.Errorf("%d flutes, %v: named in %.3f, another in %.3f", flutes, a, one.share(one.right), one.share(one.wrong))
			}
			for _, b := range all[i+1:] {
				if a == RisingInOrder && b == FallingInOrder {
					continue
				}
				var two tally
				for range trials {
					h := sized(r, a, flutes, 12)
					for k, x := range sized(r, b, flutes, 12) {
						h[k] += x
					}
					two.count(told(t, r, h), a, b)
				}
				two.log(t, fmt.Sprintf("%d, %v and %v", flutes, a, b))
				if flutes >= 6 && two.share(two.right) < 0.5 || two.share(astray(two)) > wrongly+slack(wrongly) {
					t.Errorf("%d flutes, %v and %v: both named in %.3f, another in %.3f", flutes, a, b, two.share(two.right), two.share(two.wrong))
				}
			}
		}
	}
}

func TestLikelyCausesSizes(t *testing.T) {
	for _, tt := range []struct {
		name, heights string
		order         []int
		cause         Cause
		size          string
		flute         int
		hint          []string
	}{
		{"offset", "0 3 10 7", nil, HeldOffCentre, "5.385165", 0, []string{"reseat", "burr"}}, // hypot(5, 2)
		{"wheel wearing", "0 2 4 6 8", nil, RisingInOrder, "8", 0, []string{"wheel wore", "dress"}},
		{"wheel wearing, ground backwards", "8 6 4 2 0", []int{5, 4, 3, 2, 1}, RisingInOrder, "8", 0, []string{"wheel wore"}},
		{"ground in another order", "0 4 8 2 6", []int{1, 4, 2, 5, 3}, RisingInOrder, "8", 0, []string{"wheel wore"}},
		{"falling", "8 6 4 2 0", nil, FallingInOrder, "8", 0, []string{"not wheel wear", "slack"}},
		{"alternate", "3 0 3 0", nil, AlternateFlutes, "-3", 0, []string{"index", "tooth rest"}},
		{"one low", "5 5 0 5 5", nil, OneFlute, "-5", 3, []string{"flute 3", "chip"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l, err := LikelyCauses(in(t, length.Um, tt.heights), nil, tt.order, length.Micrometre/5, 8)
			if err != nil {
				t.Fatal(err)
			}
			if len(l.Parts) != 1 {
				t.Fatalf("named %v of %v", l.Parts, l.Candidates)
			}
			c := l.Parts[0]
			if c.Cause != tt.cause || c.Flute != tt.flute {
				t.Fatalf("got %v of %v, want %v on flute %d", c, l.Candidates, tt.cause, tt.flute)
			}
			near(t, "size", c.Size, in(t, length.Um, tt.size)[0], length.Picometre)
			for _, part := range tt.hint {
				if !strings.Contains(l.Hint(), part) {
					t.Errorf("hint %q does not say %q", l.Hint(), part)
				}
			}
		})
	}
}

func TestLikelyCausesUnnamed(t *testing.T) {
	for _, tt := range []struct {
		name, heights string
		say           string
	}{
		{"alike", "0 0.2 0.1 0.3", "within the noise"},
		{"three flutes in a ramp", "0 5 10", "cannot be told apart"},
		{"three flutes, neither ramp nor one", "0 9 3", "cannot be told apart"},
		{"two flutes", "0 10", "cannot be told apart"},
		{"offset or one flute", "1.4 0.1 0 0.1", "perhaps flute 1 alone"},
		{"two bad flutes of six", "0 9 0 0 0 4", "the teeth scatter"},
		{"an offset and alternate flutes", "5.2 8 -5.2 2", "more than one thing; 4 flutes cannot tell which"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l, err := LikelyCauses(in(t, length.Um, tt.heights), nil, nil, length.Micrometre/4, 12)
			if err != nil {
				t.Fatal(err)
			}
			if len(l.Parts) > 0 {
				t.Errorf("named %v", l.Parts)
			}
			if !strings.Contains(l.Hint(), tt.say) {
				t.Errorf("hint %q does not say %q", l.Hint(), tt.say)
			}
		})
	}
}

// Renumbering the flutes from another start, with the order of grinding renumbered too, changes no finding.
func TestLikelyCausesRenumbered(t *testing.T) {
	r := seeded(12)
	for range 200 {
		flutes := 4 + r.IntN(9)
		heights := make([]length.Length, flutes)
		order := r.Perm(flutes)
		for i := range heights {
			heights[i] = micrometres(between(r, 0, 4))
			order[i]++
		}
		// An odd shift would also move alternate flutes from high to low.
		by := 2 * (1 + r.IntN(flutes/2-1))
		renumbered := append(slices.Clone(heights[by:]), heights[:by]...)
		again := make([]int, flutes)
		for i, flute := range order {
			again[i] = (flute-1-by+flutes)%flutes + 1
		}
		a, err := LikelyCauses(heights, nil, order, length.Micrometre/2, 20)
		if err != nil {
			t.Fatal(err)
		}
		b, err := LikelyCauses(renumbered, nil, again, length.Micrometre/2, 20)
		if err != nil {
			t.Fatal(err)
		}
		if a.AboveNoise != b.AboveNoise || len(a.Candidates) != len(b.Candidates) {
			t.Fatalf("got %+v, renumbered by %d %+v", a, by, b)
		}
		for i, c := range a.Candidates {
			d := b.Candidates[i]
			if c.Cause != d.Cause || c.Flute != 0 && (c.Flute-1-by+flutes)%flutes+1 != d.Flute {
				t.Fatalf("got %v, renumbered by %d %v", c, by, d)
			}
			near(t, "size", d.Size, c.Size, length.Picometre)
		}
	}
}

func TestLikelyCausesRefuses(t *testing.T) {
	four := in(t, length.Um, "0 1 2 3")
	for _, tt := range []struct {
		name  string
		order []int
		u     length.Length
		df    float64
		say   string
	}{
		{"no noise", nil, 0, 8, "noise"},
		{"no degrees of freedom", nil, 1, 0, "degrees of freedom"},
		{"flute twice", []int{1, 2, 3, 3}, 1, 8, "[1 2 3 3]"},
		{"flute too many", []int{1, 2, 3, 5}, 1, 8, "[1 2 3 5]"},
		{"flute missing", []int{1, 2, 3}, 1, 8, "4 flutes once"},
		{"empty", []int{}, 1, 8, "4 flutes once"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := LikelyCauses(four, nil, tt.order, tt.u, tt.df)
			wantError(t, err, "likely cause", tt.say)
		})
	}
	_, err := LikelyCauses(four[:1], nil, nil, 1, 8)
	wantError(t, err, "one flute")
}

// The last round begins half a turn on.
func TestLastRound(t *testing.T) {
	for _, tt := range []struct {
		order []int
		n     int
		want  []int
	}{
		{nil, 4, []int{3, 4, 1, 2}},
		{nil, 5, []int{3, 4, 5, 1, 2}},
		{[]int{1, 4, 3, 2}, 4, []int{3, 2, 1, 4}},
	} {
		if got := LastRound(tt.order, tt.n); !slices.Equal(got, tt.want) {
			t.Errorf("last round of %v: %v, want %v", tt.order, got, tt.want)
		}
	}
}
