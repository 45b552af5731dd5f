package page

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"net"
	"net/http"
	"slices"
	"strings"

	"flutelog/inspect/text"
)

// policy lets a page use what this server gives it and nothing else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// printedPolicy is that of a document with its style in it: the style is let through by its hash, scripts are not.
func printedPolicy(style string) string {
	hash := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(hash[:]) + "'; base-uri 'none'; frame-ancestors 'none'"
}

// guard refuses what does not come from a page of this server: another host's name, which a page elsewhere may
// have pointed here, writes from another site, and anything too large. What is let through is bounded by policy.
func (s *Server) guard(next http.Handler) http.Handler {
	crossSite := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if wrong := recover(); wrong != nil && wrong != http.ErrAbortHandler {
				s.devices.terminal.say("%s went wrong and was not answered, which is a fault of this program: %v", r.URL.Path, wrong)
				panic(http.ErrAbortHandler)
			}
		}()
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		switch {
		case !s.ownHost(r):
			http.Error(w, "this recorder does not answer to the host "+r.Host+"; open it by its address, or start it with --name", http.StatusMisdirectedRequest)
			return
		case crossSite.Check(r) != nil:
			http.Error(w, "refused: the request comes from another site", http.StatusForbidden)
			return
		case r.Header.Get("Sec-Fetch-Site") == "cross-site" && r.Header.Get("Sec-Fetch-Mode") != "navigate":
			http.Error(w, "refused: another site may link here, and no more", http.StatusForbidden)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, mostBody)
		if err := r.ParseForm(); err != nil {
			status := http.StatusBadRequest
			if errors.As(err, new(*http.MaxBytesError)) {
				status = http.StatusRequestEntityTooLarge
			}
			http.Error(w, "refused: "+text.Show(err.Error()), status)
			return
		}
		for name, values := range r.Form {
			for i, value := range values {
				clean, err := text.Check(value)
				if err != nil {
					http.Error(w, "refused: "+text.Show(name)+": "+err.Error(), http.StatusBadRequest)
					return
				}
				values[i] = clean
			}
		}
		for name, values := range r.PostForm {
			copy(values, r.Form[name]) // the form's own come first among those of the address
		}
		next.ServeHTTP(w, r)
	})
}

// ownHost says whether a request names this server: by the address that it came in on, as localhost when that
// is this machine's own, or by a name that was given.
func (s *Server) ownHost(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		host = r.Host
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	if slices.Contains(s.Names, host) {
		return true
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok {
		return false
	}
	if ip := net.ParseIP(host); ip != nil {
		return ip.Equal(local.IP)
	}
	return host == "localhost" && local.IP.IsLoopback()
}
