package session

import "flutelog/inspect/ledger"

// KindDress is the kind of the record that says that a wheel was dressed.
const KindDress = "wheel"

// WheelSubject returns the subject that the dresses of a wheel stand under.
func WheelSubject(name string) string { return "wheel:" + name }

// Dress is one dress of a wheel: what wore is gone, and its wear is counted anew.
type Dress struct {
	Date string `json:"date"` // YYYY-MM-DD, UTC
	Who  string `json:"who,omitempty"`
	Note string `json:"note,omitempty"`
}

// SaveDress records a dress of a wheel.
func SaveDress(l *ledger.Ledger, wheel string, d Dress) (ledger.Record, error) {
	return save(l, KindDress, WheelSubject(wheel), d)
}
