// Package page is the bench page: a whole inspection from a tablet in the shop, with live readings, the verdict
// and a tool's history. It speaks through the same desk and gauges as the command line. Everything it serves
// is embedded; nothing it serves asks for anything from elsewhere, and without a script it works by forms.
package page

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"embed"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"slices"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/cmd/flutelog/internal/inquiry"
	"flutelog/cmd/internal/look"
	"flutelog/cmd/internal/people"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// Config says what a page serves.
type Config struct {
	Ledger   *ledger.Ledger
	Bench    *bench.File
	Unit     length.Unit
	Now      func() time.Time
	Practice *Practice   // stands for the gauges of the bench file; nil for none
	Paired   bool        // devices must be paired with the code shown on Terminal
	Terminal io.Writer   // the recorder's own
	Names    []string    // further names that the page is reached by
	TLS      *tls.Config // nil for plain HTTP
}

// gauges opens the gauges that are there and serve nothing else.
func (c Config) gauges(serves func(gauge string) string) (*gauges.Set, []error) {
	set := &gauges.Set{ByEye: c.byEye()}
	if c.Practice != nil {
		if serves(PracticeName) != "" {
			return set, nil
		}
		if err := set.Add(bench.GaugeTable{Profile: c.Practice.Profile}, c.Practice.Open); err != nil {
			return set, []error{err}
		}
		return set, nil
	}
	var troubles []error
	there, _ := gauges.Present(c.Bench)
	for _, g := range there {
		if serves(g.WithDefaults().Name) != "" {
			continue
		}
		if err := set.Add(g, device.OpenSerial(g.Profile)); err != nil {
			troubles = append(troubles, err)
		}
	}
	return set, troubles
}

// byEye are the gauges that are read by eye: what is typed is theirs. It is not of a gauge whose line is there and that
// reads something else.
func (c Config) byEye() []bench.GaugeTable {
	wired := c.wired()
	return slices.DeleteFunc(slices.Clone(c.Bench.Gauges), func(g bench.GaugeTable) bool { return slices.Contains(wired, g.WithDefaults().Name) })
}

// wired are the names of the gauges that are there.
func (c Config) wired() []string {
	if c.Practice != nil {
		return []string{PracticeName}
	}
	var names []string
	there, _ := gauges.Present(c.Bench)
	for _, g := range there {
		names = append(names, g.WithDefaults().Name)
	}
	return names
}

// known is what is known of gauges beside those of the bench file.
func (c Config) known() map[string]inspect.Instrument {
	if c.Practice == nil {
		return nil
	}
	return map[string]inspect.Instrument{PracticeName: {Resolution: c.Practice.Profile.Resolution, Practice: true}}
}

// Bounds of what one recorder serves.
const (
	mostStreams = 48
	mostHeader  = 16 << 10
	readWithin  = 10 * time.Second
	writeWithin = 20 * time.Second
	idleAtMost  = time.Minute
	closeWithin = 2 * time.Second
)

//go:embed files
var files embed.FS

// Server serves the page.
type Server struct {
	Config
	hub         *hub
	devices     *devices
	connections *connections
	pins        *people.Tries
	elsewhere   *inquiry.Asker
	answers     http.Handler // everybody
	inside      http.Handler // what devices that are let in are answered by
	feeds       feeds
	run         string        // names this run of the server: numbers of another run mean nothing
	streams     chan struct{} // one element for each open
	closing     context.Context
	close       context.CancelFunc
}

// New returns a server.
func New(c Config) *Server {
	s := &Server{Config: c, hub: newHub(c), devices: newDevices(c), pins: people.NewTries(mostPINs, pinWait, c.Now), elsewhere: inquiry.New(c.Ledger, c.Now), run: rand.Text(), streams: make(chan struct{}, mostStreams)}
	s.hub.serve, s.hub.served = s.devices.gaugeServes, s.devices.servedBefore
	s.answers = s.handler()
	s.closing, s.close = context.WithCancel(context.Background())
	return s
}

// Serve answers on l until ctx ends, and then lets go of the inspection in hand, which can be taken up again.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	s.connections = boundConnections(l, s.devices.knownAddress)
	l = s.connections
	server := &http.Server{
		Handler:           s.answers,
		ConnState:         s.connections.state,
		ReadHeaderTimeout: readWithin,
		ReadTimeout:       readWithin,
		WriteTimeout:      writeWithin,
		IdleTimeout:       idleAtMost,
		MaxHeaderBytes:    mostHeader,
		ErrorLog:          log.New(io.Discard, "", 0), // what clients do wrong is answered to them
	}
	if s.TLS != nil {
		l = tls.NewListener(l, s.TLS)
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(l) }()
	var err error
	select {
	case err = <-served:
	case <-ctx.Done():
		s.close()
		within, cancel := context.WithTimeout(context.Background(), closeWithin)
		defer cancel()
		if err = server.Shutdown(within); errors.Is(err, context.DeadlineExceeded) {
			err = server.Close()
		}
	}
	s.close()
	for _, id := range s.hub.inHand() {
		err = errors.Join(err, s.hub.putDown(id))
	}
	return err
}

// handler returns everything that the page answers to.
func (s *Server) handler() http.Handler {
	open := http.NewServeMux() // before pairing
	open.HandleFunc("GET /page.css", s.style)
	open.Handle("GET /page.js", fixed("text/javascript; charset=utf-8", "files/page.js"))
	open.HandleFunc("GET /icon.svg", look.ServeIcon)
	if s.Paired {
		open.HandleFunc("GET /pair", s.pairPage)
		open.HandleFunc("POST /pair", s.pair)
	}

	mux := http.NewServeMux()
	s.inside = mux
	mux.HandleFunc("GET /sign-in", s.signInPage)
	mux.HandleFunc("POST /sign-in", s.signIn)
	mux.HandleFunc("POST /sign-off", s.signOff)
	mux.HandleFunc("GET /devices", s.devicesPage)
	mux.HandleFunc("POST /shut-out", s.byPerson(s.shutOut))
	mux.HandleFunc("POST /another-code", s.byPerson(s.anotherCode))
	mux.HandleFunc("GET /{$}", s.home)
	mux.HandleFunc("GET /tools", s.tools)
	mux.HandleFunc("GET /add", s.addPage)
	mux.HandleFunc("POST /add", s.byPerson(s.add))
	mux.HandleFunc("GET /jobs", s.jobs)
	mux.HandleFunc("GET /job", s.job)
	mux.HandleFunc("GET /job/add", s.jobForm)
	mux.HandleFunc("POST /job/add", s.byPerson(s.saveJob))
	mux.HandleFunc("GET /certificate", s.certificate)
	mux.HandleFunc("GET /tags", s.jobTags)
	mux.HandleFunc("GET /tool", s.tool)
	mux.HandleFunc("GET /change", s.changePage)
	mux.HandleFunc("POST /change", s.byPerson(s.change))
	mux.HandleFunc("GET /begin", s.beginPage)
	mux.HandleFunc("GET /trends", s.trends)
	mux.HandleFunc("GET /limits", s.limits)
	mux.HandleFunc("POST /limits", s.byPerson(s.keepLimits))
	mux.HandleFunc("GET /correct", s.correctForm)
	mux.HandleFunc("POST /correct", s.byPerson(s.correct))
	mux.HandleFunc("GET /deed", s.askDeed)
	mux.HandleFunc("POST /deed", s.byPerson(s.doDeed))
	mux.HandleFunc("POST /begin", s.byPerson(s.begin))
	mux.HandleFunc("GET /inspection", s.inspection)
	mux.HandleFunc("GET /readings", s.readingsPage)
	mux.HandleFunc("GET /route", s.route)
	mux.HandleFunc("POST /take-up", s.byPerson(s.takeOver))
	mux.HandleFunc("GET /stream", s.stream)
	mux.HandleFunc("POST /decide", s.byPerson(s.decide))
	mux.HandleFunc("GET /sheet", s.sheet)
	mux.HandleFunc("GET /tag", s.tag)
	mux.HandleFunc("GET /readings.csv", s.readings)
	mux.HandleFunc("GET /report", s.reportPage)
	mux.HandleFunc("GET /report.csv", s.report)
	mux.HandleFunc("GET /results.qif", s.results)
	mux.HandleFunc("GET /asset.xml", s.asset)
	mux.HandleFunc("GET /tables.zip", s.tables)
	for path, do := range s.acts() {
		mux.HandleFunc("POST "+path, s.byPerson(s.act(path, do)))
	}
	open.Handle("/", s.known(mux))
	return s.guard(open)
}

func fixed(kind, name string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Cache-Control", "no-cache")
		http.ServeFileFS(w, r, files, name)
	})
}
