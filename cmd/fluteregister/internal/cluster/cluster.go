// Package cluster starts a PostgreSQL server of its own in a folder, for demos and tests: reached by a socket in that folder
// alone, and gone with it.
package cluster

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Missing says that PostgreSQL's programs are not here.
var ErrMissing = errors.New("PostgreSQL's server programs (initdb, pg_ctl) are not installed; Debian: apt-get install postgresql")

// Cluster is a server.
type Cluster struct {
	dir, programs string
	settings      []string
}

// programs returns the folder of PostgreSQL's newest server programs.
func programs() (string, error) {
	if path, err := exec.LookPath("initdb"); err == nil {
		if path, err = filepath.EvalSymlinks(path); err == nil {
			return filepath.Dir(path), nil
		}
	}
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	version := func(path string) int {
		n, _ := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(path))))
		return n
	}
	if len(found) == 0 {
		return "", ErrMissing
	}
	return filepath.Dir(slices.MaxFunc(found, func(a, b string) int { return version(a) - version(b) })), nil
}

// New makes a server's files in a new folder below the system's folder for such. Settings are as in its configuration:
// "fsync=off". The server is not started yet.
func New(settings ...string) (*Cluster, error) {
	bin, err := programs()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "flutereg") // short: a socket's path is at most a hundred bytes
	if err != nil {
		return nil, err
	}
	c := &Cluster{dir, bin, settings}
	err = own(dir)
	if err == nil {
		err = c.Run("initdb", "-D", c.data(), "-A", "trust", "-U", "postgres", "-E", "UTF8", "--locale=C", "--no-sync")
	}
	if err != nil {
		c.Remove()
		return nil, err
	}
	return c, nil
}

func (c *Cluster) data() string { return filepath.Join(c.dir, "data") }

// Run runs one of PostgreSQL's programs as one who may, in the server's folder.
func (c *Cluster) Run(program string, args ...string) error {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, filepath.Join(c.programs, program), args...)
	cmd.Dir = c.dir
	cmd.Env = append(os.Environ(), "LC_ALL=C")
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	cmd.WaitDelay = time.Second // a server that is started keeps what it was given
	if err := drop(cmd); err != nil {
		return err
	}
	if err := cmd.Run(); err != nil && !errors.Is(err, exec.ErrWaitDelay) {
		return fmt.Errorf("%s: %w: %s", program, err, strings.TrimSpace(out.String()))
	}
	return nil
}

// Start starts the server and waits until it answers.
func (c *Cluster) Start() error {
	options := "-k " + c.dir + " -c listen_addresses=''"
	for _, s := range c.settings {
		options += " -c " + s
	}
	return c.Run("pg_ctl", "-D", c.data(), "-l", filepath.Join(c.dir, "log"), "-o", options, "-w", "-t", "50", "start")
}

// Stop ends the server at once, as a crash would: what it has acknowledged is on the medium.
func (c *Cluster) Stop() error {
	return c.Run("pg_ctl", "-D", c.data(), "-m", "immediate", "-w", "-t", "50", "stop")
}

// URL returns how a database of the server is reached.
func (c *Cluster) URL(database string) string {
	return fmt.Sprintf("host=%s user=postgres dbname=%s", c.dir, database)
}

// Create makes a database.
func (c *Cluster) Create(database string) error {
	return c.Run("createdb", "-h", c.dir, "-U", "postgres", database)
}

// Remove ends the server, where it runs, and removes its files.
func (c *Cluster) Remove() error {
	if _, err := os.Stat(filepath.Join(c.data(), "postmaster.pid")); err == nil {
		c.Stop()
	}
	return os.RemoveAll(c.dir)
}
