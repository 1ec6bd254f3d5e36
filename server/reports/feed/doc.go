// Package feed writes the open duties of a person as a calendar after RFC
// 5545, and keeps the secrets by which a calendar program may read it.
//
// It promises lines of at most 75 octets that never cut a letter, CRLF at
// their ends, a name for each duty that stays when its text changes, and the
// same bytes for the same duties and the same place in the log. A secret rests
// as its digest only. Whoever holds the address reads the calendar, so a
// secret can be ended at any time. It never reads the clock, and it tells of
// nothing that has no day.
package feed
