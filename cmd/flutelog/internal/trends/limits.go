package trends

import (
	"encoding/json"
	"fmt"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/trend"
)

// limitsInForce returns the limits fixed for a chart, in a unit; nil when they are computed.
func limitsInForce(l *ledger.Ledger, what, chart, unit string) (fixed *trend.Fixed, since, by string, err error) {
	var limits trend.Fixed
	kept, err := record.FindLimits(l, what, chart, &limits)
	if err != nil || kept.Limits == nil {
		return nil, "", "", err
	}
	k := 1.0
	if kept.Unit != unit {
		k = length.Unit(kept.Unit).Size().Micrometres() / length.Unit(unit).Size().Micrometres()
	}
	limits = limits.Times(k)
	return &limits, kept.Date, kept.By, nil
}

// saveLimits fixes the limits of a chart, or lets them go where there are none.
func saveLimits(l *ledger.Ledger, now time.Time, what string, f record.FixedLimits, limits *trend.Fixed) (ledger.Record, error) {
	f.Date = now.UTC().Format(time.DateOnly)
	if limits != nil {
		text, err := json.Marshal(limits)
		if err != nil {
			return ledger.Record{}, err
		}
		f.Limits = text
	}
	return record.SaveLimits(l, what, f)
}

// keepLimits does so, and says it.
func keepLimits(e command.Env, l *ledger.Ledger, what string, f record.FixedLimits, limits *trend.Fixed) error {
	r, err := saveLimits(l, e.Now(), what, f, limits)
	if err != nil {
		return err
	}
	done := "fixed"
	if limits == nil {
		done = "let go, and computed from the inspections again"
	}
	fmt.Fprintf(e.Stderr, "flutelog: limits %s, %s: record %d, head %s\n", done, f.Chart, r.Seq, r.Head().String())
	return nil
}
