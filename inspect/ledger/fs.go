package ledger

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// fileSystem is what the ledger asks of the disk. Tests put one in its place that records every write and
// sync, or fails them.
type fileSystem interface {
	OpenFile(name string, flag int) (file, error)
	ReadDir(name string) ([]fs.DirEntry, error)
	Lstat(name string) (fs.FileInfo, error) // does not follow a symbolic link
	Mkdir(name string) error
	Rename(from, to string) error
	Remove(name string) error
	SyncDir(name string) error

	// Lock takes the lock on a file, made when missing, or returns errHeld when another holder has it. Unless holder is
	// empty, the file then says that it is held by that. The system frees the lock of a process that died.
	Lock(name, holder string) (io.Closer, error)
}

// file is an open file of a fileSystem. Sync returns when the data and the length are on the medium.
type file interface {
	io.ReaderAt
	io.Writer
	io.WriterAt
	io.Closer
	Stat() (fs.FileInfo, error)
	Sync() error
}

// errHeld says that another holder has the lock.
var errHeld = errors.New("held by another process")

const (
	folderMode = 0o700
	fileMode   = 0o600
)

// disk is the fileSystem of the machine.
type disk struct{}

type diskFile struct{ *os.File }

func (f diskFile) Sync() error { return syncData(f.File) }

// OpenFile opens a plain file and nothing else: what follows a symbolic link writes elsewhere, and what opens a pipe
// waits for ever.
func (disk) OpenFile(name string, flag int) (file, error) {
	f, err := openPlain(name, flag)
	if err != nil {
		return nil, err
	}
	return diskFile{f}, nil
}

func openPlain(name string, flag int) (*os.File, error) {
	if info, err := os.Lstat(name); err == nil && !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: %s, where a plain file must be; move it away", name, typeOf(info.Mode().Type()))
	}
	f, err := os.OpenFile(name, flag|plainOnly, fileMode)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s: %s, where a plain file must be; move it away", name, typeOf(info.Mode().Type()))
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// typeOf names what is no plain file.
func typeOf(mode fs.FileMode) string {
	switch {
	case mode&fs.ModeSymlink != 0:
		return "a symbolic link"
	case mode&fs.ModeDir != 0:
		return "a folder"
	case mode&fs.ModeNamedPipe != 0:
		return "a pipe"
	case mode&fs.ModeSocket != 0:
		return "a socket"
	case mode&fs.ModeDevice != 0:
		return "a device"
	}
	return "a plain file"
}

func (disk) ReadDir(name string) ([]fs.DirEntry, error) { return os.ReadDir(name) }
func (disk) Lstat(name string) (fs.FileInfo, error)     { return os.Lstat(name) }
func (disk) Mkdir(name string) error                    { return os.Mkdir(name, folderMode) }
func (disk) Rename(from, to string) error               { return os.Rename(from, to) }
func (disk) Remove(name string) error                   { return os.Remove(name) }
func (disk) SyncDir(name string) error                  { return syncFolder(name) }

func (disk) Lock(name, holder string) (io.Closer, error) {
	for {
		f, err := openPlain(name, os.O_RDWR|os.O_CREATE)
		if err != nil {
			return nil, err
		}
		if err := tryLock(f); err != nil {
			f.Close()
			return nil, err
		}
		locked, err := f.Stat()
		if err != nil {
			f.Close()
			return nil, err
		}
		named, err := os.Lstat(name)
		switch {
		case err == nil && os.SameFile(locked, named):
			if holder != "" {
				text := fmt.Sprintf("%.70s, process %d, since %s", holder, os.Getpid(), time.Now().UTC().Format(time.TimeOnly+" UTC"))
				f.WriteAt(fmt.Appendf(nil, "%-*s\n", lockSize-1, text), 0) // only said to others who wait
			}
			return f, nil
		case err == nil || errors.Is(err, fs.ErrNotExist):
			f.Close() // deleted by its last holder meanwhile
		default:
			f.Close()
			return nil, err
		}
	}
}

// readFrom returns what a file holds from the offset on, at most limit bytes.
func readFrom(fsys fileSystem, name string, offset, limit int64) ([]byte, error) {
	return readInto(nil, fsys, name, offset, limit)
}

// readInto is readFrom into the memory of room, where it holds enough.
func readInto(room []byte, fsys fileSystem, name string, offset, limit int64) ([]byte, error) {
	f, err := fsys.OpenFile(name, os.O_RDONLY)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	n := int(min(max(info.Size()-offset, 0), limit))
	data := slices.Grow(room[:0], n)[:n]
	n, err = f.ReadAt(data, offset)
	if err == io.EOF {
		err = nil
	}
	return data[:n], err
}

// temporaryName is the name under which a file is made. It is only used by who holds the lock.
const temporaryName = "new.tmp"

// putFile puts a whole file in its place: under another name first, synced, renamed, and its folder synced.
// A power cut leaves the file as it was, or missing, or whole.
func putFile(fsys fileSystem, name string, data []byte) error {
	temporary := filepath.Join(filepath.Dir(name), temporaryName)
	if err := fsys.Remove(temporary); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := fsys.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL)
	if err != nil {
		return err
	}
	if err := writeSynced(f, data); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := fsys.Rename(temporary, name); err != nil {
		return err
	}
	return fsys.SyncDir(filepath.Dir(name))
}

// writeAgain writes what a file holds from an offset on once more, as it is. data is the whole of it.
func writeAgain(fsys fileSystem, name string, from int64, data []byte) error {
	f, err := fsys.OpenFile(name, os.O_WRONLY)
	if err != nil {
		return err
	}
	_, err = f.WriteAt(data[from:], from)
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	return err
}

// writeSynced returns nil once data is on the medium.
func writeSynced(f file, data []byte) error {
	if _, err := f.Write(data); err != nil {
		return err
	}
	return f.Sync()
}

// Hold takes the lock on a file of the machine, made when missing, or returns ErrLocked when another process has it. The
// system frees the lock of a process that died.
func Hold(name string) (io.Closer, error) {
	lock, err := disk{}.Lock(name, "")
	if errors.Is(err, errHeld) {
		err = ErrLocked
	}
	return lock, err
}
