package session

import (
	"encoding/json"
	"fmt"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/study"
)

// KindStudy is the kind of the record that keeps a study of a gauge.
const KindStudy = "study"

// GaugeSubject returns the subject that the studies of a gauge stand under.
func GaugeSubject(name string) string { return "gauge:" + name }

// Study is what a study of a gauge came to.
type Study struct {
	Date       string           `json:"date"` // YYYY-MM-DD, UTC
	Who        string           `json:"who,omitempty"`
	SD         float64          `json:"sd_um"` // of one reading, one person repeating
	DF         int              `json:"df"`    // degrees of freedom of SD
	Bias       *study.Bias      `json:"bias,omitempty"`
	Master     *length.Length   `json:"master,omitempty"` // that the bias is against
	Resolution *ResolutionCheck `json:"resolution_check,omitempty"`
	Crossed    *study.Crossed   `json:"crossed,omitempty"` // in the unit of its values
	Parts      []StudiedPart    `json:"parts,omitempty"`   // what was read, where it is one person's
}

// ResolutionCheck says whether a gauge divides a tolerance into ten parts or more.
type ResolutionCheck struct {
	Resolution length.Length `json:"resolution"`
	Tolerance  length.Length `json:"tolerance"`
	FineEnough bool          `json:"fine_enough"`
}

// StudiedPart is one part with its readings in the order in which they were taken.
type StudiedPart struct {
	Name     string          `json:"part"`
	Readings []length.Length `json:"readings"`
}

// SaveStudy records a study of a gauge.
func SaveStudy(l *ledger.Ledger, gauge string, s Study) (ledger.Record, error) {
	return save(l, KindStudy, GaugeSubject(gauge), s)
}

func save(l *ledger.Ledger, kind, subject string, body any) (ledger.Record, error) {
	text, err := json.Marshal(body)
	if err != nil {
		return ledger.Record{}, err
	}
	records, err := l.Append(ledger.Entry{Kind: kind, Subject: subject, Body: text})
	if err != nil {
		return ledger.Record{}, err
	}
	return records[0], nil
}

// UseStudies gives each gauge whose repeatability the bench file does not state that of its newest study.
func UseStudies(l *ledger.Ledger, gauges map[string]inspect.Instrument) error {
	for name, g := range gauges {
		if g.RepeatabilityDF > 0 {
			continue
		}
		var s Study
		found, err := latest(l, GaugeSubject(name), KindStudy, &s)
		if err != nil {
			return fmt.Errorf("study of gauge %q: %w", name, err)
		}
		if found {
			g.Repeatability, g.RepeatabilityDF = s.SD, s.DF
			gauges[name] = g
		}
	}
	return nil
}

// latest reads the body of a subject's newest record of a kind, and says whether there is one.
func latest(l *ledger.Ledger, subject, kind string, body any) (bool, error) {
	r, found, err := l.Latest(subject, kind)
	if err != nil || !found {
		return false, err
	}
	if err := json.Unmarshal(r.Body, body); err != nil {
		return false, fmt.Errorf("record %d of bench %s: %w", r.Seq, r.Bench, err)
	}
	return true, nil
}
