// Package escrow lends shares of the number that an authority states, so that
// phones without signal cannot jointly pass it.
//
// It promises that every unit of a number is in exactly one place: free, in
// reserve, in the unspent rest of one phone's share, spent, burned with a lost
// phone, or covering an animal that was entered without a share. A unit moves
// from free to a share only in a decision of the server, from a share to spent
// only by the phone that holds it, and back to free only after that phone gave
// it up and everything it did before is known. No unit comes back because time
// passed: a phone that is silent may have spent it. So uses that were said to
// be covered never pass the number, in any order of messages, and the ledger is
// the same for everybody who folds the same events in the order of the log.
//
// A second server is lent a block of serials and lends on out of it, by the same
// rules; what it gives back is the end of the block of which nothing is out.
// The first server folds what happened below it from the same events, in
// whatever order they come up.
//
// A log that was put back from a copy does not know what was lent after it.
// Then nothing is lent until every device that may hold shares was heard or
// written off, and where animals may have been entered without a share, until a
// person says that they are entered again.
//
// It does not keep anybody from picking up a carcass: what is taken without a
// share is entered, and what is past the number is said to be over. It refuses
// no fact. It reads no clock and draws no chance. That a copied or restored
// phone has no rights is for the phone to see to; the proof needs it.
package escrow
