package ledger

import (
	"bytes"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// memory is a fileSystem that holds everything in memory: quick, and easy to damage. The folder "." is
// always there.
type memory struct {
	nodes map[string]*node
	held  map[string]bool
}

type node struct {
	folder bool
	data   []byte
}

func newMemory() *memory {
	return &memory{map[string]*node{".": {folder: true}}, map[string]bool{}}
}

// copied returns a memory that holds the same, and no locks.
func (m *memory) copied() *memory {
	c := newMemory()
	for name, n := range m.nodes {
		c.nodes[name] = &node{n.folder, slices.Clone(n.data)}
	}
	return c
}

func missing(operation, name string) error {
	return &fs.PathError{Op: operation, Path: name, Err: fs.ErrNotExist}
}

func (m *memory) OpenFile(name string, flag int) (file, error) {
	n := m.nodes[name]
	if n == nil && (flag&os.O_CREATE == 0 || m.nodes[filepath.Dir(name)] == nil) {
		return nil, missing("open", name)
	}
	if n != nil && flag&os.O_EXCL != 0 {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrExist}
	}
	if n == nil {
		n = &node{}
		m.nodes[name] = n
	}
	if flag&os.O_TRUNC != 0 {
		n.data = nil
	}
	return &memoryFile{filepath.Base(name), n}, nil
}

func (m *memory) ReadDir(name string) ([]fs.DirEntry, error) {
	if m.nodes[name] == nil {
		return nil, missing("readdir", name)
	}
	var entries []fs.DirEntry
	for _, path := range slices.Sorted(maps.Keys(m.nodes)) {
		if path != "." && filepath.Dir(path) == name {
			entries = append(entries, fs.FileInfoToDirEntry(nodeInfo{filepath.Base(path), *m.nodes[path]}))
		}
	}
	return entries, nil
}

func (m *memory) Lstat(name string) (fs.FileInfo, error) {
	if m.nodes[name] == nil {
		return nil, missing("lstat", name)
	}
	return nodeInfo{filepath.Base(name), *m.nodes[name]}, nil
}

func (m *memory) Mkdir(name string) error {
	if m.nodes[name] != nil {
		return &fs.PathError{Op: "mkdir", Path: name, Err: fs.ErrExist}
	}
	if m.nodes[filepath.Dir(name)] == nil {
		return missing("mkdir", name)
	}
	m.nodes[name] = &node{folder: true}
	return nil
}

func (m *memory) Rename(from, to string) error {
	if m.nodes[from] == nil {
		return missing("rename", from)
	}
	for name, n := range maps.Clone(m.nodes) { // with all that stands in a folder
		if rest, ok := strings.CutPrefix(name, from); ok && (rest == "" || rest[0] == '/') {
			delete(m.nodes, name)
			m.nodes[to+rest] = n
		}
	}
	return nil
}

func (m *memory) Remove(name string) error {
	if m.nodes[name] == nil {
		return missing("remove", name)
	}
	delete(m.nodes, name)
	return nil
}

func (m *memory) SyncDir(name string) error {
	if m.nodes[name] == nil {
		return missing("sync", name)
	}
	return nil
}

func (m *memory) Lock(name, _ string) (io.Closer, error) {
	if m.held[name] {
		return nil, errHeld
	}
	if _, err := m.OpenFile(name, os.O_CREATE); err != nil {
		return nil, err
	}
	m.held[name] = true
	return unlocker{m, name}, nil
}

type unlocker struct {
	m    *memory
	name string
}

func (u unlocker) Close() error {
	delete(u.m.held, u.name)
	return nil
}

type memoryFile struct {
	name string
	node *node
}

func (f *memoryFile) ReadAt(p []byte, offset int64) (int, error) {
	return bytes.NewReader(f.node.data).ReadAt(p, offset)
}

func (f *memoryFile) Write(p []byte) (int, error) {
	f.node.data = append(f.node.data, p...)
	return len(p), nil
}

func (f *memoryFile) WriteAt(p []byte, offset int64) (int, error) {
	if end := int(offset) + len(p); end > len(f.node.data) {
		f.node.data = append(f.node.data, make([]byte, end-len(f.node.data))...)
	}
	return copy(f.node.data[offset:], p), nil
}

func (f *memoryFile) Stat() (fs.FileInfo, error) { return nodeInfo{f.name, *f.node}, nil }
func (f *memoryFile) Sync() error                { return nil }
func (f *memoryFile) Close() error               { return nil }

type nodeInfo struct {
	name string
	node node
}

func (i nodeInfo) Name() string       { return i.name }
func (i nodeInfo) Size() int64        { return int64(len(i.node.data)) }
func (i nodeInfo) IsDir() bool        { return i.node.folder }
func (i nodeInfo) ModTime() time.Time { return time.Time{} }
func (i nodeInfo) Sys() any           { return nil }

func (i nodeInfo) Mode() fs.FileMode {
	if i.node.folder {
		return fs.ModeDir | folderMode
	}
	return fileMode
}
