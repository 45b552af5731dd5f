//go:build linux

package page

import (
	"bufio"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect"
)

// The built program serves ten viewers of an inspection that is being read, and each of them looks around, in less than
// 32 MiB.
func TestMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program")
	}
	const viewers, most = 10, 32 << 10 // KiB
	goTool, err := exec.LookPath("go")
	needed(t, err)
	program := filepath.Join(t.TempDir(), "flutelog")
	if out, err := exec.Command(goTool, "build", "-o", program, "flutelog/cmd/flutelog").CombinedOutput(); err != nil {
		t.Fatalf("building: %v: %s", err, out)
	}
	pid, at := start(t, program)
	r := &recorder{t: t, at: at}

	c := r.client()
	form := c.fields("/add")
	for name, value := range map[string]string{"id": "T-1", "diameter": "0.5in", "flutes": "12", "material": "hss", "hand": "right", "ends": "square", "teeth": "plain", "duty": "finishing"} {
		form.Set(name, value)
	}
	if a := c.post("/add", form); a.path != "/tool" {
		t.Fatalf("adding a tool: %d at %s: %s", a.status, a.path, a.body)
	}
	form.Set("tool", "T-1")
	form.Set("stage", string(inspect.Before))
	if a := c.post("/begin", form); a.path != "/inspection" {
		t.Fatalf("beginning: %d at %s: %s", a.status, a.path, a.body)
	}
	page := link("/inspection", "T-1.1")
	var all []*viewing
	for i := range viewers {
		v := r.clientFrom(fmt.Sprintf("127.0.0.%d", 10+i)) // each at an address of its own, as devices are
		for _, path := range []string{"/", "/page.css", "/page.js", link("/tool", "T-1")} {
			v.get(path)
		}
		one := &viewing{t: t, c: v, page: page}
		one.load()
		defer func() { one.leave() }()
		one.sees()
		all = append(all, one)
	}
	highest := resident(t, pid)
	for {
		form := c.fields(page)
		form.Set("id", "T-1.1")
		of := form.Get("of")
		if of == "all readings" {
			break
		}
		form.Set("clear", "yes")
		form.Set("reading", "0.01")
		switch {
		case strings.HasPrefix(of, "radial-runout"):
			form.Set("reading", "0")
		case strings.HasPrefix(of, "diameter"):
			form.Set("reading", "0.49")
		}
		path := "/read"
		if of == "sights" {
			path = "/look"
		}
		if a := c.post(path, form); a.path != "/inspection" {
			t.Fatalf("%s: %d at %s: %s", of, a.status, a.path, a.body)
		}
		for _, one := range all {
			one.sees()
		}
		highest = max(highest, resident(t, pid))
	}
	t.Logf("resident with %d viewers: %d KiB at the most", viewers, highest)
	if highest >= most {
		t.Errorf("resident: %d KiB, want under %d", highest, most)
	}
}

// viewing is one who looks on, and loads the page again when it says so.
type viewing struct {
	t      *testing.T
	c      *client
	page   string
	events <-chan event
	leave  func()
}

func (v *viewing) load() {
	v.t.Helper()
	v.events, v.leave = v.c.stream(url.Values{"id": {"T-1.1"}, "state": {dataOf(v.c.get(v.page).body, "state")}}, "")
}

// sees waits for the next that there is to see.
func (v *viewing) sees() {
	v.t.Helper()
	for next(v.t, v.events).name == "reload" {
		v.leave()
		v.load()
	}
}

// start starts the page of a built program and returns its process and address.
func start(t *testing.T, program string) (pid int, at string) {
	t.Helper()
	cmd := exec.Command(program, "page", "--practice", "--listen", "127.0.0.1:0", "--ledger", t.TempDir())
	stderr, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Signal(os.Interrupt)
		if err := cmd.Wait(); err != nil {
			t.Errorf("stopping the page: %v", err)
		}
	})
	line, err := bufio.NewReader(stderr).ReadString('\n')
	_, at, found := strings.Cut(strings.TrimSpace(line), "http://")
	if err != nil || !found {
		t.Fatalf("the page says %q, %v", line, err)
	}
	return cmd.Process.Pid, strings.TrimSuffix(at, "/")
}

var residentLine = regexp.MustCompile(`VmRSS:\s*(\d+) kB`)

// resident returns the resident memory of a process in KiB.
func resident(t *testing.T, pid int) int {
	t.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Fatal(err)
	}
	m := residentLine.FindSubmatch(status)
	if m == nil {
		t.Fatalf("no resident memory in %s", status)
	}
	kib, err := strconv.Atoi(string(m[1]))
	if err != nil {
		t.Fatal(err)
	}
	return kib
}
