// Package people is who may put their name to a ruling, and what they know that others do not: a PIN, kept salted and
// slowly hashed beside the ledger. It does not go with a merge. It keeps a colleague from signing as another in passing;
// who holds the folder can take the file away.
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

// Least and most characters of a PIN.
const (
	leastPIN = 4
	mostPIN  = 64
)

// ErrPIN says that a person has a PIN and that it is not the one given.
var ErrPIN = errors.New("the PIN is not right")

// person is one line of the file.
type person struct {
	Name   string `json:"name"`
	Salt   []byte `json:"salt,omitempty"`
	Hash   []byte `json:"hash,omitempty"` // none: no PIN is asked
	Rounds int    `json:"rounds,omitempty"`
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
	name, err := text.Check(strings.TrimSpace(name))
	if err != nil {
		return fmt.Errorf("name: %w", err)
	}
	if name == "" {
		return errors.New("a person needs a name")
	}
	if p.find(name) != nil {
		return fmt.Errorf("%q is there already; for a new PIN delete the line of that name from %s and add it again", name, p.path)
	}
	one := person{Name: name}
	if pin != "" {
		if n := utf8.RuneCountInString(pin); n < leastPIN || n > mostPIN {
			return fmt.Errorf("PIN: %d characters: want %d to %d", n, leastPIN, mostPIN)
		}
		one.Salt, one.Rounds = make([]byte, 16), rounds
		rand.Read(one.Salt) // never fails
		if one.Hash, err = pbkdf2.Key(sha256.New, pin, one.Salt, one.Rounds, sha256.Size); err != nil {
			return err
		}
	}
	p.all = append(p.all, one)
	return p.write()
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
	hash, err := pbkdf2.Key(sha256.New, pin, one.Salt, one.Rounds, len(one.Hash))
	if err != nil {
		return err
	}
	if subtle.ConstantTimeCompare(hash, one.Hash) != 1 {
		return fmt.Errorf("%s: %w", one.Name, ErrPIN)
	}
	return nil
}
