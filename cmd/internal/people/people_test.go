package people

import (
	"crypto/pbkdf2"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestPeople(t *testing.T) {
	dir := t.TempDir()
	p, err := Read(dir)
	if err != nil || p.Names() != nil {
		t.Fatal(err, p.Names())
	}
	for _, one := range []struct{ name, pin, want string }{
		{"R. Vale", "2741", ""}, {"A. Nobody", "", ""}, {"r. vale", "1111", "there already"}, {" ", "1111", "needs a name"},
		{"Person B", "123", "3 characters"}, {"Person\x07", "", "control"},
	} {
		err := p.Add(one.name, one.pin)
		if one.want == "" && err != nil || one.want != "" && (err == nil || !strings.Contains(err.Error(), one.want)) {
			t.Errorf("add %q: %v, want %q", one.name, err, one.want)
		}
	}
	info, err := os.Stat(filepath.Join(dir, "people"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v, want 0600", info.Mode(), err)
	}
	text, _ := os.ReadFile(filepath.Join(dir, "people"))
	if strings.Contains(string(text), "2741") {
		t.Error("the PIN stands in the file")
	}
	if p, err = Read(dir); err != nil || len(p.Names()) != 2 {
		t.Fatal(err, p.Names())
	}
	if !p.Asks("R. Vale") || p.Asks("A. Nobody") || p.Asks("Person B") {
		t.Error("asked the wrong people")
	}
	for _, one := range []struct {
		name, pin string
		right     bool
	}{{"R. Vale", "2741", true}, {"R. VALE", "2741", true}, {"R. Vale", "2742", false}, {"R. Vale", "", false}, {"A. Nobody", "", true}, {"A. Nobody", "1", true}} {
		if err := p.Check(one.name, one.pin); (err == nil) != one.right || err != nil && !errors.Is(err, ErrPIN) {
			t.Errorf("%s with %q: %v", one.name, one.pin, err)
		}
	}
}

// A member signs in by the PIN that was given last, until they are ended; a name that is not there is refused as a wrong PIN is.
func TestMembers(t *testing.T) {
	dir := t.TempDir()
	p, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Join(Member{Name: "R. Vale", Role: "inspector", Plant: "North"}, "27415"); err == nil || !strings.Contains(err.Error(), "5 characters: want 6") {
		t.Errorf("a short PIN: %v", err)
	}
	if err := p.Join(Member{Name: "R. Vale", Role: "inspector", Plant: "North"}, "274158"); err != nil {
		t.Fatal(err)
	}
	if err := p.Add("A. Signer", ""); err != nil { // of a bench: no member
		t.Fatal(err)
	}
	signs := func(name, pin string, want bool) {
		t.Helper()
		p, err := Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		m, err := p.SignIn(name, pin)
		if want && (err != nil || m.Name != "R. Vale") || !want && !errors.Is(err, ErrPIN) {
			t.Errorf("%s with %q: %v, %v", name, pin, m, err)
		}
	}
	signs("r. vale", "274158", true)
	signs("R. Vale", "274157", false)
	signs("R. Vale", "", false)
	signs("A. Signer", "", false)
	signs("Nobody", "274158", false)
	if err = p.Join(Member{Name: "r. vale", Role: "steward"}, "999999"); err == nil {
		err = p.Join(Member{Name: "R. Vale", Role: "steward"}, "888888")
	}
	if err != nil {
		t.Fatal(err)
	}
	signs("R. Vale", "274158", false)
	signs("R. Vale", "888888", true)
	if all := p.Members(); len(all) != 2 || all[0] != (Member{Name: "R. Vale", Role: "steward"}) {
		t.Errorf("members: %v", all)
	}
	if err := p.End("R. Vale"); err != nil {
		t.Fatal(err)
	}
	signs("R. Vale", "888888", false)
	if err := p.End("Nobody"); err == nil {
		t.Error("one who is not there was ended")
	}
}

// A file that was damaged lets nobody sign as if there were no PIN.
func TestDamagedFile(t *testing.T) {
	for _, text := range []string{"x\n", `{"name":""}` + "\n", `{"name":"A","hash":"eA=="}` + "\n"} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "people"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Read(dir); err == nil || !strings.Contains(err.Error(), "people:1") {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// PBKDF2 with SHA-256 as RFC 7914, section 11 prints it: P "passwd", S "salt", c 1, the first 32 of 64 octets.
func TestSlowHashIsThePublishedOne(t *testing.T) {
	got, err := pbkdf2.Key(sha256.New, "passwd", []byte("salt"), 1, 32)
	if want := "55ac046e56e3089fec1691c22544b605f94185216dde0465e68b9d57c20dacbc"; err != nil || hex.EncodeToString(got) != want {
		t.Errorf("%x, %v, want %s", got, err, want)
	}
}
