// Package permits holds the words in which a salvage is judged: civil dates,
// answers, authorities, taxa, findings, obligations and the verdict.
//
// It promises that the zero value of every word means "not known", so that a
// fact nobody gave can never be mistaken for a fact that permits something.
// It decides nothing: conditions and their evaluation are in permits/rules,
// counting is in permits/quota, and the one check is in permits/screen. It
// never reads a clock, a file or the network.
package permits
