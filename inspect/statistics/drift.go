package statistics

import "flutelog/inspect/length"

// Closing is the closing error of a set: how far a flute that was read first is off when it is read again last.
type Closing struct {
	Error   length.Length // closing mean less opening mean
	Allowed length.Length // what noise explains, 95 %
	Known   bool          // whether the readings tell what noise explains
	Void    bool          // more than noise: the set is void
}

// CheckDrift compares the closing readings of a flute with its opening ones, as one difference of two means. The
// permissible error of the gauge plays no part: both were read at the same place. noise is what Noise gives
// for the set. It returns ErrTooFew when either is empty.
func CheckDrift(opening, closing []length.Length, noise Repeatability, g Accuracy) (Closing, error) {
	g.PermissibleError = 0
	e, err := Difference(closing, opening, noise, g)
	if err != nil {
		return Closing{}, err
	}
	c := Closing{Error: e.Value}
	c.Allowed, c.Known = e.Uncertainty()
	c.Void = c.Known && c.Error.Abs() > c.Allowed
	return c, nil
}
