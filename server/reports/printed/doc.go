// Package printed sets the year of an authority on paper (PDF) and in a
// workbook (XLSX), and its lines by the columns that an agency's form asks for.
//
// It promises the numbers of reports.Year and no others, each printed where
// pdftotext and a spreadsheet find it, and the same bytes for the same year
// and setting: no clock is read, the dates inside a file are those of the
// place in the log. Text is set in the Go fonts, which the program carries and
// the file embeds. They hold the letters of Windows Glyph List 4: Latin, Greek
// and Cyrillic. A letter outside of it is printed as its number, [U+4E2D], and
// a line at the end says so; nothing is left out silently. It reckons nothing
// and signs nothing.
package printed
