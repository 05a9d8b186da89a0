package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"tracemap/internal/survey"
)

// A job is a day to be converted: its files and its output folder, whose name may
// still have to be taken from the files.
type job struct {
	name  string // of the folder that holds the day; empty where files were named
	files []string
	out   string
}

// prefix goes before what is said of the day.
func (j *job) prefix() string {
	if j.name == "" {
		return ""
	}
	return j.name + ": "
}

// jobsOf tells what is to be converted: one day, whose files are named, or a day in
// each folder named.
func jobsOf(args []string, out string) ([]job, error) {
	var folders, files []string
	for _, arg := range args {
		if info, err := os.Stat(arg); err == nil && info.IsDir() {
			folders = append(folders, arg)
		} else {
			files = append(files, arg)
		}
	}
	switch {
	case len(folders) == 0:
		return []job{{files: files, out: out}}, nil
	case len(files) > 0:
		return nil, &usageError{fmt.Sprintf("%s is a folder and %s is not", folders[0], files[0]),
			"name the files of one day, or folders that each hold a day"}
	}
	var jobs []job
	taken := map[string]string{} // output → folder
	for _, folder := range folders {
		j := job{name: folder}
		base, err := dayName(folder)
		if err != nil {
			return nil, err
		}
		switch {
		case out == "":
			j.out = base + "-map"
		case len(folders) == 1:
			j.out = out
		default:
			j.out = filepath.Join(out, base)
		}
		if other, ok := taken[j.out]; ok {
			return nil, &usageError{fmt.Sprintf("%s and %s would both be written to %s", other, folder, j.out), "convert them one after the other, each with its own -o"}
		}
		taken[j.out] = folder
		if j.files, err = filesIn(folder); err != nil {
			return nil, err
		}
		if len(j.files) == 0 {
			return nil, &usageError{fmt.Sprintf("the folder %s holds no file", folder), "name folders that each hold the logs of a day"}
		}
		jobs = append(jobs, j)
	}
	return jobs, nil
}

// dayName is what a folder is called, also where it is given as a dot.
func dayName(folder string) (string, error) {
	whole, err := filepath.Abs(folder)
	if err != nil {
		return "", fmt.Errorf("%s: %w", folder, err)
	}
	base := filepath.Base(whole)
	if base == string(filepath.Separator) || base == "." {
		return "", &usageError{fmt.Sprintf("%s has no name to call a map by", folder), "name the folders that hold a day each"}
	}
	return base, nil
}

// filesIn lists the files that lie right in a folder, in the order of their names.
// Hidden ones are nobody's logs.
func filesIn(folder string) ([]string, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", folder, plainly(err))
	}
	var files []string
	for _, e := range entries {
		if path := filepath.Join(folder, e.Name()); !strings.HasPrefix(e.Name(), ".") {
			if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
				files = append(files, path)
			}
		}
	}
	return files, nil
}

// convertAll converts days one after the other. A day that fails is told and does
// not stop the others; in the end the error says how many there were.
func convertAll(ctx context.Context, c *console, jobs []job, opt survey.Options, f *convertFlags) error {
	if len(jobs) == 1 {
		return convertDay(ctx, c, jobs[0], opt, f)
	}
	failed := &failedDays{all: len(jobs)}
	for k, j := range jobs {
		err := convertDay(ctx, c, j, opt, f)
		if ctx.Err() != nil {
			return &cutShort{done: k - len(failed.names), all: len(jobs)}
		}
		if err != nil {
			c.fail(&inDay{j.name, err})
			failed.add(j.name, err)
		}
	}
	if len(failed.names) > 0 {
		return failed
	}
	return nil
}

// inDay is an error with the day that it came up in.
type inDay struct {
	name string
	error
}

func (e *inDay) Error() string { return e.name + ": " + e.error.Error() }
func (e *inDay) Unwrap() error { return e.error }

// Hint is that of the error itself.
func (e *inDay) Hint() string {
	var hinted interface{ Hint() string }
	if errors.As(e.error, &hinted) {
		return hinted.Hint()
	}
	return ""
}

// failedDays says which of several days were not converted. It stands for the
// worst of their errors: one that is not about what the logs hold.
type failedDays struct {
	all   int
	names []string
	worst error
}

func (e *failedDays) add(name string, err error) {
	e.names = append(e.names, name)
	if e.worst == nil || errors.Is(e.worst, survey.ErrNoMap) {
		e.worst = err
	}
}

func (e *failedDays) Error() string {
	const most = 5
	names := e.names[:min(len(e.names), most)]
	more := ""
	if n := len(e.names) - len(names); n > 0 {
		more = fmt.Sprintf(" and %d more", n)
	}
	return fmt.Sprintf("%d of %d days were not converted: %s%s", len(e.names), e.all, strings.Join(names, ", "), more)
}

func (e *failedDays) Unwrap() error { return e.worst }

// Hint is none: each day's own was told.
func (e *failedDays) Hint() string { return "" }

// cutShort says how far an interrupt let several days come.
type cutShort struct{ done, all int }

func (e *cutShort) Error() string {
	return fmt.Sprintf("interrupted; %d of %d days were written", e.done, e.all)
}
