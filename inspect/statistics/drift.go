package statistics

import "flutelog/inspect/length"

// Drift is the closing error of an inspection: how far a flute that was read first is off when it is read again
// last.
type Drift struct {
	Error   length.Length // closing mean less opening mean
	Allowed length.Length // what noise explains, 95 %
	Known   bool          // whether the readings tell what noise explains
	Void    bool          // more than noise: the set is void
}

// CheckDrift compares the closing readings of a flute with its opening ones, as one difference of two means. The
// permissible error of the gauge plays no part: both were read at the same place. noise is what Noise gives
// for the set. It returns ErrTooFew when either is empty.
func CheckDrift(opening, closing []length.Length, noise Repeatability, g Gauge) (Drift, error) {
	g.PermissibleError = 0
	e, err := Difference(closing, opening, noise, g)
	if err != nil {
		return Drift{}, err
	}
	d := Drift{Error: e.Value}
	d.Allowed, d.Known = e.Uncertainty()
	d.Void = d.Known && d.Error.Abs() > d.Allowed
	return d, nil
}
