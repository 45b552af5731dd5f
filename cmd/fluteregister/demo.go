package main

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"flutelog/cmd/fluteregister/internal/api"
	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/cluster"
	"flutelog/cmd/fluteregister/internal/invented"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/fluteregister/internal/web"
	"flutelog/cmd/internal/people"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
)

func demoCommand() command {
	var once bool
	return command{
		name: "demo", summary: "three invented benches and a register with a database of its own: a tool that moves, a fork, a lost bench", example: "demo --once",
		flags: func(f *pflag.FlagSet) {
			f.BoolVar(&once, "once", false, "end when the story is told, and serve no longer")
		},
		run: func(e env, _ []string) error { return demo(e, once) },
	}
}

// demoPeople may look at the demo's register; all have the same PIN.
var demoPeople = []people.Member{{Name: "S. Okafor", Role: string(web.Steward)}, {Name: "A. Vale", Role: string(web.Inspector), Plant: "works 1"}, {Name: "M. Hand", Role: string(web.Machinist)}}

const demoPIN = "271828"

// demonstration is the story that demo tells, and what it needs.
type demonstration struct {
	env
	dir     string
	store   *store.Store
	book    *book.Book
	address string
	key     string
	benches []*invented.Bench
	conns   []*register.Conn
}

func demo(e env, once bool) (err error) {
	fmt.Fprintln(e.stderr, "All benches, tools and people of this demo are invented.")
	db, err := cluster.New("shared_buffers=32MB")
	if errors.Is(err, cluster.ErrMissing) {
		return hinted{err, "install it and start the demo again; it makes a database of its own, and removes it"}
	} else if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Remove()) }()
	if err := db.Start(); err != nil {
		return err
	}
	d := &demonstration{env: e}
	if d.dir, err = os.MkdirTemp("", "fluteregister-demo"); err != nil {
		return err
	}
	defer os.RemoveAll(d.dir)
	p := places{database: db.URL("postgres"), folder: filepath.Join(d.dir, "register")}
	if d.store, d.book, _, err = p.open(e); err != nil {
		return err
	}
	defer d.store.Close()
	certificate, key, err := registerKey(p.folder, e.now())
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	d.address, d.key = listener.Addr().String(), key
	for _, m := range demoPeople {
		if err := web.Join(p.folder, m, demoPIN); err != nil {
			return err
		}
	}
	serving := e
	var stop context.CancelFunc
	serving.Context, stop = context.WithCancel(e)
	done := make(chan error, 1)
	go func() {
		done <- serveOn(serving, listener, certificate, d.store, d.book, pages(e, d.store, d.book, p.folder, d.address, key, length.In))
	}()
	defer func() {
		stop()
		err = errors.Join(err, <-done)
	}()
	if err := d.tell(); err != nil || once {
		return err
	}
	token, err := d.enrol(store.Enrolled{Label: "demo", Reads: true})
	if err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "\nThe register goes on until Ctrl-C, which removes all of it. To see it, open\n  https://%s\nin a browser, which does not know its certificate, and sign in as S. Okafor (steward), A. Vale (inspector) or M. Hand (machinist), PIN %s. For a program:\n  curl -sk -H 'Authorization: Bearer %s' https://%[1]s/v1/tools/EM-0001\n", d.address, demoPIN, token.Token)
	<-e.Done()
	return nil
}

// enrol lets a bench, or a program that reads, ask.
func (d *demonstration) enrol(e store.Enrolled) (register.Enrolment, error) {
	e.Since = d.now().UTC()
	return letAsk(d, d.store, d.book, d.address, d.key, e)
}

func (d *demonstration) tell() error {
	for _, step := range []func() error{d.send, d.move, d.fork, d.lose} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

func (d *demonstration) sayf(format string, args ...any) { fmt.Fprintf(d.stdout, format+"\n", args...) }

// send lets three benches record and send.
func (d *demonstration) send() error {
	d.sayf("\n1. Three benches record, and send.")
	for i, label := range []string{"north", "south", "east"} {
		b, err := invented.New(filepath.Join(d.dir, label), label, uint64(i+1))
		if err != nil {
			return err
		}
		prefix := []string{"EM", "BN", "SL"}[i]
		if err := b.Day(prefix+"-0001", prefix+"-0002", prefix+"-0003", prefix+"-0004", prefix+"-0005"); err != nil {
			return err
		}
		enrolment, err := d.enrol(store.Enrolled{Label: label, Plant: []string{"works 1", "works 1", "works 2"}[i]})
		if err != nil {
			return err
		}
		d.benches, d.conns = append(d.benches, b), append(d.conns, &register.Conn{Enrolment: enrolment})
		sent, err := d.conns[i].Send(d, b.Ledger)
		if err != nil {
			return err
		}
		d.sayf("   %-5s  %d lines sent, and acknowledged up to number %d", label, sent.Lines, sent.Acknowledged.Seq)
	}
	return nil
}

// move lets a tool go from one bench to another.
func (d *demonstration) move() error {
	d.sayf("\n2. EM-0001 goes from bench north to bench south, which asks the register what was recorded of it, inspects it anew and releases it.")
	south := d.benches[1]
	if _, err := register.Ask(d, south.Ledger, d.conns[1].Enrolment, d.now, record.ToolSubject("EM-0001")); err != nil {
		return err
	}
	id, err := south.Inspect("EM-0001", "", inspect.After, 1)
	if err == nil {
		err = south.Release("R. Moss", id)
	}
	if err == nil {
		_, err = d.conns[1].Send(d, south.Ledger)
	}
	if err != nil {
		return err
	}
	names, err := d.store.Names(d)
	if err != nil {
		return err
	}
	return d.store.Read(d, func(src *store.Source) error {
		life, err := api.LifeOf(src, "EM-0001")
		if err != nil {
			return err
		}
		d.sayf("   Over all benches it stands %s, by %s at %s. Its life:", life.Standing, life.Decides, names[life.DecidesAt])
		for _, i := range life.Inspections {
			ruled := "not ruled on"
			if i.Ruling != nil {
				ruled = fmt.Sprintf("%s by %s", i.Ruling.Word, i.Ruling.By)
			}
			d.sayf("   %s  at %s: %s, %s", i.Inspection, names[i.Bench], i.Verdict, ruled)
		}
		return nil
	})
}

// fork lets an old card of a bench be put into another board.
func (d *demonstration) fork() error {
	d.sayf("\n3. A copy of bench south's card is put into another board, and records too.")
	south := d.benches[1]
	copied := filepath.Join(d.dir, "south-copy")
	if err := os.CopyFS(copied, os.DirFS(south.Dir())); err != nil {
		return err
	}
	other, err := invented.New(copied, "south", 99)
	if err != nil {
		return err
	}
	if err := errors.Join(south.Add("BN-0006"), other.Add("BN-0099")); err != nil {
		return err
	}
	if _, err := d.conns[1].Send(d, south.Ledger); err != nil {
		return err
	}
	conn := &register.Conn{Enrolment: d.conns[1].Enrolment}
	defer conn.Close()
	_, err = conn.Send(d, other.Ledger)
	var fork *register.Fork
	if !errors.As(err, &fork) {
		return fmt.Errorf("the copy's lines were not refused: %v", err)
	}
	d.sayf("   The copy is told: %v", err)
	if err := south.Day("BN-0001"); err != nil {
		return err
	}
	if _, err := d.conns[1].Send(d, south.Ledger); err != nil {
		return err
	}
	forks, err := d.store.Forks(d, "")
	if err != nil {
		return err
	}
	for _, f := range forks {
		d.sayf("   The register has two lines of number %d of bench south: the one that was refused is kept as evidence, and what the first copy sends is still taken.\n   It waits for a person to say which copy is the bench: fluteregister rule south --true here --by NAME --why WHY, or See to on its pages.", f.Seq)
	}
	return nil
}

// lose loses a bench, and makes it again.
func (d *demonstration) lose() error {
	d.sayf("\n4. Bench east's card is lost; its ledger is made again from the register.")
	own, err := d.benches[2].Head()
	if err != nil {
		return err
	}
	again := filepath.Join(d.dir, "east-again")
	if _, err := ledger.Restore(again, own.Bench, true, d.store.Lines(d, own.Bench, 0)); err != nil {
		return err
	}
	report, err := ledger.Verify(again, []string{own.String()}, nil)
	if err != nil {
		return err
	}
	if len(report.Damage) > 0 || len(report.Benches) != 1 || report.Benches[0].Proven != own.Seq {
		return fmt.Errorf("what was made again is not what was lost: %+v", report)
	}
	d.sayf("   All %d lines, SOUND, up to the last that the bench had printed: %s", own.Seq, shortHead(own))
	return nil
}

func shortHead(h ledger.Head) string {
	text := h.String()
	return text[:strings.LastIndexByte(text, '-')+17] + "…"
}

// newToken returns a token that nobody can guess.
func newToken() string {
	random := make([]byte, 32)
	rand.Read(random)
	return base64.RawURLEncoding.EncodeToString(random)
}
