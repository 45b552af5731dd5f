package ports

import (
	"cmp"
	"fmt"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/device"
)

func List() command.Command {
	var asJSON bool
	return command.Command{
		Name:    "ports",
		Summary: "the serial ports of this computer; none is opened",
		Example: "gauge ports",
		Flags:   func(f *command.Flags) { f.BoolVar(&asJSON, "json", false, "print the result as JSON") },
		Run:     func(e command.Env, _ *command.Flags) error { return gaugePorts(e, asJSON) },
	}
}

type portJSON struct {
	Port        string `json:"port"`
	Device      string `json:"device"`
	Description string `json:"description"`
}

func gaugePorts(e command.Env, asJSON bool) error {
	ports, err := device.Ports()
	if err != nil {
		return err
	}
	if asJSON {
		list := []portJSON{}
		for _, p := range ports {
			list = append(list, portJSON{p.Name, p.Device, p.Description})
		}
		return command.PrintJSON(e, list)
	}
	if len(ports) == 0 {
		fmt.Fprintln(e.Stderr, "flutelog: no serial port is here; plug the gauge or its adapter in and look again")
		return nil
	}
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "port, as to write in the bench file\tnow\tthe adapter says")
	for _, p := range ports {
		fmt.Fprintf(w, "%s\t%s\t%s\n", p.Name, p.Device, cmp.Or(p.Description, "nothing"))
	}
	return w.Flush()
}
