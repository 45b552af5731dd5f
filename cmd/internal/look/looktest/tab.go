package looktest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// Patience is how long a page may take to do or to show something, on a busy machine.
const Patience = 30 * time.Second

// Tab is a page in a browser.
type Tab struct {
	T   testing.TB
	Ctx context.Context
	At  string // the server's origin
}

// NewTab opens a page in a browser, which is closed with the test.
func NewTab(t testing.TB, browser context.Context, at string, options ...chromedp.ContextOption) *Tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser, options...)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil { // the page is open as long as the context that opens it
		t.Fatal(err)
	}
	return &Tab{t, ctx, at}
}

// Do does what a person does.
func (b *Tab) Do(steps ...chromedp.Action[chromedp.Void]) {
	b.T.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, Patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.T.Fatal(err)
	}
}

// Open goes to a page of the server.
func (b *Tab) Open(path string) {
	b.T.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, Patience)
	defer cancel()
	for {
		err := chromedp.Do(ctx, chromedp.Navigate(b.At+path))
		if err == nil {
			return
		}
		if !strings.Contains(err.Error(), "ERR_ABORTED") { // the page that is shown loads itself again meanwhile
			b.T.Fatal(err)
		}
	}
}

// Says returns what a script comes to.
func (b *Tab) Says(script string) string {
	b.T.Helper()
	text, err := chromedp.Run(b.Ctx, chromedp.Evaluate[string](`String(`+script+`)`))
	if err != nil {
		b.T.Fatal(err)
	}
	return text
}

// Until waits until a script says true. The page may be loaded again meanwhile.
func (b *Tab) Until(script string) {
	b.T.Helper()
	for deadline := time.Now().Add(Patience); ; time.Sleep(5 * time.Millisecond) {
		done, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](script))
		switch {
		case done:
			return
		case time.Now().After(deadline):
			page, _ := chromedp.Run(b.Ctx, chromedp.Evaluate[string](`document.body.innerText`))
			b.T.Fatalf("not so: %s (%v); the page shows:\n%s", script, err, page)
		}
	}
}

// Shows waits until the page is there as a whole and shows some texts.
func (b *Tab) Shows(texts ...string) {
	b.T.Helper()
	for _, text := range texts {
		b.Until(fmt.Sprintf(`document.readyState === "complete" && document.body.innerText.includes(%q)`, text))
	}
}
