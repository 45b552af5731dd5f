// Package people is who may put their name to a ruling, or look at a register, and what they know that others do not: a PIN,
// kept salted and slowly hashed beside the ledger. It does not go with a merge. It keeps a colleague from signing as another
// in passing; who holds the folder can take the file away.
package people

import (
	"bytes"
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"flutelog/inspect/text"
)

// fileName is the file in the ledger's folder: a line a person, as JSON.
const fileName = "people"

// rounds of PBKDF2 with SHA-256 (RFC 8018, section 5.2): about a tenth of a second on a laptop, a second on a small
// board. A PIN of four digits falls to whoever has the file, at whatever price; it is no lock for a stranger.
const rounds = 200_000

// Least and most characters of a PIN. Where it is asked over a network, at a register, it has more at least.
const (
	leastPIN       = 4
	leastMemberPIN = 6
	mostPIN        = 64
)

// ErrPIN says that a person has a PIN and that it is not the one given.
var ErrPIN = errors.New("the PIN is not right")

// person is one line of the file.
type person struct {
	Name   string `json:"name"`
	Salt   []byte `json:"salt,omitempty"`
	Hash   []byte `json:"hash,omitempty"` // none: no PIN is asked
	Rounds int    `json:"rounds,omitempty"`
	Role   string `json:"role,omitempty"`  // at a register, what they may do
	Plant  string `json:"plant,omitempty"` // that they belong to
	Ended  bool   `json:"ended,omitempty"` // they may no more
}

// Member is a person at a register.
type Member struct {
	Name  string `json:"name"`
	Role  string `json:"role"` // what they may do, in the register's word
	Plant string `json:"plant,omitempty"`
	Ended bool   `json:"ended,omitempty"` // they may no more

	pin string // tells the PIN that was given last from those before
}

// People is those of one ledger.
type People struct {
	path string
	all  []person
}

// Read reads the people of the ledger in a folder; none where there is no file yet.
func Read(dir string) (*People, error) {
	p := &People{path: filepath.Join(dir, fileName)}
	data, err := os.ReadFile(p.path)
	if errors.Is(err, fs.ErrNotExist) {
		return p, nil
	}
	if err != nil {
		return nil, err
	}
	for n, line := range bytes.Split(bytes.TrimSpace(data), []byte("\n")) {
		var one person
		if err := json.Unmarshal(line, &one); err != nil || one.Name == "" || len(one.Hash) > 0 && one.Rounds < 1 {
			return nil, fmt.Errorf("%s:%d: it is no person as this program writes them; put right or delete that line, and add the person again", p.path, n+1)
		}
		p.all = append(p.all, one)
	}
	return p, nil
}

// Names returns the names, in the order in which they were added.
func (p *People) Names() []string {
	var names []string
	for _, one := range p.all {
		names = append(names, one.Name)
	}
	return names
}

func (p *People) find(name string) *person {
	i := slices.IndexFunc(p.all, func(one person) bool { return text.Fold(one.Name) == text.Fold(name) })
	if i < 0 {
		return nil
	}
	return &p.all[i]
}

// Asks says whether a person has a PIN.
func (p *People) Asks(name string) bool {
	one := p.find(name)
	return one != nil && len(one.Hash) > 0
}

// Add adds a person, with a PIN or, where it is empty, without. One that is there already is an error: a forgotten PIN
// is put right by deleting the person's line from the file.
func (p *People) Add(name, pin string) error {
	if p.find(name) != nil {
		return fmt.Errorf("%q is there already; for a new PIN delete the line of that name from %s and add it again", name, p.path)
	}
	one, err := named(name)
	if err == nil && pin != "" {
		err = one.give(pin, leastPIN)
	}
	if err != nil {
		return err
	}
	p.all = append(p.all, one)
	return p.write()
}

// Join makes a person a member, in the place of one of that name: with another role, another PIN, or again. The PIN is never
// empty.
func (p *People) Join(m Member, pin string) error {
	one, err := named(m.Name)
	if err != nil {
		return err
	}
	if one.Plant, err = text.Check(strings.TrimSpace(m.Plant)); err != nil {
		return fmt.Errorf("plant: %w", err)
	}
	if err := one.give(pin, leastMemberPIN); err != nil {
		return err
	}
	one.Role = m.Role
	if was := p.find(m.Name); was != nil {
		*was = one
	} else {
		p.all = append(p.all, one)
	}
	return p.write()
}

// End takes from a member all that they may; their name stays, since what they decided does.
func (p *People) End(name string) error {
	one := p.find(name)
	if one == nil {
		return fmt.Errorf("%q is not among them: %s", name, strings.Join(p.Names(), ", "))
	}
	one.Ended, one.Salt, one.Hash, one.Rounds = true, nil, nil, 0
	return p.write()
}

// Members returns all people with what they may do, in the order in which they were added.
func (p *People) Members() []Member {
	var all []Member
	for _, one := range p.all {
		all = append(all, Member{Name: one.Name, Role: one.Role, Plant: one.Plant, Ended: one.Ended})
	}
	return all
}

// Member returns the member of a name, if there is one who may still do anything. What it returns is equal as long as nothing
// of them changes, their PIN among it.
func (p *People) Member(name string) (Member, bool) {
	one := p.find(name)
	if one == nil || one.Ended || len(one.Hash) == 0 {
		return Member{}, false
	}
	return Member{one.Name, one.Role, one.Plant, one.Ended, string(one.Salt)}, true
}

// nobody is whom a PIN is held against where there is no such person: that takes as long.
var nobody = person{Salt: make([]byte, 16), Hash: make([]byte, sha256.Size), Rounds: rounds}

// SignIn returns the member of a name, or ErrPIN: for a name that is not there as for a PIN that is not theirs, and after as
// long.
func (p *People) SignIn(name, pin string) (Member, error) {
	m, ok := p.Member(name)
	one := nobody
	if ok {
		one = *p.find(name)
	}
	right, err := one.has(pin)
	if err == nil && (!right || !ok) {
		err = ErrPIN
	}
	if err != nil {
		return Member{}, err
	}
	return m, nil
}

// named returns a person of a name, as it is kept.
func named(name string) (person, error) {
	name, err := text.Check(strings.TrimSpace(name))
	if err != nil {
		return person{}, fmt.Errorf("name: %w", err)
	}
	if name == "" {
		return person{}, errors.New("a person needs a name")
	}
	return person{Name: name}, nil
}

// give gives a person a PIN of so many characters at least.
func (one *person) give(pin string, least int) (err error) {
	if n := utf8.RuneCountInString(pin); n < least || n > mostPIN {
		return fmt.Errorf("PIN: %d characters: want %d to %d", n, least, mostPIN)
	}
	one.Salt, one.Rounds = make([]byte, 16), rounds
	rand.Read(one.Salt) // never fails
	one.Hash, err = pbkdf2.Key(sha256.New, pin, one.Salt, one.Rounds, sha256.Size)
	return err
}

// has says whether a PIN is the person's.
func (one *person) has(pin string) (bool, error) {
	hash, err := pbkdf2.Key(sha256.New, pin, one.Salt, one.Rounds, len(one.Hash))
	return err == nil && subtle.ConstantTimeCompare(hash, one.Hash) == 1, err
}

// write writes the file whole, for nobody but its owner to read.
func (p *People) write() error {
	f, err := os.CreateTemp(filepath.Dir(p.path), fileName+"-*") // mode 0600
	if err != nil {
		return err
	}
	w := json.NewEncoder(f)
	for _, one := range p.all {
		err = errors.Join(err, w.Encode(one))
	}
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), p.path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// Check returns nil where a person has no PIN or gave theirs, and else ErrPIN.
func (p *People) Check(name, pin string) error {
	one := p.find(name)
	if one == nil || len(one.Hash) == 0 {
		return nil
	}
	right, err := one.has(pin)
	if err == nil && !right {
		err = fmt.Errorf("%s: %w", one.Name, ErrPIN)
	}
	return err
}
