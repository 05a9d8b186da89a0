package main

import (
	"context"
	"errors"
	"fmt"

	"tracemap/internal/store"
)

const backupHelp = `Usage: tracemap backup [flags] DIR

Copies the data folder of the page to DIR, also while it is served. DIR is then a
data folder of its own: tracemap serve --data DIR shows the same days, byte for
byte. Into an older backup only what is new is copied. Every log is checked
against its hash on the way.
`

const backupExample = `  tracemap backup --data site-office /mnt/disk/site-office
`

func runBackup(ctx context.Context, c *console, args []string) error {
	fs := newFlags("backup")
	data := fs.String("data", "tracemap-data", "`DIR` folder that tracemap serve keeps")
	if err := parse(c, fs, args, backupHelp, backupExample); err != nil {
		return err
	}
	if fs.NArg() != 1 {
		return &usageError{fmt.Sprintf("backup takes one folder, got %d", fs.NArg()), "write tracemap backup --data DIR COPY"}
	}
	st, err := openData(ctx, *data, false)
	if err != nil {
		return err
	}
	defer st.Close()
	rep, err := st.Backup(ctx, fs.Arg(0))
	for _, m := range append(st.Mended, rep.Mended...) {
		c.warn(m)
	}
	switch {
	case errors.Is(err, store.ErrInUse):
		return &hinted{err, "end the server that shows the backup, or give another folder"}
	case err != nil && ctx.Err() != nil:
		return kept(fmt.Errorf("interrupted; an older backup in %s is still whole, and the next run goes on from here", fs.Arg(0)))
	case err != nil:
		return &hinted{fmt.Errorf("backup: %w", err), "an older backup in that folder is still whole"}
	}
	c.print(fmt.Sprintf("%d logs and %d revisions are in %s; %d files, %s, were copied now.\n", rep.Originals, rep.Results, fs.Arg(0), rep.Copied, size(rep.Bytes)))
	if len(rep.Damaged) == 0 {
		return nil
	}
	for _, name := range rep.Damaged {
		c.warn(name + " is damaged or gone and was not copied")
	}
	return &hinted{fmt.Errorf("%d files of %s are damaged or gone; all others are in the backup", len(rep.Damaged), *data), "look for them in older backups; check the disk"}
}
