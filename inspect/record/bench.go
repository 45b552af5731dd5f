package record

import (
	"encoding/json"
	"fmt"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// SaveStudy records a study of a gauge.
func SaveStudy(l *ledger.Ledger, gauge string, s Study) (ledger.Record, error) {
	return save(l, KindStudy, gaugePrefix+gauge, s)
}

// SaveSeating records a study of a kind of holding.
func SaveSeating(l *ledger.Ledger, held inspect.Holding, s Study) (ledger.Record, error) {
	return save(l, KindStudy, holdingPrefix+string(held), s)
}

// newestStudy returns the newest study under a subject; nil where there is none.
func newestStudy(l Source, subject string) (*Study, error) {
	r, found, err := l.Latest(subject, KindStudy)
	if err != nil || !found {
		return nil, err
	}
	body, err := decode(r)
	if err != nil {
		return nil, err
	}
	return body.(*Study), nil
}

// UseSeatings gives what the newest study of each kind of holding found.
func UseSeatings(l Source) (map[inspect.Holding]inspect.Seating, error) {
	all := map[inspect.Holding]inspect.Seating{}
	for _, held := range inspect.Holdings {
		s, err := newestStudy(l, holdingPrefix+string(held))
		if err != nil {
			return nil, fmt.Errorf("study of the %s: %w", held, err)
		}
		if s != nil {
			all[held] = inspect.Seating{SD: s.SD, DF: s.DF}
		}
	}
	if len(all) == 0 {
		return nil, nil
	}
	return all, nil
}

// UseStudies gives each gauge whose repeatability the bench file does not state that of its newest study.
func UseStudies(l Source, gauges map[string]inspect.Instrument) error {
	for name, g := range gauges {
		if g.RepeatabilityDF > 0 {
			continue
		}
		s, err := newestStudy(l, gaugePrefix+name)
		if err != nil {
			return fmt.Errorf("study of gauge %q: %w", name, err)
		}
		if s == nil {
			continue
		}
		g.Repeatability, g.RepeatabilityDF = s.SD, s.DF
		gauges[name] = g
	}
	return nil
}

// SaveDress records a dress of a wheel.
func SaveDress(l *ledger.Ledger, wheel string, d Dress) (ledger.Record, error) {
	return save(l, KindDress, wheelPrefix+wheel, d)
}

// SaveLimits records the fixed limits of a trend of something, or that there are none.
func SaveLimits(l *ledger.Ledger, what string, f FixedLimits) (ledger.Record, error) {
	return save(l, KindLimits, trendPrefix+what, f)
}

// FindLimits reads into limits those last fixed for a chart of something, and returns what was recorded of them; its
// Limits are nil where none are in force.
func FindLimits(l Source, what, chart string, limits any) (FixedLimits, error) {
	for r, err := range l.History(trendPrefix + what) {
		if err != nil {
			return FixedLimits{}, err
		}
		if r.Kind != KindLimits {
			continue
		}
		body, err := decode(r)
		if err != nil {
			return FixedLimits{}, err
		}
		f := *body.(*FixedLimits)
		if f.Chart != chart {
			continue
		}
		if string(f.Limits) == "null" || f.Limits == nil {
			f.Limits = nil
			return f, nil
		}
		return f, json.Unmarshal(f.Limits, limits)
	}
	return FixedLimits{}, nil
}
