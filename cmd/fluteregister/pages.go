package main

import (
	"context"
	"net/http"
	"strings"

	"flutelog/cmd/fluteregister/internal/api"
	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/fluteregister/internal/web"
	"flutelog/inspect/length"
)

// pages puts the pages for people beside what benches and programs are answered. folder is the register's, address where
// benches reach it and key what they know it by.
func pages(e env, s *store.Store, b *book.Book, folder, address, key string, unit length.Unit) func(http.Handler) http.Handler {
	say := sayer(e)
	site := web.New(web.Config{
		Store: s, Book: b, Folder: folder, Unit: unit, Now: e.now, Say: say, Report: api.New(s, b, e.now, say, func() {}).Report,
		Enrol: func(ctx context.Context, made store.Enrolled) (string, error) {
			line, err := letAsk(ctx, s, b, address, key, made)
			return line.String(), err
		},
	})
	return func(answers http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if strings.HasPrefix(r.URL.Path, "/v1/") {
				answers.ServeHTTP(w, r)
				return
			}
			site.ServeHTTP(w, r)
		})
	}
}
