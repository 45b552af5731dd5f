//go:build linux

package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"testing"

	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
	"flutelog/inspect/register/registertest"
)

// A backlog of three weeks, 87 MB of lines, is sent in at most 1.3 times the memory that a sending takes which has nothing to
// send from the same ledger: nothing of the ledger is held but what is on its way. The lines are invented.
func TestSendingTakesNoMemory(t *testing.T) {
	backlog, program := 12<<20, "flutelog"
	if !testing.Short() {
		backlog = 87 << 20
	}
	build, _ := debug.ReadBuildInfo()
	raced := slices.ContainsFunc(build.Settings, func(s debug.BuildSetting) bool { return s.Key == "-race" })
	if !testing.Short() || raced { // as a small board has it, where what the race detector takes is none of it
		program = filepath.Join(t.TempDir(), "flutelog")
		if out, err := exec.Command("go", "build", "-trimpath", "-tags", "nethttpomithttp2", "-o", program, ".").CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	dir := t.TempDir()
	l, err := ledger.Open(dir, ledger.Options{Bench: "bench 1"})
	if err != nil {
		t.Fatal(err)
	}
	shop := registertest.New(t)
	if err := register.Join(dir, shop.Enrolment); err != nil {
		t.Fatal(err)
	}
	send := func() (resident int) {
		t.Helper()
		cmd := exec.Command(program, "register", "send", "--ledger", dir)
		cmd.Stdout, cmd.Stderr = os.Stdout, os.Stderr
		started := make(chan struct{})
		var mu sync.Mutex
		shop.Answering(func() { // the most that it has had, while it waits for an answer
			<-started
			status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", cmd.Process.Pid))
			if err != nil {
				t.Error(err)
				return
			}
			_, most, _ := strings.Cut(string(status), "VmHWM:")
			var kb int
			if _, err := fmt.Sscan(most, &kb); err != nil {
				t.Errorf("%v in %q", err, status)
			}
			mu.Lock()
			defer mu.Unlock()
			resident = max(resident, kb)
		})
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		close(started)
		if err := cmd.Wait(); err != nil {
			t.Fatal(err)
		}
		mu.Lock()
		defer mu.Unlock()
		return resident
	}
	random := rand.New(rand.NewPCG(12, 87))
	for written := 0; written < backlog; {
		var entries []ledger.Entry
		for range 50 {
			var readings []string
			for flute := range 57 {
				readings = append(readings, fmt.Sprintf("flute %d reads 0.%05d in, raw %016x", flute%4+1, random.IntN(100000), random.Uint64()))
			}
			body, err := json.Marshal(readings)
			if err != nil {
				t.Fatal(err)
			}
			written += len(body)
			entries = append(entries, ledger.Entry{Kind: "readings", Subject: fmt.Sprintf("tool:EM-%d", random.IntN(900)), Body: body})
		}
		if _, err := l.Append(entries...); err != nil {
			t.Fatal(err)
		}
	}
	busy, idle := send(), send()
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	if c := shop.Chain(head.Bench); c.Head() != head {
		t.Errorf("the register ends at %v, want %v", c.Head(), head)
	}
	t.Logf("%d KB with %d MB behind, %d KB with nothing: %.2f times", busy, backlog>>20, idle, float64(busy)/float64(idle))
	if float64(busy) > 1.3*float64(idle) {
		t.Errorf("%d KB with %d MB behind, %d KB with nothing to send: more than 1.3 times", busy, backlog>>20, idle)
	}
}
