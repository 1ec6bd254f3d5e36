// Package reports makes the papers of an authority from the Book: what is used
// of its numbers, and the report of a calendar year.
//
// It promises that every canonical animal stands in a year once, that the
// sums, the ledger and the CSV come from the same lines, and that the same
// log up to the same place gives the same bytes. It judges nothing: whether a
// find was covered is read from the verdict in force, and what a person
// decided stands beside it.
package reports
