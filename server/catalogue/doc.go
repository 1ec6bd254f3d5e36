// Package catalogue decides what the museum knows of each animal and what is
// done with it from the loading door to the drawer: arrivals and their
// reconciliation, numbers, parts, joining two reports of one carcass, and
// settling a value on which two people differ.
//
// It promises that nothing it does rewrites what somebody said: every act is
// a new operation in the log, and every page it builds can show who said each
// value, when, and from which device. It keeps nothing of its own: the Book is
// folded from the log and can be thrown away. It does no input or output;
// what it needs of storage it declares as small interfaces.
package catalogue
