// Package clustertest gives tests a database of their own.
package clustertest

import (
	"errors"
	"fmt"
	"os"
	"sync"
	"sync/atomic"
	"testing"

	"flutelog/cmd/fluteregister/internal/cluster"
)

var (
	once   sync.Once
	shared *cluster.Cluster
	failed error
	number atomic.Int64
)

// Main runs a package's tests and removes the server that they have shared.
func Main(m *testing.M) {
	status := m.Run()
	if shared != nil {
		shared.Remove()
	}
	os.Exit(status)
}

// Need skips a test without PostgreSQL's programs, or fails it where all that tests need is required.
func Need(t testing.TB, err error) {
	t.Helper()
	switch {
	case errors.Is(err, cluster.ErrMissing) && os.Getenv("FLUTELOG_TEST_NEEDS_ALL") == "":
		t.Skip(err)
	case err != nil:
		t.Fatal(err)
	}
}

// Database returns how a new, empty database is reached, of a server that the package's tests share. It does not wait for
// the disk.
func Database(t testing.TB) string {
	t.Helper()
	once.Do(func() {
		if shared, failed = cluster.New("fsync=off", "shared_buffers=32MB", "max_connections=60"); failed == nil {
			failed = shared.Start()
		}
	})
	Need(t, failed)
	name := fmt.Sprintf("t%d", number.Add(1))
	if err := shared.Create(name); err != nil {
		t.Fatal(err)
	}
	return shared.URL(name)
}
