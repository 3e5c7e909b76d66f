// Command bomb writes a workbook again with its first sheet so padded that it unpacks to far more than it takes on a disk:
//
//	go run .ci/bomb.go OUT.xlsx WORKBOOK.xlsx
package main

import (
	"archive/zip"
	"bytes"
	"io"
	"log"
	"os"
	"strings"
)

func main() {
	book, err := zip.OpenReader(os.Args[2])
	if err != nil {
		log.Fatal(err)
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, part := range book.File {
		r, err := part.Open()
		if err != nil {
			log.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			log.Fatal(err)
		}
		if strings.HasSuffix(part.Name, "/sheet1.xml") {
			padded := append(bytes.Repeat([]byte(" "), 96<<20), "<sheetData>"...)
			text = bytes.Replace(text, []byte("<sheetData>"), padded, 1)
		}
		w, err := z.Create(part.Name)
		if err != nil {
			log.Fatal(err)
		}
		if _, err := w.Write(text); err != nil {
			log.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		log.Fatal(err)
	}
	if err := os.WriteFile(os.Args[1], out.Bytes(), 0o644); err != nil {
		log.Fatal(err)
	}
}
