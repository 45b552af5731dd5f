package device

import (
	"errors"
	"fmt"
	"io"
	"io/fs"

	"go.bug.st/serial"
)

var parities = map[string]serial.Parity{
	"none": serial.NoParity, "odd": serial.OddParity, "even": serial.EvenParity,
	"mark": serial.MarkParity, "space": serial.SpaceParity,
}

var stopBits = map[int]serial.StopBits{1: serial.OneStopBit, 2: serial.TwoStopBits}

// ErrInUse says that another program has the port.
var ErrInUse = errors.New("in use by another program; close it there first")

// OpenSerial returns an opener of p's serial port. The first call finds the port's stable name where it has one,
// and every later call opens by it, so that a plug moved to another socket is found again. The port is locked
// against a second program.
func OpenSerial(p Profile) Opener {
	p = p.WithDefaults()
	name := ""
	return func() (io.ReadWriteCloser, error) {
		if p.Port == "" {
			return nil, errors.New("no port is named in the profile")
		}
		if err := limitDescriptors(); err != nil {
			return nil, err
		}
		if name == "" {
			name = stableName("/", p.Port)
		}
		return openPort(name, p)
	}
}

func openPort(name string, p Profile) (io.ReadWriteCloser, error) {
	lock, err := lockPort(name)
	if err != nil {
		return nil, whyNotOpen(name, err)
	}
	port, err := serial.Open(name, &serial.Mode{
		BaudRate: p.Baud,
		DataBits: p.DataBits,
		Parity:   parities[p.Parity],
		StopBits: stopBits[p.StopBits],
	})
	if err != nil {
		lock.Close()
		return nil, whyNotOpen(name, err)
	}
	s := &serialLine{Port: port, lock: lock}
	err = s.setModemLines(p)
	if err == nil {
		err = s.ResetInputBuffer() // what came before nobody asked for
	}
	if err != nil {
		s.Close()
		return nil, fmt.Errorf("port %s: %w", name, err)
	}
	return s, nil
}

// whyNotOpen puts the library's codes and the system's errors into words that say what to do.
func whyNotOpen(name string, err error) error {
	var code *serial.PortError
	if errors.As(err, &code) {
		switch code.Code() {
		case serial.PortBusy:
			err = ErrInUse
		case serial.PortNotFound:
			err = fs.ErrNotExist
		case serial.PermissionDenied:
			err = fs.ErrPermission
		case serial.InvalidSerialPort:
			return fmt.Errorf("%s is not a serial port: %v", name, err)
		}
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("port %s is not there; see that the gauge is plugged in: %w", name, fs.ErrNotExist)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("port %s: no permission; on most systems the user must be in the group that owns serial ports: %w", name, fs.ErrPermission)
	}
	return fmt.Errorf("port %s: %w", name, err)
}

// serialLine is a serial port with its lock.
type serialLine struct {
	serial.Port
	lock io.Closer
}

// setModemLines sets the lines the profile names. A port that has none, such as a pseudo-terminal, answers that
// it does not know the call; that is no reason not to read it.
func (s *serialLine) setModemLines(p Profile) error {
	for _, l := range []struct {
		name, state string
		set         func(bool) error
	}{{"dtr", p.DTR, s.SetDTR}, {"rts", p.RTS, s.SetRTS}} {
		if l.state == "" {
			continue
		}
		if err := l.set(l.state == "on"); err != nil && !lacksModemLines(err) {
			return fmt.Errorf("setting %s %s: %w", l.name, l.state, err)
		}
	}
	return nil
}

func (s *serialLine) Read(b []byte) (int, error) {
	n, err := s.Port.Read(b)
	var code *serial.PortError
	if errors.As(err, &code) && code.Code() == serial.PortClosed {
		err = errUnplugged
	}
	return n, err
}

func (s *serialLine) Close() error {
	err := s.Port.Close()
	if lockErr := s.lock.Close(); err == nil {
		err = lockErr
	}
	return err
}
