// Package proof makes the bundle that an inspector is given: an archive of
// everything that stands behind the animals of one authority in a span of
// days.
//
// It promises that every value in it names who wrote it, when and on which
// device, that nothing in it needs a network or a script to be read, that
// SHA256SUMS holds the digest of every other file, and that the same place in
// the log gives the same bytes. It holds one animal in memory at a time. It
// judges nothing and leaves nothing out: what differs stands side by side, and
// a photo that has not come is named.
package proof
