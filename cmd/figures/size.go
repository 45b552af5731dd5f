//go:build linux

package main

import (
	"fmt"
	"os"
	"path/filepath"
)

// How README builds it for an old small board.
var (
	armEnv   = []string{"GOOS=linux", "GOARCH=arm", "GOARM=6"}
	armFlags = []string{"-tags", "nethttpomithttp2", "-gcflags=all=-l", "-ldflags", "-s -w -R 4096"}
)

// size measures the program for an old small board.
func size(b *bench) ([]figure, error) {
	path := filepath.Join(b.dir, "flutelog.arm")
	if err := build(path, armEnv, armFlags...); err != nil {
		return nil, err
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	return []figure{{"stripped linux/arm program", fmt.Sprintf("%.2f MiB", float64(info.Size())/(1<<20)), "-", "12.75 MiB", info.Size() <= 51<<18}}, nil
}
