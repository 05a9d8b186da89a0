package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"io/fs"
	"time"
)

// A file is one of an archive or of the release itself.
type file struct {
	name string
	mode fs.FileMode
	data []byte
}

// suffix is the ending of a target's archive.
func (t target) suffix() string {
	if t.os == "windows" {
		return ".zip"
	}
	return ".tar.gz"
}

// pack makes the archive, in which all files lie in one folder, belong to nobody
// and are as old as the source.
func (t target) pack(folder string, files []file, made time.Time) ([]byte, error) {
	if t.os == "windows" {
		return packZip(folder, files, made)
	}
	return packTar(folder, files, made)
}

func packTar(folder string, files []file, made time.Time) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	w := tar.NewWriter(z)
	for _, f := range files {
		head := tar.Header{Name: folder + "/" + f.name, Mode: int64(f.mode), Size: int64(len(f.data)), ModTime: made, Format: tar.FormatUSTAR}
		if err := w.WriteHeader(&head); err != nil {
			return nil, err
		}
		if _, err := w.Write(f.data); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	err = z.Close()
	return b.Bytes(), err
}

func packZip(folder string, files []file, made time.Time) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		head := zip.FileHeader{Name: folder + "/" + f.name, Method: zip.Deflate, Modified: made}
		head.SetMode(f.mode)
		entry, err := w.CreateHeader(&head)
		if err != nil {
			return nil, err
		}
		if _, err := entry.Write(f.data); err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return b.Bytes(), err
}
