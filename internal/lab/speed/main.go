//go:build unix

// Command speed measures the program as a user meets it: whole processes, from
// their start to their end, on invented days. It writes the table of docs/speed.md.
//
//	go run ./internal/lab/speed                  a crew-day against wc -l and a script
//	go run ./internal/lab/speed -grow 10         and how time and memory grow with size
//	go run ./internal/lab/speed -harm 10         and how with damage
//	go run ./internal/lab/speed -batch 100       and 100 days in one call
//
// Figures are medians of runs taken in turn, so that a machine with other work
// slows all of them alike; processor time is steadier than the clock's.
package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"

	"tracemap/internal/lab/simulate"
)

func main() {
	log.SetFlags(0)
	runs := flag.Int("runs", 7, "runs of each program")
	grow := flag.Int("grow", 0, "`N`, largest input as a multiple of a small day: 10 or 100")
	harm := flag.Int("harm", 0, "`N`, largest spoilt log as a multiple of a small day: 1, 10 or 100")
	batch := flag.Int("batch", 0, "`N` days to convert in one call")
	python := flag.String("python", "/usr/bin/python3", "interpreter for the script; empty for none")
	to := flag.String("invent", "", "write an invented day into this folder, and nothing else")
	var e extent
	flag.IntVar(&e.readings, "readings", crewDay.readings, "of the day invented")
	flag.Float64Var(&e.seconds, "seconds", crewDay.seconds, "of the day invented")
	flag.Parse()
	if *to != "" {
		if err := invent(*to, e); err != nil {
			log.Fatal(err)
		}
		return
	}
	dir, err := os.MkdirTemp("", "tracemap-speed")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	m := &measuring{dir: dir, runs: *runs, program: filepath.Join(dir, "tracemap")}
	if out, err := exec.Command("go", "build", "-o", m.program, "./cmd/tracemap").CombinedOutput(); err != nil {
		log.Fatalf("%v: %s", err, out)
	}
	fmt.Printf("%s, %d processors, %s\n\n", runtime.Version(), runtime.NumCPU(), runtime.GOARCH)
	if *harm == 0 {
		m.against(*python)
	}
	if *grow > 1 {
		m.growth(*grow)
	}
	if *harm > 0 {
		m.harm(*harm)
	}
	if *batch > 0 {
		m.batch(*batch)
	}
}

// measuring is a set of measurements.
type measuring struct {
	dir, program string
	runs         int
}

// cost is what a process took.
type cost struct{ wall, processor, memory float64 } // s, s, MB

// run runs a process to its end.
func (m *measuring) run(name string, args ...string) cost {
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = io.Discard, io.Discard
	begin := time.Now()
	if err := cmd.Run(); err != nil {
		log.Fatalf("%s %s: %v", name, strings.Join(args, " "), err)
	}
	c := cost{wall: time.Since(begin).Seconds(), processor: (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()}
	if u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
		c.memory = float64(u.Maxrss) / 1000 // KiB on Linux
	}
	return c
}

// convert converts a day or several.
func (m *measuring) convert(inputs ...string) cost {
	out := filepath.Join(m.dir, "out")
	defer os.RemoveAll(out)
	return m.run(m.program, append([]string{"convert", "-o", out}, inputs...)...)
}

// median gives the medians of several costs, one by one.
func median(c []cost) cost {
	of := func(get func(cost) float64) float64 {
		var v []float64
		for _, x := range c {
			v = append(v, get(x))
		}
		slices.Sort(v)
		return v[len(v)/2]
	}
	return cost{
		of(func(c cost) float64 { return c.wall }),
		of(func(c cost) float64 { return c.processor }),
		of(func(c cost) float64 { return c.memory }),
	}
}

// An extent is that of an invented day: readings, and seconds that its log goes on at
// least.
type extent struct {
	readings int
	seconds  float64
}

// crewDay is a full day of a crew.
var crewDay = extent{2500, 38200}

// day has an invented day written into a folder, and gives it. A process of its own
// invents it: what this one holds would count as its children's peak.
func (m *measuring) day(name string, e extent) string {
	dir := filepath.Join(m.dir, name)
	self, err := os.Executable()
	if err != nil {
		log.Fatal(err)
	}
	m.run(self, "-invent", dir, "-readings", fmt.Sprint(e.readings), "-seconds", fmt.Sprint(e.seconds))
	return dir
}

// invent writes an invented day into a new folder.
func invent(dir string, e extent) error {
	if err := os.Mkdir(dir, 0o777); err != nil {
		return err
	}
	s := simulate.CrewDay(1)
	s.Work.Readings, s.Work.Duration = e.readings, e.seconds
	day := simulate.Invent(s)
	for file, write := range map[string]func(w *bufio.Writer) error{
		"day.nmea":     func(w *bufio.Writer) error { _, err := day.WriteNMEA(w); return err },
		"readings.csv": func(w *bufio.Writer) error { return day.WriteReadings(w) },
	} {
		f, err := os.Create(filepath.Join(dir, file))
		if err != nil {
			return err
		}
		w := bufio.NewWriterSize(f, 1<<20)
		if err := errors.Join(write(w), w.Flush(), f.Close()); err != nil {
			return err
		}
	}
	return nil
}

// size is that of a day's receiver's log, MB.
func size(dir string) float64 {
	info, err := os.Stat(filepath.Join(dir, "day.nmea"))
	if err != nil {
		log.Fatal(err)
	}
	return float64(info.Size()) / 1e6
}

// against measures a crew-day beside counting its lines and beside a script.
func (m *measuring) against(python string) {
	dir := m.day("crew-day", crewDay)
	nmea, rows := filepath.Join(dir, "day.nmea"), filepath.Join(dir, "readings.csv")
	programs := []struct {
		name string
		run  func() cost
	}{
		{"`tracemap convert`", func() cost { return m.convert(nmea, rows) }},
		{"`wc -l` of the receiver's log", func() cost { return m.run("wc", "-l", nmea) }},
	}
	if python != "" {
		offset := fmt.Sprint(simulate.CrewDay(1).Clock.Offset)
		programs = append(programs, struct {
			name string
			run  func() cost
		}{"script with NumPy, SciPy, Shapely", func() cost {
			return m.run(python, "internal/lab/speed/peer.py", nmea, rows, offset, filepath.Join(m.dir, "peer"))
		}})
	}
	costs := make([][]cost, len(programs))
	for range m.runs {
		for k, p := range programs {
			costs[k] = append(costs[k], p.run())
		}
	}
	fmt.Printf("| crew-day, %.0f MB, %d readings | s | processor s | peak MB | tracemap's share of the time |\n| --- | --- | --- | --- | --- |\n", size(dir), crewDay.readings)
	own := median(costs[0])
	for k, p := range programs {
		c := median(costs[k])
		fmt.Printf("| %s | %.2f | %.2f | %.0f | %.3g |\n", p.name, c.wall, c.processor, c.memory, own.wall/c.wall)
	}
	fmt.Println()
}

// growth measures days with 1, 10, … times as many sentences, and with as many
// times the readings on as many times the lines.
func (m *measuring) growth(most int) {
	fmt.Print("| input | | MB | s | processor s | peak MB |\n| --- | --- | --- | --- | --- | --- |\n")
	row := func(what string, times int, e extent) {
		dir := m.day(fmt.Sprint(what, times), e)
		var costs []cost
		for range max(m.runs/2, 1) {
			costs = append(costs, m.convert(dir))
		}
		c := median(costs)
		fmt.Printf("| %s | × %d | %.0f | %.2f | %.2f | %.0f |\n", what, times, size(dir), c.wall, c.processor, c.memory)
		os.RemoveAll(dir)
	}
	for times := 1; times <= most; times *= 10 {
		row("191,000 sentences, 150 readings: sentences", times, extent{150, 3820 * float64(times)})
	}
	for times := 1; times <= most; times *= 10 {
		row("1.9 million sentences, 25 readings on a line: readings and lines", times, extent{25 * times, 38200})
	}
	fmt.Println()
}

// batch converts many crew-days in one call.
func (m *measuring) batch(days int) {
	dir := m.day("each", crewDay)
	fmt.Print("| crew-days in one call | s a day | processor s a day | peak MB |\n| --- | --- | --- | --- |\n")
	for n := 1; n <= days; n *= 10 {
		var folders []string
		for k := range n {
			folder := filepath.Join(m.dir, fmt.Sprintf("batch%d-%03d", n, k))
			if err := os.Mkdir(folder, 0o777); err != nil {
				log.Fatal(err)
			}
			for _, file := range []string{"day.nmea", "readings.csv"} {
				if err := os.Symlink(filepath.Join(dir, file), filepath.Join(folder, file)); err != nil {
					log.Fatal(err)
				}
			}
			folders = append(folders, folder)
		}
		c := m.convert(folders...)
		fmt.Printf("| %d | %.2f | %.2f | %.0f |\n", n, c.wall/float64(n), c.processor/float64(n), c.memory)
	}
	fmt.Println()
}
