package device_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"flutelog/device"
	"flutelog/inspect/length"
)

// A recording stands for the gauge's line, as its port would: three presses of a button, each a reading.
func Example() {
	file, err := os.Open("../testdata/recordings/button.txt")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer file.Close()
	recording, err := device.ReadRecording(file)
	if err != nil {
		fmt.Println(err)
		return
	}
	profile := device.Profile{Name: "indicator", Unit: length.In, QuietTime: device.Duration(10 * time.Millisecond)}
	gauge, err := device.New(recording.Open, profile, nil) // device.OpenSerial(profile) opens a port
	if err != nil {
		fmt.Println(err)
		return
	}
	defer gauge.Close()
	for {
		frame, err := gauge.Take(context.Background())
		if errors.Is(err, io.EOF) {
			return // the recording ends
		}
		if err != nil {
			fmt.Println("no reading:", err)
			continue
		}
		fmt.Println("sent", frame.Text, "read", frame.Value.In(length.In))
	}
	// Output:
	// sent +0.0003 read 0.00030 in
	// sent -0.0001 read -0.00010 in
	// sent +0.0000 read 0.00000 in
}

// A profile says how a gauge speaks; what it does not know of it is refused and never guessed.
func ExampleNewDecoder() {
	decoder, err := device.NewDecoder(device.Profile{
		Name: "indicator", Unit: length.Mm, Pattern: `(?P<sign>[+-])(?P<value>\d\.\d{3})`,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, sent := range []string{"+0.013", "+0.01", "+0.O13"} {
		frame, err := decoder.Decode([]byte(sent), time.Time{})
		fmt.Println(frame.Value, err)
	}
	// Output:
	// 0.013mm <nil>
	// 0mm frame "+0.01" refused: the frame does not match the pattern
	// 0mm frame "+0.O13" refused: the frame does not match the pattern
}
