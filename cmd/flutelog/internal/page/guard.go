package page

import (
	"crypto/sha256"
	"encoding/base64"
	"net"
	"net/http"
	"slices"
	"strings"

	"flutelog/cmd/internal/look"
)

// printedPolicy is that of a document with its style in it: the style is let through by its hash, scripts are not.
func printedPolicy(style string) string {
	hash := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(hash[:]) + "'; base-uri 'none'; frame-ancestors 'none'"
}

// guard refuses what does not come from a page of this server: another host's name, which a page elsewhere may
// have pointed here, writes from another site, and anything too large.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if wrong := recover(); wrong != nil && wrong != http.ErrAbortHandler {
				s.devices.terminal.say("%s went wrong and was not answered, which is a fault of this program: %v", r.URL.Path, wrong)
				panic(http.ErrAbortHandler)
			}
		}()
		if !s.ownHost(r) {
			http.Error(w, "this recorder does not answer to the host "+r.Host+"; open it by its address, or start it with --name", http.StatusMisdirectedRequest)
			return
		}
		if !look.Admit(w, r) {
			return
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
