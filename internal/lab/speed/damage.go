//go:build unix

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"
	"strconv"
)

// A damage spoils a receiver's log as days spoil it, sentence by sentence. second
// counts the seconds of the log. It gives what is written in place of the sentence.
type damage struct {
	name  string
	spoil func(sentence []byte, number, second int) [][]byte
}

var damages = []damage{
	{"a break of 4 s every 8 s", func(s []byte, _, second int) [][]byte {
		if second%8 < 4 {
			return nil
		}
		return [][]byte{s}
	}},
	{"a jump of 18 m every 5 s", func(s []byte, _, second int) [][]byte {
		return [][]byte{onGGA(s, func(f [][]byte) {
			if second/5%2 == 1 && len(f[2]) > 6 {
				f[2][5] = '0' + (f[2][5]-'0'+1)%10 // hundredths of a minute: 18 m
			}
		})}
	}},
	{"the fix's quality changes every second", func(s []byte, _, second int) [][]byte {
		return [][]byte{onGGA(s, func(f [][]byte) { f[6] = []byte{"45"[second%2]} })}
	}},
	{"every tenth sentence damaged", func(s []byte, number, _ int) [][]byte {
		if number%10 == 0 && len(s) > 20 {
			s[15] ^= 3
		}
		return [][]byte{s}
	}},
	{"every sentence twice", func(s []byte, _, _ int) [][]byte { return [][]byte{s, s} }},
}

// onGGA changes fields of a GGA and leaves all else.
func onGGA(s []byte, change func(fields [][]byte)) []byte {
	star := bytes.LastIndexByte(s, '*')
	if star < 0 || len(s) < 7 || string(s[3:6]) != "GGA" {
		return s
	}
	fields := bytes.Split(bytes.Clone(s[1:star]), []byte(","))
	if len(fields) < 10 || len(fields[6]) == 0 {
		return s
	}
	change(fields)
	body := bytes.Join(fields, []byte(","))
	var sum byte
	for _, c := range body {
		sum ^= c
	}
	return fmt.Appendf(nil, "$%s*%02X\r\n", body, sum)
}

// spoilLog writes a spoilt copy of a day's folder into another. blocks > 0 writes the
// log's blocks of so many sentences in reverse instead.
func spoilLog(from, to string, d damage, blocks int) error {
	if err := os.Mkdir(to, 0o777); err != nil {
		return err
	}
	rows, err := os.ReadFile(filepath.Join(from, "readings.csv"))
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(to, "readings.csv"), rows, 0o666); err != nil {
		return err
	}
	in, err := os.Open(filepath.Join(from, "day.nmea"))
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(filepath.Join(to, "day.nmea"))
	if err != nil {
		return err
	}
	w, r := bufio.NewWriterSize(out, 1<<20), bufio.NewReaderSize(in, 1<<20)
	var held [][]byte
	second, last := 0, ""
	for number := 0; ; number++ {
		s, err := r.ReadBytes('\n')
		if err != nil && err != io.EOF {
			return err
		}
		if len(s) > 13 && string(s[3:6]) == "GGA" && string(s[7:13]) != last {
			second, last = second+1, string(s[7:13])
		}
		if blocks > 0 {
			held = append(held, s)
		} else {
			for _, s := range d.spoil(s, number, second) {
				w.Write(s)
			}
		}
		if err == io.EOF {
			break
		}
	}
	for end := len(held); end > 0; end -= blocks {
		for _, s := range held[max(0, end-blocks):end] {
			w.Write(s)
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return out.Close()
}

// harm measures how time and memory grow with a log that is spoilt all along. The
// last column is what tells: processor time a sentence against that of the smallest.
func (m *measuring) harm(most int) {
	fmt.Print("| spoilt log | | MB | processor s | peak MB | a sentence, × smallest |\n| --- | --- | --- | --- | --- | --- |\n")
	all := append([]damage{{name: "none", spoil: func(s []byte, _, _ int) [][]byte { return [][]byte{s} }}}, damages...)
	all = append(all, damage{name: "blocks of 1,000 sentences in reverse"})
	first := map[string]float64{}
	for times := 1; times <= most; times *= 10 {
		clean := m.day("clean"+strconv.Itoa(times), extent{150, 3820 * float64(times)})
		for _, d := range all {
			dir, blocks := filepath.Join(m.dir, "spoilt"), 0
			if d.spoil == nil {
				blocks = 1000
			}
			if err := spoilLog(clean, dir, d, blocks); err != nil {
				log.Fatal(err)
			}
			var costs []cost
			for range max(m.runs/2, 1) {
				costs = append(costs, m.convert(dir))
			}
			c := median(costs)
			each := c.processor / float64(times)
			if times == 1 {
				first[d.name] = each
			}
			fmt.Printf("| %s | × %d | %.0f | %.2f | %.0f | %.2f |\n", d.name, times, size(dir), c.processor, c.memory, each/first[d.name])
			os.RemoveAll(dir)
		}
		os.RemoveAll(clean)
	}
	fmt.Println()
}
