package statistics

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/mathext"
)

// The functions of this file are called with numbers that the program has already checked. Like those of
// the mathematical libraries they panic on arguments outside their domain, so that no NaN comes out.

func mustBe(ok bool, what string, value float64) {
	if !ok {
		panic(fmt.Sprintf("statistics: %s %v", what, value))
	}
}

func mustBeProbability(p float64) { mustBe(p > 0 && p < 1, "probability", p) }

func mustBeDegrees(nu float64) { mustBe(nu >= 1, "degrees of freedom", nu) }

// endless says whether nu is so large that it makes no difference to a float64, infinity included.
func endless(nu float64) bool { return nu > 1e15 }

// NormalCDF returns the probability that a standard normal value is at most x.
func NormalCDF(x float64) float64 {
	mustBe(!math.IsNaN(x), "normal value", x)
	return math.Erfc(-x/math.Sqrt2) / 2
}

// NormalQuantile returns the standard normal value that is not exceeded with probability p, 0 < p < 1.
func NormalQuantile(p float64) float64 {
	mustBeProbability(p)
	return mathext.NormalQuantile(p)
}

// TCDF returns the probability that Student's t with nu degrees of freedom is at most t, nu from 1 to infinity.
func TCDF(t, nu float64) float64 {
	mustBeDegrees(nu)
	mustBe(!math.IsNaN(t), "t", t)
	if t > 0 {
		return 1 - tTail(t, nu)
	}
	return tTail(-t, nu)
}

// tTail returns the probability of exceeding t >= 0, exact where it is small. The two forms by the incomplete
// beta function are the same number; each is used where its argument keeps its digits. That function loses
// them beyond a million degrees of freedom, where the normal distribution of a transformed t is exact to
// 1e-10 from a hundred thousand on. Source: Wallace 1959, Annals of Mathematical Statistics 30.
func tTail(t, nu float64) float64 {
	switch {
	case endless(nu):
		return NormalCDF(-t)
	case nu > 1e5:
		return NormalCDF(-math.Sqrt(nu*math.Log1p(t*t/nu)) * (8*nu + 1) / (8*nu + 3))
	case t*t < nu:
		return 0.5 - mathext.RegIncBeta(0.5, nu/2, t*t/(nu+t*t))/2
	}
	return mathext.RegIncBeta(nu/2, 0.5, 1/(1+t/nu*t)) / 2
}

// TQuantile returns the value that Student's t with nu degrees of freedom does not exceed with probability
// p, 0 < p < 1, nu from 1 to infinity.
func TQuantile(p, nu float64) float64 {
	mustBeProbability(p)
	mustBeDegrees(nu)
	if endless(nu) || p == 0.5 {
		return NormalQuantile(p)
	}
	tail := math.Min(p, 1-p)
	t := remembered(key{'t', tail, nu, 0}, func() float64 {
		return solveAbove(tail-0.5, func(t float64) float64 { return tail - tTail(t, nu) })
	})
	if p < 0.5 {
		return -t
	}
	return t
}

// FCDF returns the probability that F with d1 and d2 degrees of freedom is at most x, x >= 0.
func FCDF(x, d1, d2 float64) float64 {
	mustBe(x >= 0, "F", x)
	mustBeDegrees(d1)
	mustBeDegrees(d2)
	if d1*x < d2 {
		return mathext.RegIncBeta(d1/2, d2/2, d1*x/(d1*x+d2))
	}
	return 1 - mathext.RegIncBeta(d2/2, d1/2, d2/(d1*x+d2))
}

// FQuantile returns the value that F with d1 and d2 degrees of freedom does not exceed with probability p,
// 0 < p < 1; d2 may be infinite.
func FQuantile(p, d1, d2 float64) float64 {
	mustBeProbability(p)
	if endless(d2) {
		return ChiSquareQuantile(p, d1) / d1
	}
	return solveAbove(-p, func(x float64) float64 { return FCDF(x, d1, d2) - p })
}

// ChiSquareCDF returns the probability that chi-square with nu degrees of freedom is at most x, x >= 0.
func ChiSquareCDF(x, nu float64) float64 {
	mustBe(x >= 0, "chi-square", x)
	mustBeDegrees(nu)
	return mathext.GammaIncReg(nu/2, x/2)
}

// ChiSquareQuantile returns the value that chi-square with nu degrees of freedom does not exceed with
// probability p, 0 < p < 1.
func ChiSquareQuantile(p, nu float64) float64 {
	mustBeProbability(p)
	return solveAbove(-p, func(x float64) float64 { return ChiSquareCDF(x, nu) - p })
}

// NoncentralTCDF returns the probability that (Z + delta)/s is at most t, where Z is standard normal and s an
// independent standard deviation with nu degrees of freedom and true value one:
//
//	integral over s of f(s) Phi(t s - delta)
//
// It gives exact confidence limits of one-sided capability, where t = 3 sqrt(n) Ppu and delta the same of
// the true index. nu is from 1 to infinity. Source: definition of the noncentral t distribution.
func NoncentralTCDF(t, nu, delta float64) float64 {
	mustBe(!math.IsNaN(t-delta), "t less noncentrality", t-delta)
	return overDeviation(nu, 1+math.Abs(delta), func(s float64) float64 { return NormalCDF(t*s - delta) })
}

// StudentizedRangeCDF returns the probability that the range of k standard normal values, divided by an
// independent standard deviation with nu degrees of freedom, is at most q:
//
//	integral over s of f(s) R(q s; k)
//
// with R the distribution of the range itself. k is from 2 up, nu from 1 to infinity. Source: definition of Tukey's
// studentized range, NIST/SEMATECH e-Handbook 7.4.7.1.
func StudentizedRangeCDF(q float64, k int, nu float64) float64 {
	mustBe(q >= 0, "studentized range", q)
	mustBe(k >= 2, "number of values", float64(k))
	return overDeviation(nu, 1, func(s float64) float64 { return rangeCDF(q*s, k) })
}

// StudentizedRangeQuantile returns the value that the studentized range of k values with nu degrees of
// freedom does not exceed with probability p, 0 < p < 1. The range of two values is the size of their
// difference, so that two values need Student's t only.
func StudentizedRangeQuantile(p float64, k int, nu float64) float64 {
	mustBeProbability(p)
	if k == 2 {
		return math.Sqrt2 * TQuantile((1+p)/2, nu)
	}
	return remembered(key{'q', p, nu, k}, func() float64 {
		f := func(q float64) float64 { return StudentizedRangeCDF(q, k, nu) - p }
		// It lies between what one of the differences exceeds, and what one of all exceeds at the most (Bonferroni).
		pairs := float64(k*(k-1)) / 2
		low, high := math.Sqrt2*TQuantile((1+p)/2, nu), math.Sqrt2*TQuantile(1-(1-p)/2/pairs, nu)
		fLow, fHigh := f(low), f(high)
		if fLow >= 0 || fHigh <= 0 { // too close for the sums to tell
			return solveAbove(-p, f)
		}
		return solveBetween(f, low, fLow, high, fHigh)
	})
}

// overDeviation returns the mean of g(s) over the distribution of a sample standard deviation s with nu
// degrees of freedom and true value one. The trapezoidal rule in x = ln s converges faster than any power of
// the step, because the density
//
//	exp(nu (x - exp(2x)/2 + 1/2)), up to its constant
//
// and all its derivatives vanish at both ends. sharpness says how steep g is in x: a g that climbs from 0 to 1
// within 1/10 has sharpness 10. With this step, halving it changes no result by more than 1e-10.
func overDeviation(nu, sharpness float64, g func(s float64) float64) float64 {
	mustBeDegrees(nu)
	if endless(nu) {
		return g(1)
	}
	step := 0.9 / (4 + math.Sqrt(2*nu) + sharpness)
	sum, weights := 0.0, 0.0
	add := func(x float64) bool {
		w := math.Exp(nu * (x - math.Expm1(2*x)/2))
		sum += w * g(math.Exp(x))
		weights += w
		return w > 1e-14
	}
	for x := 0.0; add(x); x += step {
	}
	for x := -step; add(x); x -= step {
	}
	return sum / weights
}

// rangeNodes are the places, densities and probabilities of the standard normal distribution at which
// rangeCDF sums, from the highest down.
var rangeNodes = func() (nodes [49]struct{ z, density, below float64 }) {
	const step = 0.35
	for i := range nodes {
		z := step * float64(len(nodes)/2-i)
		nodes[i].z = z
		nodes[i].density = step * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		nodes[i].below = NormalCDF(z)
	}
	return nodes
}()

// rangeCDF returns the probability that the range of k standard normal values is at most w:
//
//	k integral over z of phi(z) (Phi(z) - Phi(z - w))^(k-1)
//
// by the trapezoidal rule, as in overDeviation.
func rangeCDF(w float64, k int) float64 {
	sum := 0.0
	for _, n := range rangeNodes {
		within := n.below - NormalCDF(n.z-w)
		term := n.density
		for range k - 1 {
			term *= within
		}
		sum += term
		if n.z < 0 && term < 1e-17 {
			break
		}
	}
	return math.Min(1, float64(k)*sum)
}

// RangeMoments returns the mean d2 and the standard deviation d3 of the range W of n standard normal
// values, n from 2 to 25:
//
//	d2 = integral of 1 - R(w; n),   d2^2 + d3^2 = 2 integral of w (1 - R(w; n)),   w from 0 up
//
// by Simpson's rule. Source: definition, ISO 7870-2 and ASTM E2587.
func RangeMoments(n int) (d2, d3 float64) {
	mustBe(n >= 2 && n <= mostOfRange, "subgroup size", float64(n))
	m := &rangeMoments[n]
	m.Do(func() { m.d2, m.d3 = integrateRange(n) })
	return m.d2, m.d3
}

const mostOfRange = 25

// rangeMoments are those worked out already: every chart asks for the same few.
var rangeMoments [mostOfRange + 1]struct {
	sync.Once
	d2, d3 float64
}

func integrateRange(n int) (d2, d3 float64) {
	const intervals, end = 1024, 14.0 // a wider range has a probability below 1e-19
	const step = end / intervals
	second := 0.0
	for i := 0; i <= intervals; i++ {
		weight := step / 3 * float64(2+2*(i%2))
		if i == 0 || i == intervals {
			weight = step / 3
		}
		w := float64(i) * step
		beyond := weight * (1 - rangeCDF(w, n))
		d2 += beyond
		second += 2 * w * beyond
	}
	return d2, math.Sqrt(second - d2*d2)
}

// C4 returns the mean of the sample standard deviation of n standard normal values, n >= 2:
//
//	sqrt(2/(n-1)) Gamma(n/2) / Gamma((n-1)/2)
//
// Source: ISO 7870-2 and ASTM E2587.
func C4(n int) float64 {
	mustBe(n >= 2, "subgroup size", float64(n))
	upper, _ := math.Lgamma(float64(n) / 2)
	lower, _ := math.Lgamma(float64(n-1) / 2)
	return math.Sqrt(2/float64(n-1)) * math.Exp(upper-lower)
}
