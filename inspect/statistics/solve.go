package statistics

import (
	"math"
	"sync"
)

// solveAbove returns the x > 0 at which f, which rises from f(0) below zero to above it, crosses zero.
func solveAbove(atZero float64, f func(x float64) float64) float64 {
	low, high := 0.0, 1.0
	fLow, fHigh := atZero, f(high)
	for fHigh < 0 {
		low, fLow = high, fHigh
		high *= 2
		fHigh = f(high)
	}
	return solveBetween(f, low, fLow, high, fHigh)
}

// solveBetween returns the place between a and b at which f, of opposite signs there, crosses zero, to
// thirteen digits. It halves the bracket, or interpolates by an inverse parabola through the last
// three points where that is safe. Source: Chandrupatla 1997, Advances in Engineering Software 28.
func solveBetween(f func(x float64) float64, a, fa, b, fb float64) float64 {
	c, fc := a, fa
	part := 0.5
	for {
		x := a + part*(b-a)
		fx := f(x)
		if (fx > 0) == (fa > 0) {
			c, fc = a, fa
		} else {
			c, fc = b, fb
			b, fb = a, fa
		}
		a, fa = x, fx

		best := a
		if math.Abs(fb) < math.Abs(fa) {
			best = b
		}
		tolerance := 1e-13 * math.Abs(best) / math.Abs(b-a)
		if fa == 0 || tolerance > 0.5 {
			return best
		}
		part = 0.5
		xi, phi := (a-b)/(c-b), (fa-fb)/(fc-fb)
		if phi*phi < xi && (1-phi)*(1-phi) < 1-xi {
			part = fa/(fb-fa)*fc/(fb-fc) + (c-a)/(b-a)*fa/(fc-fa)*fb/(fc-fb)
		}
		part = math.Min(1-tolerance, math.Max(tolerance, part))
	}
}

// key names one quantile: which distribution, probability, degrees of freedom and number of values.
type key struct {
	of    byte
	p, nu float64
	k     int
}

var memory = struct {
	sync.Mutex
	quantiles map[key]float64
}{quantiles: map[key]float64{}}

// remembered returns the quantile k, computed at its first use only: judging asks for the same few again and
// again. The memory is emptied when it has grown large, so that a bench left on for years does not fill up.
func remembered(k key, compute func() float64) float64 {
	memory.Lock()
	x, ok := memory.quantiles[k]
	memory.Unlock()
	if ok {
		return x
	}
	x = compute()
	memory.Lock()
	defer memory.Unlock()
	if len(memory.quantiles) >= 4096 {
		clear(memory.quantiles)
	}
	memory.quantiles[k] = x
	return x
}
