//go:build !soak

package georeference_test

const (
	// samples is how many truths are tried for each form; a hundred thousand
	// in the long run.
	samples = 500
	// restarts and rounds say how long the farthest truth is sought.
	restarts, rounds = 6, 1
	// hardLimit is 1.001 in the long run; here the search for the farthest
	// truth is too short for corners of several borders.
	hardLimit = 1.02
)
