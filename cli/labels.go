package cli

import (
	"errors"
	"os"
	"path/filepath"
	"strings"

	"bagmark/grow"
	"bagmark/server"
	"bagmark/store"
)

func printLabels(c *call) error {
	data := c.String("data", "", "the farm's `folder`")
	batch := c.String("batch", "", "the batch, like KING-260314")
	sheet := c.String("sheet", "", "the sheet, like a4-3x7-63.5x38.1")
	out := c.String("o", "", "the PDF `file` to write")
	bags := c.String("bags", "", "some of the bags only, like 1-5,9")
	start := c.Int("start", 1, "the first free position of a part-used sheet")
	copies := c.Int("copies", 1, "how often each label is printed")
	if err := c.parse("data", "batch", "sheet", "o"); err != nil {
		return err
	}
	if *start < 1 || *copies < 1 {
		return c.wrong("-start and -copies begin at 1")
	}
	return c.withFarm(*data, func(s *store.Store) error {
		pdf, err := server.PrintLabels(c.ctx, s, server.LabelRequest{Batch: grow.BatchCode(strings.ToUpper(*batch)), Bags: *bags, Sheet: *sheet, Start: *start, Copies: *copies})
		if err != nil {
			return err
		}
		return writeWhole(*out, pdf)
	})
}

// writeWhole writes a file that has its name only once it is complete. What is
// no ordinary file, like /dev/stdout, a named pipe or a link, stays what it is.
func writeWhole(path string, data []byte) (err error) {
	if info, err := os.Lstat(path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return writeThrough(path, data)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return cannotWrite(path, err)
	}
	defer func() {
		if err != nil {
			err = cannotWrite(path, errors.Join(err, os.Remove(f.Name())))
		}
	}()
	_, err = f.Write(data)
	if err := errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func writeThrough(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o644)
	if err != nil {
		return cannotWrite(path, err)
	}
	_, err = f.Write(data)
	if err := errors.Join(err, f.Close()); err != nil {
		return cannotWrite(path, err)
	}
	return nil
}

func cannotWrite(path string, err error) error {
	return &grow.Error{Kind: grow.Internal, Message: "the file " + path + " cannot be written", Cause: err}
}
