package session

import (
	"encoding/json"
	"fmt"

	"flutelog/inspect/ledger"
	"flutelog/inspect/trend"
)

// KindLimits is the kind of the record that freezes the limits of a trend, or thaws them.
const KindLimits = "limits"

func trendSubject(what string) string { return "trend:" + what }

// FrozenLimits are the limits of one chart of some inspections, held until they are frozen anew.
type FrozenLimits struct {
	Date   string        `json:"date"`           // YYYY-MM-DD, UTC
	Chart  string        `json:"chart"`          // which chart of which inspections, in words
	Unit   string        `json:"unit,omitempty"` // of the limits: in, mm, deg, or 1 for a share
	Limits *trend.Frozen `json:"limits"`         // nil: thawed
}

// SaveLimits records the frozen limits of a trend of something.
func SaveLimits(l *ledger.Ledger, what string, f FrozenLimits) (ledger.Record, error) {
	return save(l, KindLimits, trendSubject(what), f)
}

// FindLimits returns the limits last frozen for a chart of something, without limits when none are in force.
func FindLimits(l *ledger.Ledger, what, chart string) (FrozenLimits, error) {
	for r, err := range l.History(trendSubject(what)) {
		if err != nil {
			return FrozenLimits{}, err
		}
		var f FrozenLimits
		if err := json.Unmarshal(r.Body, &f); err != nil {
			return FrozenLimits{}, fmt.Errorf("record %d of bench %s: %w", r.Seq, r.Bench, err)
		}
		if r.Kind == KindLimits && f.Chart == chart {
			return f, nil
		}
	}
	return FrozenLimits{}, nil
}
