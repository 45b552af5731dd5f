package web

import "slices"

// Role is what a person may do at the register. Each may what those before it may.
type Role string

// The roles.
const (
	Machinist Role = "machinist" // looks
	Inspector Role = "inspector" // rules on forks of the own plant, and sees the own trends
	Steward   Role = "steward"   // enrols benches and people, and sees everything
)

// Roles are those that there are, the one that may least first.
var Roles = []Role{Machinist, Inspector, Steward}

func (r Role) atLeast(least Role) bool {
	return slices.Contains(Roles, r) && slices.Index(Roles, r) >= slices.Index(Roles, least)
}

// one and plural name a role in a sentence.
func (r Role) one() string {
	if r == Inspector {
		return "an inspector"
	}
	return "a " + string(r)
}

func (r Role) plural() string { return string(r) + "s" }

// May says in words what a role may do.
func (r Role) May() string {
	return map[Role]string{Machinist: "looks", Inspector: "rules on forks of the own plant", Steward: "enrols benches and people"}[r]
}

// rules says whether one may rule on the forks of a plant.
func rules(role Role, own, plant string) bool {
	return role == Steward || role == Inspector && own == plant
}
