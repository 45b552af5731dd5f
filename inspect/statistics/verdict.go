package statistics

import "fmt"

// Verdict is what a feature comes to. The words are the same everywhere: on the screen, on paper and in the
// record.
type Verdict string

const (
	Accept    Verdict = "accept"
	Reject    Verdict = "reject"
	Undecided Verdict = "undecided"  // the limit lies inside the guard band
	NotJudged Verdict = "not judged" // too little was read
)

// Rule is the decision rule in force.
type Rule string

const (
	// Simple compares the value with the limit: for work at the bench.
	Simple Rule = "simple"
	// Guarded accepts only when the true value conforms, and rejects only when it does not, with at most 5 %
	// risk of being wrong: for release. Source: JCGM 106:2012; ISO 14253-1.
	Guarded Rule = "guarded"
)

// ParseRule reads a rule's name. It refuses anything but simple and guarded.
func ParseRule(s string) (Rule, error) {
	if r := Rule(s); r == Simple || r == Guarded {
		return r, nil
	}
	return "", fmt.Errorf("decision rule %q: want simple or guarded", s)
}
